"""Write the index that ties pages of appraisals together."""

from collections.abc import Sequence
from pathlib import Path

from pipeline.answers.appraisal.appraisal import Appraisal
from reports.report.index import PRICING_SUMMARY, Entry, appraisal_entry, write_index


def write_index_of(
    appraisals: Sequence[Appraisal], pages: Sequence[Path], index: Path, business: str, pricing: Path
) -> Path:
    """Write the index of the pricing page, of appraisals and their pages, all in the index's folder or below it."""
    return write_index(
        [
            Entry("Price a pair", PRICING_SUMMARY, pricing.relative_to(index.parent).as_posix(), "Pricing"),
            *(
                appraisal_entry(appraisal, page.relative_to(index.parent).as_posix())
                for appraisal, page in zip(appraisals, pages, strict=True)
            ),
        ],
        index,
        business=business,
        as_of=appraisals[0].as_of,
        source=appraisals[0].source,
    )
