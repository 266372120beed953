"""What is asked of a pair that is not fully described."""

import signal
from collections.abc import Sequence

import click

from pipeline.config import Market
from pipeline.ingest.replacement import Answer, Doubt
from pipeline.streams import say

QUESTIONS = {
    "silhouette": "Silhouette",
    "colourway": "Colourway",
    "era": "Era",
    "size": "Size as on the label",
    "grade": "Grade, 1 to 10 or a trade word",
    "box": "Box: original, replacement, none",
    "tags": "Tags: attached, loose, none",
    "defects": "Defects, comma-separated, or none",
    "treatments": "Treatments done, comma-separated, or none",
}


def ask(question: str, *, suffix: str = ": ") -> str:
    """Return what the owner answers, without spaces around it; "" for Enter alone."""
    _let_stop_at_once()
    answer: str = click.prompt(question, default="", show_default=False, prompt_suffix=suffix)
    return answer.strip()


def agrees(question: str) -> bool:
    """Ask for yes or no; Enter alone is no."""
    _let_stop_at_once()
    return click.confirm(question, default=False)


def _let_stop_at_once() -> None:
    """Let Ctrl-C end a question: libraries install handlers after which a read goes on until Enter."""
    signal.siginterrupt(signal.SIGINT, True)


def ask_for_the_rest(words: dict[str, str | None], market: Market) -> dict[str, str | None]:
    """Ask for every attribute that was left out; Enter means "not known"."""
    known = {
        "silhouette": [silhouette.name for silhouette in market.silhouettes],
        "era": [era.name for era in market.eras],
        "defects": [defect.name for defect in market.defects],
        "treatments": [treatment.name for treatment in market.treatments],
    }
    answers = dict(words)
    for key, question in QUESTIONS.items():
        if answers[key] is None:
            hint = f" ({', '.join(known[key])})" if known.get(key) else ""
            answers[key] = ask(f"{question}{hint}") or None
    return answers


def ask_what_comes_again(doubt: Doubt) -> Answer | None:
    """Ask whether a file takes the place of an earlier reading or adds to it; Enter leaves it open."""
    replaces = f"It is a new version: replace the earlier reading ({doubt.gone:,} of its rows go)"
    answer = choose(f"{doubt.what}.", (), (replaces, "It is another file: keep both"))
    answers: dict[str, Answer] = {replaces: "replace", "replace": "replace"}
    answers |= {"It is another file: keep both": "add", "add": "add"}
    return answers.get(answer)


def choose(question: str, samples: Sequence[str], choices: Sequence[str]) -> str:
    """Ask for one of the choices by its number or its name, or for another answer; Enter leaves it open ("")."""
    say(f"\n{question}")
    if samples:
        say(f"  such as {', '.join(samples)}")
    for number, choice in enumerate(choices, start=1):
        say(f"  {number}  {choice}")
    answer = ask("  A number, or your own answer")
    return choices[int(answer) - 1] if answer.isdecimal() and 0 < int(answer) <= len(choices) else answer


SALE_QUESTIONS = {
    "venue": "Venue",
    "sold_on": "Day of sale, such as 2024-05-03",
    "price_native": "Price, all that the buyer paid, in the venue's currency",
    "title": "Title, or Enter",
    "silhouette": "Silhouette",
    "colourway": "Colourway",
    "era": "Era",
    "size_label": "Size as on the label",
    "grade": "Grade, 1 to 10 or a trade word",
    "box": "Box: original, replacement, none",
    "tags": "Tags: attached, loose, none",
    "defects": "Defects, comma-separated, or none",
    "treatments": "Treatments done, comma-separated, or none",
}


def ask_for_a_sale(market: Market) -> dict[str, str]:
    """Ask for the fields of a sale that is added by hand; Enter means "not known"."""
    known = {
        "venue": list(market.venue_by_name),
        "silhouette": [silhouette.name for silhouette in market.silhouettes],
        "era": [era.name for era in market.eras],
    }
    answers = {}
    for key, question in SALE_QUESTIONS.items():
        hint = f" ({', '.join(known[key])})" if known.get(key) else ""
        answers[key] = ask(f"{question}{hint}")
    return {key: answer for key, answer in answers.items() if answer}
