"""Fit the market to the ledger, keep the fit there, and sum it up."""

from dataclasses import dataclass
from datetime import date, datetime
from math import exp
from pathlib import Path

from pipeline import __version__
from pipeline.config import load_market
from pipeline.decisions.fitted_market import FittedMarket, fit_market, to_stored
from pipeline.decisions.price_slips import price_flags
from pipeline.ingest.review import flag_prices
from pipeline.ledger import open_ledger


@dataclass(frozen=True)
class FitSummary:
    """What a fit was made of, and how well it holds the records."""

    fit_id: str
    sales: int
    held_out: int
    first_sale: date
    last_sale: date
    coefficients: int
    effective: float
    scatter_percent: float
    converged: bool
    steps: int
    left_out: tuple[str, ...]
    doubted: tuple["Doubted", ...]


@dataclass(frozen=True)
class Doubted:
    """A sale whose price the fit hardly believes (its weight fell below a half)."""

    record_id: str
    title: str
    sold_on: date
    price_paid: float
    times_fair: float
    weight: float


def fit_ledger(ledger_path: Path, market_path: Path, *, fitted_at: datetime) -> FitSummary:
    """Fit the market to the sales of a ledger and keep the fit there."""
    market = load_market(market_path)
    with open_ledger(ledger_path) as ledger:
        sales = ledger.read("marts/priced_sales", silhouette=None, most=None)
        held_out = int(ledger.read("marts/held_out_sales")["held_out_sales"][0])
        records_digest = str(ledger.read("marts/records_digest")["records_digest"][0])
        fitted = fit_market(
            sales, market, records_digest=records_digest, version=__version__, fitted_on=fitted_at.date()
        )
        document, arrays = to_stored(fitted)
        flag_prices(ledger, price_flags(fitted, sales))
        with ledger.transaction():
            ledger.run(
                "fits/store_fit",
                fit_id=fitted.fit_id,
                fitted_at=fitted_at.replace(tzinfo=None),
                as_of=fitted.last_sale,
                market_digest=fitted.market_digest,
                records_digest=records_digest,
                document=document,
                arrays=arrays,
            )
    return _summary(fitted, sales.sort("record_id").to_dicts(), held_out)


def _summary(fitted: FittedMarket, sales: list[dict[str, object]], held_out: int) -> FitSummary:
    estimated = fitted.fit
    doubted = []
    for row, residual, weight in estimated.downweighted.select("row", "residual", "weight").iter_rows():
        sale = sales[row]
        doubted.append(
            Doubted(
                str(sale["record_id"]),
                str(sale["title"]),
                sale["sold_on"],  # type: ignore[arg-type]
                sale["price_paid"],  # type: ignore[arg-type]
                exp(residual),
                weight,
            )
        )
    return FitSummary(
        fit_id=fitted.fit_id,
        sales=fitted.records,
        held_out=held_out,
        first_sale=fitted.first_sale,
        last_sale=fitted.last_sale,
        coefficients=estimated.layout.size,
        effective=estimated.edf,
        scatter_percent=100 * (exp(estimated.residual_scale) - 1),
        converged=estimated.convergence.converged,
        steps=estimated.convergence.steps,
        left_out=tuple(
            f"{term} {level}: {reason}".strip() for term, level, reason in estimated.dropped.iter_rows()
        ),
        doubted=tuple(doubted),
    )
