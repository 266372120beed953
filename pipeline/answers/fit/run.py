"""Fit the market to the ledger, keep the fit there, and sum it up."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, fields, replace
from datetime import date, datetime
from math import exp
from pathlib import Path

import polars as pl

from pipeline import __version__
from pipeline.clock import day_of
from pipeline.config import load_market
from pipeline.errors import FitError
from pipeline.hedonic.coding import KnownLevels
from pipeline.hedonic.database import DatabaseSource
from pipeline.hedonic.interactions import NOT_TRIED, Interactions
from pipeline.hedonic.layout import NO_LEVEL, ONE_LEVEL
from pipeline.hedonic.rolling import MOST_SINGLE
from pipeline.hedonic.second_stage import UNUSED, SecondStage
from pipeline.hedonic.shape import levels_alike
from pipeline.hedonic.source import ONE_STAGE, Source
from pipeline.hedonic.trend import NO_TREND, TrendStage
from pipeline.ingest.flagged_prices import flag_prices
from pipeline.ledger import Ledger, open_ledger
from pipeline.market.fit import FEWEST_SALES, fit_market
from pipeline.market.fitted_market import FittedMarket, to_stored
from pipeline.market.model import ASKED
from pipeline.market.price_flags import price_flags
from pipeline.market.settings import RISING
from pipeline.market.strange_unknowns import StrangeUnknown, strange_unknowns
from pipeline.rests_on import fit_decided_by
from pipeline.workspace import Workspace

SALES = "marts/sales_to_fit"

OnProgress = Callable[[str, int, int], None]


@dataclass(frozen=True)
class FitSummary:
    """What a fit was made of, and how well it holds the records.

    `doubted` are those of the `doubted_sales` that would move it most if they counted in full. Of sales in files,
    `files` counts these, and `not_priced` their rows that do not count; both are 0 for the ledger's.
    """

    fit_id: str
    currency: str
    sales: int
    excluded: int
    first_sale: date
    last_sale: date
    coefficients: int
    effective: float
    scatter_percent: float
    converged: bool
    steps: int
    left_out: tuple[str, ...]
    grades_alike: tuple[tuple[str, str], ...]
    doubted_sales: int
    doubted: tuple["Doubted", ...]
    strange_unknowns: tuple[StrangeUnknown, ...]
    interactions: Interactions = NOT_TRIED
    trend: TrendStage = NO_TREND
    second_stage: SecondStage = UNUSED
    files: int = 0
    not_priced: int = 0


@dataclass(frozen=True)
class Doubted:
    """A sale whose price the fit hardly believes (its weight fell below a half)."""

    record_id: str
    title: str
    sold_on: date
    price_paid: float
    price_to_value: float
    weight: float


def fit_ledger(
    ledger_path: Path,
    market_path: Path,
    *,
    fitted_at: datetime,
    on_progress: OnProgress | None = None,
) -> FitSummary:
    """Fit the market to the sales of a ledger, keep the fit there, and flag prices that look like typing errors.

    Raises FitError where there are too few sales.
    """

    market = load_market(market_path)
    with open_ledger(ledger_path) as ledger:
        excluded = int(ledger.read("marts/held_out_sales")["held_out_sales"][0])
        records_digest = str(ledger.read("marts/records_digest")["records_digest"][0])
        with ledger.relation(SALES) as sales:
            source = DatabaseSource(ledger.connection, sales, ASKED)
            _refuse_nameless(source, ledger, market_path)
            fitted = fit_market(
                source,
                market,
                records_digest=records_digest,
                version=__version__,
                fitted_on=day_of(fitted_at),
                on_progress=_of_origins(on_progress),
            )
            doubted = _doubted(fitted, source, ledger)
        strange = strange_unknowns(fitted, ledger.batches("marts/priced_sales", silhouette=None, most=None))
        flags = pl.concat([price_flags(fitted, batch) for batch in ledger.batches(SALES)])
        with ledger.transaction():
            _store(ledger, fitted, fitted_at)
            ledger.write("fits/keep_priced_before", fitted.priced_before)
            ledger.run(
                "fits/note_fit",
                fit_id=fitted.fit_id,
                fitted_at=fitted_at.replace(tzinfo=None),
                settings=fit_decided_by(market),
            )
            ledger.run("fits/close_sales")
            ledger.run("fits/keep_sales")
            flag_prices(ledger, flags)
    return _summary(fitted, excluded, doubted, strange)


def _refuse_nameless(source: Source, ledger: Ledger, market_path: Path) -> None:
    """Raise FitError where there are too few sales because others have no silhouette."""
    sales = KnownLevels(source, ONE_STAGE, 0).height
    nameless = int(ledger.read("marts/nameless_sales")["nameless_sales"][0])
    if sales < FEWEST_SALES and nameless:
        raise FitError(
            f"{sales} sales can be priced, and a fit needs {FEWEST_SALES} at least; {nameless} more have no silhouette",
            f"write your silhouettes, with the words by which titles name them, into {market_path}, and ingest the "
            "exports again.",
        )


def _doubted(fitted: FittedMarket, source: Source, ledger: Ledger) -> tuple[Doubted, ...]:
    """Return the listed sales that a fit hardly believes, as the ledger has them, the most influential first."""
    listed = fitted.fit.downweighted
    sales = source.rows(listed["row"].to_list()).select("record_id", "sold_on", "price_paid")
    titles = ledger.read_with("marts/titles_of_sales", sales.select("record_id"))
    return _listed(sales.join(titles, on="record_id", how="left", maintain_order="left"), listed)


def _listed(titled: pl.DataFrame, listed: pl.DataFrame) -> tuple[Doubted, ...]:
    """Return sales (record_id, title, sold_on, price_paid) with what the fit says of each, row by row."""
    weighed = listed.select(price_to_value=pl.col("residual").exp(), weight="weight")
    columns = [field.name for field in fields(Doubted)]
    both = pl.concat([titled, weighed], how="horizontal").select(columns)
    return tuple(Doubted(*row) for row in both.iter_rows())


def fit_files(
    ledger_path: Path,
    market_path: Path,
    pattern: str,
    *,
    spark: str | None,
    fitted_at: datetime,
    on_progress: OnProgress | None = None,
) -> FitSummary:
    """Fit the market to the sales of Parquet files, and keep the fit in the ledger, which is made where there is none.

    `spark` is the master at which Spark reads the files; without it they are read here. The sales themselves are not
    kept. Raises FitError as `sales_in_files` does, and where there are too few sales.
    """
    from pipeline.market.sales_in_files import sales_in_files

    market = load_market(market_path)
    with sales_in_files(pattern, spark=spark) as found:
        if found.sales < FEWEST_SALES:
            raise FitError(
                f"{found.sales} of {found.sales + found.left_out} rows at {pattern} can be priced, and a fit needs "
                f"{FEWEST_SALES} at least",
                "a sale counts that has a day, a price, a silhouette, and is not excluded pending review.",
            )
        fitted = fit_market(
            found.source,
            market,
            records_digest=found.records_digest,
            version=__version__,
            fitted_on=day_of(fitted_at),
            on_progress=_of_origins(on_progress),
        )
        listed = fitted.fit.downweighted
        sales = found.source.rows(listed["row"].to_list()).select(
            "record_id", "title", "sold_on", "price_paid"
        )
        strange = strange_unknowns(fitted, [found.source.sample(MOST_SINGLE)])
    with open_ledger(ledger_path, create=True) as ledger, ledger.transaction():
        _store(ledger, fitted, fitted_at)
    summary = _summary(fitted, 0, _listed(sales, listed), strange)
    return replace(summary, files=found.files, not_priced=found.left_out)


def _of_origins(on_progress: OnProgress | None) -> Callable[[int, int], None]:
    def on_origin(done: int, total: int) -> None:
        if on_progress is not None:
            on_progress("trying the bands on later sales", done, total)

    return on_origin


def _store(ledger: Ledger, fitted: FittedMarket, fitted_at: datetime) -> None:
    """Keep a fit as the latest; what an earlier one priced past sales at is forgotten."""
    document, arrays = to_stored(fitted)
    ledger.run(
        "fits/store_fit",
        fit_id=fitted.fit_id,
        fitted_at=fitted_at.replace(tzinfo=None),
        as_of=fitted.last_sale,
        market_digest=fitted.market_digest,
        records_digest=fitted.records_digest,
        document=document,
        arrays=arrays,
    )
    ledger.run("fits/forget_priced_before")


def stored_summary(workspace: Workspace) -> FitSummary:
    """Return what the latest fit of a ledger says that is kept with it: all but the single sales that it doubts."""
    excluded = int(workspace.ledger.read("marts/held_out_sales")["held_out_sales"][0])
    return _summary(workspace.fitted, excluded, (), ())


def _summary(
    fitted: FittedMarket, excluded: int, doubted: tuple[Doubted, ...], strange: tuple[StrangeUnknown, ...]
) -> FitSummary:
    estimated = fitted.fit
    return FitSummary(
        fit_id=fitted.fit_id,
        currency=fitted.currency,
        sales=fitted.records,
        excluded=excluded,
        first_sale=fitted.first_sale,
        last_sale=fitted.last_sale,
        coefficients=estimated.layout.size,
        effective=estimated.edf,
        scatter_percent=100 * (exp(estimated.residual_scale) - 1),
        converged=estimated.convergence.converged,
        steps=estimated.convergence.steps,
        left_out=tuple(_left_out(estimated.dropped)),
        grades_alike=tuple(pair for column in RISING for pair in levels_alike(estimated, column)),
        doubted_sales=estimated.doubtful,
        doubted=doubted,
        strange_unknowns=strange,
        interactions=fitted.interactions,
        trend=fitted.trend,
        second_stage=fitted.second_stage,
    )


def _left_out(dropped: pl.DataFrame) -> Iterator[str]:
    """Yield what the sales do not say of an attribute, and what to do (term, level, reason, a row a part left out)."""
    for reason, said in (
        (ONE_LEVEL, "All sales say the same, or nothing, of"),
        (NO_LEVEL, "No sale says anything of"),
    ):
        terms = dropped.filter(pl.col("reason") == reason)["term"].unique(maintain_order=True)
        if terms.len():
            yield (
                f"{said} {', '.join(terms)}: what that is worth is not known. `pairband understood FILE` shows what "
                "was read; a column for it in the map, or phrases for it, say more."
            )
    for term, level, _ in dropped.filter(~pl.col("reason").is_in([ONE_LEVEL, NO_LEVEL])).iter_rows():
        yield (
            f"The sales with {level!r} ({term}) have something else in common, so that its own worth is not known: "
            "add sales in which the two differ."
        )
