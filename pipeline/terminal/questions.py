"""What is asked of a pair that is not fully described."""

import click

from pipeline.config import Market

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
            answers[key] = click.prompt(f"{question}{hint}", default="", show_default=False) or None
    return answers
