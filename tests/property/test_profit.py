"""Money is conserved in a profit: whatever the fees, currencies and rates, every cent of a price is accounted for."""

from datetime import date, timedelta
from decimal import ROUND_HALF_UP, Decimal

import polars as pl
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from pipeline.answers.outcomes.command import GROUPED_BY
from pipeline.answers.outcomes.profit import AMOUNT, CHARGES, account_for, sum_up
from pipeline.config import Market
from pipeline.fees import fee_of
from pipeline.ingest.money import price_offers
from tests.property.test_fees import in_whole_units, schedules

BOUGHT, FIRST, LAST = date(2020, 1, 2), date(2020, 1, 1), date(2023, 12, 31)
DIGITS = {"EUR": 2, "GBP": 2, "JPY": 0}
UNIT = {code: Decimal(1).scaleb(-digits) for code, digits in DIGITS.items()}
RATES = pl.DataFrame(
    {
        "currency": ["GBP", "GBP", "JPY", "JPY"],
        "day": [FIRST, date(2021, 6, 1)] * 2,
        "per_euro": [0.85, 0.91, 121.5, 163.25],
    }
)
ZERO, CENT = Decimal(0), Decimal("0.01")


def amounts(currency: str) -> st.SearchStrategy[Decimal]:
    """Return prices in whole minor units of a currency."""
    most = 900_000 if currency == "JPY" else 9_000_000
    return st.integers(1, most).map(lambda units: units * UNIT[currency])


@st.composite
def markets(draw: st.DrawFn) -> Market:
    """Return a market of an auction, an online venue and the owner's shop, each with fees of its own."""
    venues = []
    for name, kind in (("Quay", "auction"), ("Lamp", "online"), ("Counter", "shop")):
        currency = draw(st.sampled_from(list(DIGITS)))
        parties = ("buyer", "seller") if kind == "auction" else ("seller",)
        fees = [in_whole_units(draw(schedules(party))) for party in parties]
        freight = draw(st.none() | st.integers(0, 40))
        venues.append({"name": name, "kind": kind, "currency": currency, "fees": fees, "freight": freight})
    tax = draw(st.sampled_from([None, "margin", "full"]))
    rule = {} if tax is None else {"tax": tax, "tax_rate": draw(st.sampled_from(["0.19", "0.2", "0.255"]))}
    era = {"name": "first", "run": "original", "first_year": 1984}
    base = draw(st.sampled_from(["EUR", "GBP"]))
    return Market.model_validate({"base_currency": base, "eras": [era], "venues": venues, "selling": rule})


@st.composite
def sales(draw: st.DrawFn, market: Market) -> pl.DataFrame:
    """Return sales as the ledger prices them, with what the stock list says of their pairs; some of it is missing."""
    offers = []
    for number in range(draw(st.integers(1, 5))):
        venue = draw(st.sampled_from(market.venues))
        is_free = venue.kind != "auction"
        cost_currency = draw(st.sampled_from(list(DIGITS)))
        tax = draw(st.sampled_from([None, Decimal(3)])) if is_free else None
        offers.append(
            {
                "stock_ref": f"P-{number}",
                "venue": venue.name,
                "currency": venue.currency,
                "price_basis": draw(st.sampled_from(["all-in", "hammer"] if is_free else ["hammer", "net"])),
                "price_native": draw(amounts(venue.currency)),
                "tax_native": tax,
                "sold_on": draw(st.dates(BOUGHT, LAST)),
                "bought_on": draw(st.none() | st.just(BOUGHT)),
                "cost_native": draw(st.none() | amounts(cost_currency)),
                "work_native": draw(st.none() | amounts(cost_currency)),
                "cost_currency": draw(st.none() | st.just(cost_currency)),
                "work_currency": draw(st.sampled_from([None, *DIGITS])),
                "era": draw(st.sampled_from([None, "first"])),
                "silhouette": draw(st.sampled_from(["Gannet Hi", "Skua"])),
            }
        )
    dtypes = dict.fromkeys(("price_native", "tax_native", "cost_native", "work_native"), AMOUNT)
    days = dict.fromkeys(("sold_on", "bought_on"), pl.Date())
    frame = pl.DataFrame(
        offers,
        schema_overrides={
            **dtypes,
            **days,
            "cost_currency": pl.String(),
            "work_currency": pl.String(),
            "era": pl.String(),
        },
    ).with_columns(
        status=pl.lit("sold"),
        closed_on=pl.lit(None, pl.Date),
        offered_on=pl.lit(None, pl.Date),
        ask_native=pl.lit(None, AMOUNT),
        flags=pl.lit([], pl.List(pl.String)),
    )
    priced = price_offers(frame.with_columns(ask_tax_native=pl.lit(None, AMOUNT)), market, RATES)
    assume(priced["fault_field"].null_count() == priced.height)
    return pl.concat([frame, priced], how="horizontal")


def accounts_of(data: st.DataObject) -> tuple[Market, pl.DataFrame]:
    market = data.draw(markets())
    return market, account_for(data.draw(sales(market)), market, RATES)


def rate_on(currency: str, day: date, base: str) -> Decimal:
    """Return units of a currency for one of the base on a day, worked out from the table above."""
    per_euro = {"EUR": [1.0, 1.0], "GBP": [0.85, 0.91], "JPY": [121.5, 163.25]}
    turned = int(day >= date(2021, 6, 1))
    return Decimal(per_euro[currency][turned]) / Decimal(per_euro[base][turned])


@settings(max_examples=30)
@given(st.data())
def test_every_cent_that_the_buyer_paid_is_fee_tax_freight_cost_work_or_profit(data: st.DataObject) -> None:
    _, accounts = accounts_of(data)
    for one in accounts.drop_nulls("profit").iter_rows(named=True):
        assert one["paid"] == sum((one[name] or ZERO for name in CHARGES), ZERO) + one["profit"]


@settings(max_examples=30)
@given(st.data())
def test_every_amount_of_a_profit_is_in_whole_cents(data: st.DataObject) -> None:
    _, accounts = accounts_of(data)
    for one in accounts.iter_rows(named=True):
        amounts_of = [
            one[name] for name in ("paid", *CHARGES, "profit", "rate_gain") if one[name] is not None
        ]
        assert all(amount == amount.quantize(CENT) for amount in amounts_of)


@settings(max_examples=30)
@given(st.data())
def test_each_charge_is_what_the_invoice_of_the_venue_states(data: st.DataObject) -> None:
    market, accounts = accounts_of(data)
    for one in accounts.filter(pl.col("price_basis") == "hammer").iter_rows(named=True):
        venue, hammer = market.venue(one["venue"]), one["price_native"]
        rate = rate_on(one["currency"], one["sold_on"], market.base_currency)
        buyer, seller = (venue.schedule(party, one["sold_on"]) for party in ("buyer", "seller"))
        stated = {
            "buyer_fees": fee_of(hammer, buyer, venue.currency) if buyer else ZERO,
            "sales_tax": one["tax_native"] or ZERO,
            "venue_fees": fee_of(hammer, seller, venue.currency) if seller and venue.kind != "shop" else ZERO,
        }
        for name, native in stated.items():
            assert abs(one[name] - native / rate) <= CENT


@settings(max_examples=30)
@given(st.data())
def test_a_cost_is_at_the_rate_of_the_day_on_which_the_pair_was_bought(data: st.DataObject) -> None:
    market, accounts = accounts_of(data)
    for one in accounts.drop_nulls(["cost", "bought_on"]).iter_rows(named=True):
        rate = rate_on(one["cost_currency"], BOUGHT, market.base_currency)
        assert abs(one["cost"] - one["cost_native"] / rate) <= CENT


@settings(max_examples=30)
@given(st.data())
def test_there_is_a_profit_or_a_reason_why_there_is_none(data: st.DataObject) -> None:
    _, accounts = accounts_of(data)
    assert accounts["profit"].is_null().to_list() == accounts["why"].is_not_null().to_list()
    assert not accounts.filter(pl.col("cost_native").is_null())["profit"].count()


@settings(max_examples=30)
@given(st.data())
def test_a_profit_is_that_at_the_old_rate_and_what_the_rate_made(data: st.DataObject) -> None:
    market, accounts = accounts_of(data)
    for one in accounts.drop_nulls(["profit", "rate_gain"]).iter_rows(named=True):
        assert one["profit"] == one["traded"] + one["rate_gain"]
        if one["currency"] == market.base_currency:
            assert one["rate_gain"] == 0
        elif one["bought_on"] is not None:
            then, now = (
                rate_on(one["currency"], day, market.base_currency) for day in (BOUGHT, one["sold_on"])
            )
            made = one["net"] - one["net"] * now / then
            assert abs(one["rate_gain"] - made) <= 3 * CENT * max(Decimal(1), now / then)


@settings(max_examples=30)
@given(st.data())
def test_the_tax_is_a_share_of_the_price_or_of_what_it_is_above_the_cost(data: st.DataObject) -> None:
    market, accounts = accounts_of(data)
    rule = market.selling
    assume(rule.tax is not None and rule.tax_rate is not None)
    assert rule.tax_rate is not None
    for one in accounts.drop_nulls(["tax", "profit"]).filter(pl.col("sales_tax") == 0).iter_rows(named=True):
        price = one["net"] if one["venue"] == "Quay" else one["net"] + one["venue_fees"]
        above = price if rule.tax == "full" else max(price - one["cost"], ZERO)
        due = max(above, ZERO) * rule.tax_rate / (1 + rule.tax_rate)
        assert abs(one["tax"] - due.quantize(CENT, ROUND_HALF_UP)) <= CENT


@settings(max_examples=30)
@given(st.data(), st.sampled_from(GROUPED_BY))
def test_groups_add_up_to_all_pairs(data: st.DataObject, by: str) -> None:
    _, accounts = accounts_of(data)
    groups, whole = sum_up(accounts, by), sum_up(accounts, None)  # type: ignore[arg-type]
    for name in ("sold", "known", "paid", *CHARGES, "net", "profit", "rate_gain"):
        assert groups[name].sum() == (whole[name].item() or 0)


@settings(max_examples=30)
@given(st.data())
def test_sums_are_those_of_the_pairs_that_have_a_profit(data: st.DataObject) -> None:
    _, accounts = accounts_of(data)
    known = [one for one in accounts.iter_rows(named=True) if one["profit"] is not None]
    whole = sum_up(accounts, None).row(0, named=True)
    assert (whole["sold"], whole["known"]) == (accounts.height, len(known))
    for name in ("paid", *CHARGES, "net", "profit"):
        stated = [one[name] for one in known if one[name] is not None]
        assert whole[name] == (sum(stated, ZERO) if stated else None)


@settings(max_examples=30)
@given(st.data())
def test_the_order_of_the_pairs_changes_no_profit(data: st.DataObject) -> None:
    market = data.draw(markets())
    sold = data.draw(sales(market))
    turned = account_for(sold.reverse(), market, RATES).reverse()
    assert turned.equals(account_for(sold, market, RATES))


@settings(max_examples=30)
@given(st.data())
def test_a_later_sale_at_the_same_rate_leaves_the_same_profit(data: st.DataObject) -> None:
    market = data.draw(markets())
    sold = data.draw(sales(market)).filter(pl.col("sold_on") < date(2021, 5, 1))
    later = sold.with_columns(sold_on=pl.col("sold_on") + timedelta(20))
    assert account_for(later, market, RATES)["profit"].equals(account_for(sold, market, RATES)["profit"])
