"""Find the words of a ledger's titles that move the price."""

from pipeline.answers.title_words.answer import TitleWords, find_words
from pipeline.workspace import Workspace


def find_words_of_ledger(workspace: Workspace) -> TitleWords:
    """Return what the words of titles are worth, by the latest fit; raises FitError where there is none."""
    return find_words(workspace.fitted, workspace.market, workspace.sales, stale=workspace.stale)
