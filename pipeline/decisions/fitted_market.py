"""The fitted market: the fit with all that its users must know of it, and its form for storage."""

import io
import json
from dataclasses import asdict, dataclass
from datetime import date
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from pipeline.config import Market
from pipeline.decisions.appraisal import Source
from pipeline.errors import FitError
from pipeline.hedonic import calibration as calibrations
from pipeline.hedonic.calibration import Calibration
from pipeline.hedonic.document import from_document, to_document
from pipeline.hedonic.fitted import Fit
from pipeline.hedonic.neighbours import SecondStage
from pipeline.rests_on import market_digest

Arrays = dict[str, NDArray[np.float64]]


@dataclass(frozen=True)
class FittedMarket:
    """A fit and its circumstances: the records behind it, the market file, the programme's version.

    `scatter` is the fit of the errors' log scale. `calibration` is None where too few sales came later, and
    `uncalibrated` then says so; `jackknife` holds the scores of the fit's own sales in its stead, each left
    out, which may widen the model's bands and never narrow them. `second_stage` tells whether the
    neighbours' residuals count.
    """

    fit: Fit
    scatter: Fit
    calibration: Calibration | None
    uncalibrated: str
    second_stage: SecondStage
    fit_id: str
    fitted_on: date
    currency: str
    records: int
    first_sale: date
    last_sale: date
    market_digest: str
    records_digest: str
    version: str
    jackknife: Calibration | None = None

    @property
    def source(self) -> Source:
        """Return where its figures come from, as an answer states it."""
        return Source(
            records=self.records,
            first_sale=self.first_sale,
            last_sale=self.last_sale,
            fit_id=self.fit_id,
            fitted_on=self.fitted_on,
            version=self.version,
        )


class Stale(NamedTuple):
    """Why a fit that was kept no longer holds, and what to do."""

    what: str
    remedy: str


def why_stale(kept_market: str, kept_records: str, market: Market, records_digest: str) -> tuple[Stale, ...]:
    """Return why a fit that was kept with these digests no longer holds; nothing where it does.

    `records_digest` is that of the ledger now. Digests begin with the way in which they were made; one made in
    another way tells nothing of the records.
    """
    way, _, _ = records_digest.partition(":")
    if not kept_records.startswith(f"{way}:"):
        return (Stale("the fit was made by another version of pairband", "run `pairband fit` again."),)
    reasons = []
    if kept_records != records_digest:
        reasons.append(Stale("the records have changed since the fit", "run `pairband fit` again."))
    if kept_market != market_digest(market):
        reasons.append(
            Stale(
                "the market file has changed since the fit",
                "run `pairband ingest` on your exports, then `pairband fit`.",
            )
        )
    return tuple(reasons)


def to_stored(fitted: FittedMarket) -> tuple[str, bytes]:
    """Return the fitted market as (JSON text, bytes of its arrays)."""
    parts: dict[str, Any] = {}
    arrays: Arrays = {}
    for part, (description, own) in (
        ("fit", to_document(fitted.fit)),
        ("scatter", to_document(fitted.scatter)),
        ("calibration", _calibration_out(fitted.calibration)),
        ("jackknife", _calibration_out(fitted.jackknife)),
    ):
        parts[part] = description
        arrays |= {f"{part}/{name}": array for name, array in own.items()}
    circumstances = {
        "fit_id": fitted.fit_id,
        "fitted_on": fitted.fitted_on.isoformat(),
        "currency": fitted.currency,
        "records": fitted.records,
        "first_sale": fitted.first_sale.isoformat(),
        "last_sale": fitted.last_sale.isoformat(),
        "market_digest": fitted.market_digest,
        "records_digest": fitted.records_digest,
        "version": fitted.version,
        "uncalibrated": fitted.uncalibrated,
        "second_stage": asdict(fitted.second_stage),
    }
    shapes = [[name, list(array.shape)] for name, array in arrays.items()]
    packed = io.BytesIO()
    np.save(packed, np.concatenate([np.ravel(array) for array in arrays.values()]), allow_pickle=False)
    document = {"circumstances": circumstances, "shapes": shapes, **parts}
    return json.dumps(document, ensure_ascii=False), packed.getvalue()


def from_stored(document: str, packed: bytes) -> FittedMarket:
    """Return the fitted market that `to_stored` wrote; raises FitError for one of another version."""
    stored = json.loads(document)
    if "shapes" not in stored:
        raise FitError("the stored fit is of an earlier version", "run `pairband fit` again.")
    flat = np.load(io.BytesIO(packed), allow_pickle=False)
    arrays: Arrays = {}
    start = 0
    for name, shape in stored["shapes"]:
        stop = start + int(np.prod(shape))
        arrays[name] = flat[start:stop].reshape(shape)
        start = stop
    circumstances = stored["circumstances"]
    own = {
        part: {
            name.removeprefix(f"{part}/"): array
            for name, array in arrays.items()
            if name.startswith(f"{part}/")
        }
        for part in ("fit", "scatter", "calibration", "jackknife")
    }
    return FittedMarket(
        fit=from_document(stored["fit"], own["fit"]),
        scatter=from_document(stored["scatter"], own["scatter"]),
        calibration=_calibration_in(stored["calibration"], own["calibration"]),
        uncalibrated=circumstances["uncalibrated"],
        second_stage=SecondStage(**circumstances["second_stage"]),
        fit_id=circumstances["fit_id"],
        fitted_on=date.fromisoformat(circumstances["fitted_on"]),
        currency=circumstances["currency"],
        records=circumstances["records"],
        first_sale=date.fromisoformat(circumstances["first_sale"]),
        last_sale=date.fromisoformat(circumstances["last_sale"]),
        market_digest=circumstances["market_digest"],
        records_digest=circumstances["records_digest"],
        version=circumstances["version"],
        jackknife=_calibration_in(stored["jackknife"], own["jackknife"]),
    )


def _calibration_out(calibration: Calibration | None) -> tuple[dict[str, Any] | None, Arrays]:
    return (None, {}) if calibration is None else calibrations.to_document(calibration)


def _calibration_in(description: dict[str, Any] | None, arrays: Arrays) -> Calibration | None:
    return None if description is None else calibrations.from_document(description, arrays)
