"""Upcoming lots and consignments of the demo for the tests, valued once a run."""

from datetime import date
from functools import cache

import polars as pl

from pipeline.answers.consignment.answer import Consignment, consign
from pipeline.answers.consignment.time_to_sale import TimeToSale, learn_time_to_sale
from pipeline.answers.lots.answer import LotList, Terms, value_lots
from pipeline.hedonic.predict import predict
from pipeline.ingest.lots import read_lots
from pipeline.ledger import open_ledger
from pipeline.market.fitted_market import Source
from pipeline.market.pair import Pair
from pipeline.shipped import shipped
from sample_data import scenario
from tests.demo_ledger import demo_ledger, demo_sales
from tests.restorations import demo_market_fitted

VALUED_ON = date(2026, 10, 1)
LAST_SOLD = {venue.name: VALUED_ON for venue in scenario.market().venues}
"""A sale on the day itself at every venue of the demo."""

RATES = {"EUR": 1.0, "GBP": 0.87, "JPY": 170.0}
TERMS = Terms(margin=0.2, confidence=0.8, sells_at=scenario.COUNTER, costs=6.0)
SOURCE = Source(4645, date(2017, 10, 1), date(2026, 9, 30), "demo", VALUED_ON, "test")
COMMON = Pair(
    silhouette="Gannet Hi",
    colourway="Buoy Red",
    era="first",
    size_label="9",
    size_system="UK",
    foot_mm=271,
    grade=8.0,
    box="original",
    tags="none",
    defects=(),
    treatments=(),
    label="Stock 0417",
)


@cache
def upcoming_records() -> pl.DataFrame:
    """Return the demo's upcoming lots, in the columns of a sale record."""
    path = shipped("sample_data") / "exports" / "upcoming_lots.csv"
    return read_lots(path, scenario.market(), as_of=VALUED_ON)[0]


def valued(records: pl.DataFrame, terms: Terms = TERMS, sales: pl.DataFrame | None = None) -> pl.DataFrame:
    """Return lots valued with the demo's fit, beside its sales or others."""
    known = demo_sales() if sales is None else sales
    return value_lots(records, demo_market_fitted(), scenario.market(), known, RATES, terms, as_of=VALUED_ON)


@cache
def demo_lots() -> LotList:
    """Return the demo's upcoming lots, valued and ranked."""
    return LotList(
        as_of=VALUED_ON,
        currency="EUR",
        terms=TERMS,
        lots=valued(upcoming_records()),
        cautions=("The maximum bid is not a target.",),
        source=SOURCE,
        refused=("row 9: price_native 'x': not a number",),
    )


@cache
def demo_pace() -> TimeToSale:
    """Return what the demo's fixed-price offers say of the time to a sale."""
    fixed = [venue.name for venue in scenario.market().venues if venue.kind != "auction"]
    with open_ledger(demo_ledger()[0], read_only=True) as ledger:
        listings = ledger.read("marts/listings", venues=fixed, as_of=VALUED_ON)
    return learn_time_to_sale(listings, predict(demo_market_fitted().fit, listings)["log_price"].to_numpy())


@cache
def demo_consignment(pair: Pair = COMMON, patience_days: int = 60) -> Consignment:
    """Return a pair priced for consignment in the demo's market."""
    return consign(
        pair,
        demo_market_fitted(),
        scenario.market(),
        demo_sales().filter(pl.col("silhouette") == pair.silhouette),
        demo_pace(),
        RATES,
        {scenario.HOLM: 0.82},
        last_sold=LAST_SOLD,
        as_of=VALUED_ON,
        patience_days=patience_days,
        rate_days=dict.fromkeys(RATES, VALUED_ON),
    )
