"""The fitted market: the fit with all that its users must know of it, and its form for storage."""

import hashlib
import io
import json
from dataclasses import asdict, dataclass, field
from datetime import date
from math import prod
from typing import Annotated, Any, Literal, NamedTuple

import numpy as np
import polars as pl
from numpy.lib import format as npy
from numpy.typing import NDArray
from pydantic import Field

from pipeline import formats
from pipeline.config import Market
from pipeline.errors import FitError
from pipeline.hedonic import calibration as calibrations
from pipeline.hedonic.calibration import Calibration
from pipeline.hedonic.document import from_document, to_document
from pipeline.hedonic.fitted import Fit
from pipeline.hedonic.interactions import NOT_TRIED, Interactions
from pipeline.hedonic.scales import FITTED
from pipeline.hedonic.second_stage import (
    MOST_SHARE,
    NUMBERS,
    PLACES,
    WEIGHTS,
    Question,
    SecondStage,
    Trees,
    questions_of,
)
from pipeline.hedonic.specification import Term
from pipeline.hedonic.stored import AGAIN, WIDEST_SPREAD, Stated, checked_calibration, damaged, stated
from pipeline.hedonic.trend import NO_TREND, TrendStage
from pipeline.market.attributes import attributes_by_term
from pipeline.market.model import FACTORS
from pipeline.market.priced_before import COLUMNS
from pipeline.rests_on import market_digest

Arrays = dict[str, NDArray[np.float64]]

IN_FILES = "files:"
"""How the digest of records begins that lie in files outside the ledger."""

OUTSIDE = " in files outside the ledger"


@dataclass(frozen=True)
class Source:
    """Where the numbers come from: the records behind the fit, and its identity."""

    records: int
    first_sale: date
    last_sale: date
    fit_id: str
    fitted_on: date
    version: str
    in_files: bool = False

    @property
    def sales(self) -> str:
        """Return how many sales they are, in words, and that they lie in files where they do."""
        return formats.counted(self.records, "sale") + OUTSIDE * self.in_files

    @property
    def sale_records(self) -> str:
        """Return the same, as charts and pages say it."""
        return formats.counted(self.records, "sale record") + OUTSIDE * self.in_files


@dataclass(frozen=True)
class FittedMarket:
    """A fit and its circumstances: the records behind it, the market file, the program's version.

    `scatter` is the fit of the errors' log scale. `calibration` is None where too few sales came later, and
    `uncalibrated` then says so; `jackknife` holds the scores of the fit's own sales in its stead, each left
    out, which may widen the model's bands and never narrow them. `second_stage` says whether what
    its `trees` say counts (None: it does not), `trend` whether the market's trend does, which `fit` then has,
    `interactions` which pairs of factors were found and whether the fit has them. `origins` counts the past months
    at which the market was fitted too (None for a fit of an earlier version), `failed_origins` says which could not be.
    `priced_before` (see market/priced_before.py) lies apart in storage, and is empty in a fit from there.
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
    trees: Trees | None = None
    interactions: Interactions = NOT_TRIED
    trend: TrendStage = NO_TREND
    origins: int | None = None
    failed_origins: tuple[str, ...] = ()
    priced_before: pl.DataFrame = field(default_factory=lambda: pl.DataFrame(schema=COLUMNS))

    @property
    def found(self) -> tuple[Term, ...]:
        """Return the terms of the interactions that were found and count."""
        pairs = self.interactions.pairs if self.interactions.used else ()
        return tuple(term for term in self.fit.specification.terms if term.columns in pairs)

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
            in_files=self.records_digest.startswith(IN_FILES),
        )


class Stale(NamedTuple):
    """Why a fit that was kept no longer holds, and what to do."""

    what: str
    remedy: str


CHANGED_MARKET = "the market file has changed since the fit"


def why_stale(kept_market: str, kept_records: str, market: Market, records_digest: str) -> tuple[Stale, ...]:
    """Return why a fit that was kept with these digests no longer holds; nothing where it does.

    `records_digest` is that of the ledger now. Digests begin with the way in which they were made; one made in
    another way says nothing about the records. A fit of sales in files does not depend on those of the ledger.
    """
    if kept_records.startswith(IN_FILES):
        again = "run `pairband fit --sales` again on files written since."
        return (Stale(CHANGED_MARKET, again),) * (kept_market != market_digest(market))
    way, _, _ = records_digest.partition(":")
    if not kept_records.startswith(f"{way}:"):
        return (Stale("the fit was made by another version of pairband", "run `pairband fit` again."),)
    reasons = []
    if kept_records != records_digest:
        reasons.append(Stale("the records have changed since the fit", "run `pairband fit` again."))
    if kept_market != market_digest(market):
        reasons.append(
            Stale(
                CHANGED_MARKET,
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
        ("trees", _trees_out(fitted.trees)),
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
        "interactions": asdict(fitted.interactions),
        "trend": asdict(fitted.trend),
        "origins": fitted.origins,
        "failed_origins": fitted.failed_origins,
    }
    shapes = [[name, list(array.shape)] for name, array in arrays.items()]
    packed = io.BytesIO()
    np.save(packed, np.concatenate([np.ravel(array) for array in arrays.values()]), allow_pickle=False)
    digest = hashlib.sha256(packed.getvalue()).hexdigest()
    document = {"circumstances": circumstances, "shapes": shapes, "arrays_sha256": digest, **parts}
    return json.dumps(document, ensure_ascii=False), packed.getvalue()


class _SecondStage(Stated):
    used: bool
    share: float = Field(ge=0, le=MOST_SHARE)
    gain: float
    error: float
    share_error: float = Field(default=0.0, ge=0, le=1)
    prices: float = Field(default=0.0, ge=0, le=1)


class _Question(Stated):
    attribute: str
    term: str
    asks: Literal["number", "level", "worth"]
    levels: int = Field(ge=0)


class _Trees(Stated):
    attributes: list[str]
    questions: list[_Question]
    stands_for: float = Field(ge=0, le=1 / MOST_SHARE)
    width: int = Field(ge=0)
    start: float = Field(ge=-WIDEST_SPREAD, le=WIDEST_SPREAD)


_Columns = Annotated[list[str], Field(min_length=2, max_length=2)]


class _Interactions(Stated):
    looked: bool = False
    rounds: Annotated[int, Field(ge=0)] = 0
    pairs: list[_Columns] = Field(default_factory=list)
    too_many: list[_Columns] = Field(default_factory=list)
    gain: float = 0.0
    error: float = 0.0
    median_price: float = 0.0

    def known(self) -> Interactions:
        """Return them as a fit knows them."""
        pairs, too_many = (tuple(map(tuple, columns)) for columns in (self.pairs, self.too_many))
        return Interactions(**self.model_dump() | {"pairs": pairs, "too_many": too_many})


class _TrendStage(Stated):
    used: bool
    months: int = Field(ge=0)
    damping: float
    gain: float
    error: float
    share: float
    share_error: float
    pace: float | None


class _Circumstances(Stated):
    fit_id: str = Field(min_length=1)
    fitted_on: str
    currency: str = Field(pattern=r"^[A-Z]{3}$")
    records: int = Field(ge=1)
    first_sale: str
    last_sale: str
    market_digest: str
    records_digest: str
    version: str
    uncalibrated: str
    second_stage: _SecondStage
    interactions: _Interactions = _Interactions()
    trend: _TrendStage | None = None
    origins: int | None = Field(default=None, ge=0)
    failed_origins: list[str] = Field(default_factory=list)


class _Shape(Stated):
    name: str
    shape: list[Annotated[int, Field(ge=0)]]


class _Document(Stated):
    circumstances: _Circumstances
    shapes: list[_Shape]
    arrays_sha256: str | None = None
    fit: dict[str, Any]
    scatter: dict[str, Any]
    calibration: dict[str, Any] | None
    jackknife: dict[str, Any] | None
    trees: dict[str, Any] | None = None


def from_stored(document: str | None, packed: bytes | None) -> FittedMarket:
    """Return the fitted market that `to_stored` wrote.

    Every part is checked before it is used. Raises FitError for one of another version, and one that is damaged.
    """
    stored = _read_document(document)
    if stored.arrays_sha256 not in (None, hashlib.sha256(packed or b"").hexdigest()):
        raise damaged("its arrays are not those that were stored with it")
    arrays = _unpack(stored.shapes, packed)
    facts = stored.circumstances
    own = {
        part: {
            name.removeprefix(f"{part}/"): array
            for name, array in arrays.items()
            if name.startswith(f"{part}/")
        }
        for part in ("fit", "scatter", "calibration", "jackknife", "trees")
    }
    if sum(map(len, own.values())) != len(arrays):
        raise damaged("an array belongs to no part of it")
    first_sale, last_sale = _day(facts.first_sale), _day(facts.last_sale)
    if first_sale > last_sale:
        raise damaged(f"its first sale, {first_sale}, is after its last, {last_sale}")
    fitted = FittedMarket(
        fit=from_document(stored.fit, own["fit"]),
        scatter=from_document(stored.scatter, own["scatter"]),
        calibration=_calibration_in(stored.calibration, own["calibration"], "calibration"),
        uncalibrated=facts.uncalibrated,
        second_stage=SecondStage(**facts.second_stage.model_dump()),
        fit_id=facts.fit_id,
        fitted_on=_day(facts.fitted_on),
        currency=facts.currency,
        records=facts.records,
        first_sale=first_sale,
        last_sale=last_sale,
        market_digest=facts.market_digest,
        records_digest=facts.records_digest,
        version=facts.version,
        jackknife=_calibration_in(stored.jackknife, own["jackknife"], "jackknife"),
        trees=_trees_in(stored.trees, own["trees"]),
        interactions=facts.interactions.known(),
        trend=NO_TREND if facts.trend is None else TrendStage(**facts.trend.model_dump()),
        origins=facts.origins,
        failed_origins=tuple(facts.failed_origins),
    )
    if len(fitted.found) < len(fitted.interactions.pairs) and fitted.interactions.used:
        raise damaged("it has no term for a pair of factors that it names")
    if fitted.second_stage.prices not in WEIGHTS:
        raise damaged(f"trees on prices count for {fitted.second_stage.prices} of the second stage")
    if fitted.trend.used != (fitted.fit.trend is not None):
        raise damaged("it says another thing of the trend than the fit of prices")
    for part, fit, known in (
        ("fit", fitted.fit, set(FACTORS)),
        ("scatter", fitted.scatter, {*FACTORS, FITTED}),
    ):
        for factor in fit.design.factors:
            term = factor.term
            if not set(term.columns) <= known:
                raise damaged(f"{part}: the term {term.name!r} reads {list(term.columns)}")
            if factor.many != isinstance(FACTORS.get(term.columns[0]), pl.List):
                raise damaged(
                    f"{part}: the term {term.name!r} is of lists where its column is not, or the reverse"
                )
    if fitted.second_stage.used and fitted.trees is None:
        raise FitError("the stored fit is of an earlier version", AGAIN)
    trees, terms = fitted.trees, fitted.fit.specification.terms
    if trees and (trees.attributes, trees.questions) != questions_of(fitted.fit, attributes_by_term(terms)):
        raise damaged("trees: they ask other questions than the fit answers")
    return fitted


def _read_document(document: str | None) -> _Document:
    try:
        read = json.loads(document or "")
    except (ValueError, RecursionError) as exc:
        raise damaged(f"its document is not JSON ({exc})") from exc
    if not isinstance(read, dict):
        raise damaged("its document is no JSON object")
    if "shapes" not in read:
        raise FitError("the stored fit is of an earlier version", AGAIN)
    if isinstance(read["shapes"], list):
        pairs = [
            shape if isinstance(shape, list) and len(shape) == 2 else [None, shape]
            for shape in read["shapes"]
        ]
        read["shapes"] = [{"name": name, "shape": shape} for name, shape in pairs]
    return stated(_Document, read, "document")


def _unpack(shapes: list[_Shape], packed: bytes | None) -> Arrays:
    """Return the arrays by name; the header is read first, so that no false size is given memory."""
    file = io.BytesIO(packed or b"")
    try:
        version = npy.read_magic(file)
        read_header = {(1, 0): npy.read_array_header_1_0, (2, 0): npy.read_array_header_2_0}[version]
        stated_shape, _, dtype = read_header(file)
    except (ValueError, KeyError, EOFError, OSError) as exc:
        raise damaged(f"its arrays cannot be read ({exc})") from exc
    content = file.read()
    sizes = [prod(shape.shape) for shape in shapes]
    if dtype != np.float64 or stated_shape != (sum(sizes),) or len(content) != 8 * sum(sizes):
        raise damaged(f"its arrays should hold {sum(sizes):,} numbers, and hold {len(content):,} bytes")
    if len({shape.name for shape in shapes}) != len(shapes):
        raise damaged("two of its arrays have one name")
    flat = np.frombuffer(content, dtype=np.float64).copy()
    parts = np.split(flat, np.cumsum(sizes)[:-1]) if sizes else []
    return {shape.name: part.reshape(shape.shape) for shape, part in zip(shapes, parts, strict=True)}


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError as exc:
        raise damaged(f"{text!r} is no day") from exc


def _calibration_out(calibration: Calibration | None) -> tuple[dict[str, Any] | None, Arrays]:
    return (None, {}) if calibration is None else calibrations.to_document(calibration)


def _calibration_in(description: dict[str, Any] | None, arrays: Arrays, part: str) -> Calibration | None:
    if description is None:
        if arrays:
            raise damaged(f"{part}: arrays without a description")
        return None
    if "window" in description:
        raise FitError("the stored fit is of an earlier version", AGAIN)
    return calibrations.from_document(checked_calibration(description, arrays, part), arrays)


def _trees_out(trees: Trees | None) -> tuple[dict[str, Any] | None, Arrays]:
    if trees is None:
        return None, {}
    arrays = {name: getattr(trees, name).astype(np.float64) for name in (*PLACES, *NUMBERS)}
    questions = [question._asdict() for question in trees.questions]
    facts = {
        "attributes": trees.attributes,
        "questions": questions,
        "start": trees.start,
        "stands_for": trees.stands_for,
        "width": trees.width,
    }
    return facts, arrays


def _trees_in(description: dict[str, Any] | None, arrays: Arrays) -> Trees | None:
    if description is None:
        if arrays:
            raise damaged("trees: arrays without a description")
        return None
    if "questions" not in description:
        raise FitError("the stored fit is of an earlier version", AGAIN)
    facts = stated(_Trees, description, "trees")
    if set(arrays) != {*PLACES, *NUMBERS} or not all(
        array.ndim == 1 and np.isfinite(array).all() for array in arrays.values()
    ):
        raise damaged("trees: its arrays are not those of trees")
    read: dict[str, Any] = {name: arrays[name].astype(np.int64) for name in PLACES}
    trees = Trees(
        attributes=tuple(facts.attributes),
        questions=tuple(Question(**question.model_dump()) for question in facts.questions),
        start=facts.start,
        stands_for=facts.stands_for,
        width=facts.width,
        **read | {name: arrays[name] for name in NUMBERS},
    )
    if wrong := trees.broken():
        raise damaged(f"trees: {wrong}")
    return trees
