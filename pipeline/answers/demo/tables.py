"""What the demo made, and what to try next."""

from typing import Any

from pipeline.answers.appraisal.appraisal import Appraisal
from pipeline.answers.appraisal.tables import value_figures
from pipeline.answers.demo.run import Demo
from pipeline.answers.fit.tables import model_sentences
from pipeline.answers.ingest.tables import count_table, row_sentence
from pipeline.answers.sheet import Sheet, count, table, words

NEXT = (
    '{command} appraise --silhouette "Plover Lo" --era second --size "UK 8" --grade 7.5 --page plover.html',
    "{command} appraise --file exports/stock.csv --row 3",
    "{command} stock                         # what the stock is worth, and what to look at",
    "{command} quarantine > quarantine.csv   # the rows that could not be read, and why",
    "{command} fit                           # fit again; see which prices it doubts",
)
"""What to try in the demo's folder."""


def demo_sheet(demo: Demo, command: str) -> Sheet:
    """Return the sheet of the demo: what it read and fitted, three values, and what to try next with `command`."""
    flagged = sum(sum(file.flags.values()) for file in demo.ingested.files)
    following = (f"cd {demo.directory}", *(line.format(command=command) for line in NEXT))
    return Sheet(
        title="The demo is ready",
        sentences=(
            f"{row_sentence(demo.ingested)}. {flagged} rows are flagged for the owner to look at.",
            *model_sentences(demo.fitted),
        ),
        tables=(
            count_table(demo.ingested),
            table(
                "values",
                "Three values",
                (
                    words("pair", "Pair"),
                    words("value", "Fair value"),
                    words("band", "80 % band"),
                    count("sales", "Sales of it"),
                ),
                [_value_row(appraisal) for appraisal in demo.appraisals],
                note=f"Pages: open {demo.index} in a browser (no network needed).",
            ),
        ),
        source="\n".join(("Next:", *(f"  {line}" for line in following))),
    )


def _value_row(appraisal: Appraisal) -> dict[str, Any]:
    (_, value), (_, band) = value_figures(appraisal.median, appraisal.bands, appraisal.currency)
    return {
        "pair": f"{appraisal.pair.label}: {appraisal.pair.silhouette}",
        "value": value,
        "band": band,
        "sales": next(step.sales for step in appraisal.steps if step.attribute == "silhouette"),
    }
