"""Judge kept values by the sales in the ledger."""

from datetime import date

from pipeline.answers.outcomes.answer import Outcomes, judge
from pipeline.workspace import Workspace


def judge_ledger(workspace: Workspace, *, as_of: date) -> Outcomes:
    """Return what became of the kept values by a day."""
    settled = workspace.ledger.read("outcomes/settled_values", as_of=as_of)
    return judge(settled, as_of=as_of, currency=workspace.market.base_currency)
