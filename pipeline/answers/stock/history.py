"""The history of pairs: bought, listed, worked on, offered, valued, sold and returned, in the order of days."""

from typing import NamedTuple

import polars as pl

from pipeline import formats

EVENTS: dict[str, pl.DataType] = {
    "number": pl.String(),
    "day": pl.Date(),
    "what": pl.String(),
    "place": pl.String(),
    "amount": pl.Float64(),
    "currency": pl.String(),
    "details": pl.String(),
    "record_id": pl.String(),
}
"""The columns of a history: one row an event, with the amount that it was for."""

BOUGHT, LISTED, CHANGED, MISSING = "bought", "in the list", "changed in the list", "no longer in the list"
OFFERED, VALUED = "offered", "valued"
ENDINGS = {"sold": "sold", "unsold": "not sold", "withdrawn": "withdrawn"}
UNDONE = "sold, and undone"
ORDER = (BOUGHT, LISTED, CHANGED, VALUED, OFFERED, *ENDINGS.values(), UNDONE)
"""In what order events of one day stand; others follow them."""

AMOUNTS = {
    "price_native": ("cost", "cost_currency"),
    "work_paid": ("work paid", "work_currency"),
    "ask_native": ("ask", "ask_currency"),
}
TRACKED = {
    "grade": "grade",
    "size_label": "size",
    "box": "box",
    "tags": "tags",
    "parts": "parts",
    "defects": "defects",
    "treatments": "treatments",
    **{field: name for field, (name, _) in AMOUNTS.items()},
    "offered_at": "offered at",
}
"""What of a listed pair is shown where it changes, and what it is called."""

_SHOWN_AT_FIRST = ("grade", "work_paid", "ask_native", "offered_at")
_PAIR = ("number", "bought_on", "twin")
"""What makes one pair: a number may be used again, and stand twice in a list."""


class Sources(NamedTuple):
    """What a history is made of, each by `number`.

    listings
        Rows of sql/marts/listed_pairs.
    days
        Rows of sql/marts/days_of_lists.
    offers
        Rows of sql/marts/pair_offers.
    reversals
        Rows of sql/marts/pair_reversals.
    values
        Rows of sql/outcomes/values_of_pairs.
    """

    listings: pl.DataFrame
    days: pl.DataFrame
    offers: pl.DataFrame
    reversals: pl.DataFrame
    values: pl.DataFrame


def pair_events(sources: Sources, *, base: str) -> pl.DataFrame:
    """Return EVENTS of the pairs, by number and in the order of days; events without a day come first.

    `base` is the currency of the prices paid.
    """
    events = pl.concat(
        [
            *_of_lists(sources.listings, sources.days),
            *_of_offers(sources.offers, base),
            _of_reversals(sources.reversals, sources.offers),
            _of_values(sources.values),
        ]
    )
    places = {what: place for place, what in enumerate(ORDER)}
    turn = pl.col("what").replace_strict(places, default=len(ORDER), return_dtype=pl.Int32)
    return events.sort("number", "day", turn, "place", "details", nulls_last=False, maintain_order=True)


def _of_lists(listings: pl.DataFrame, days: pl.DataFrame) -> list[pl.DataFrame]:
    """Return when pairs were bought, stood in a list for the first time, changed in it, and were gone from it."""
    in_list = ["map_name", "listed_on", "number", "bought_on"]
    rows = listings.rename({"stock_ref": "number"}).drop_nulls("number")
    texts = rows.with_columns(_texts(rows, field) for field in TRACKED).with_columns(
        twin=pl.int_range(pl.len()).over(in_list)
    )
    ordered = texts.sort(*_PAIR, "map_name", "listed_on")
    of_pair = ["map_name", *_PAIR]
    before = {field: pl.col(f"{field}_text").shift(1).over(of_pair) for field in TRACKED}
    is_first = pl.int_range(pl.len()).over(of_pair) == 0
    changes = pl.concat_str(
        [_change(name, before[field], pl.col(f"{field}_text")) for field, name in TRACKED.items()],
        separator="; ",
        ignore_nulls=True,
    )
    changed = ordered.with_columns(
        is_first=is_first,
        changes=changes,
        state=pl.concat_str(
            [pl.format(f"{TRACKED[field]} {{}}", pl.col(f"{field}_text")) for field in _SHOWN_AT_FIRST],
            separator="; ",
            ignore_nulls=True,
        ),
        next_day=_next_day(ordered, days),
        is_last=pl.col("listed_on") == pl.col("listed_on").max().over(of_pair),
    )
    bought = (
        changed.drop_nulls("bought_on")
        .sort("listed_on")
        .unique(list(_PAIR), keep="last", maintain_order=True)
    )
    return [
        _events(
            bought,
            BOUGHT,
            day="bought_on",
            amount=pl.col("price_native").cast(pl.Float64),
            currency="cost_currency",
        ),
        _events(changed.filter("is_first"), LISTED, day="listed_on", details="state"),
        _events(
            changed.filter(~pl.col("is_first") & (pl.col("changes") != "")),
            CHANGED,
            day="listed_on",
            details="changes",
        ),
        _events(changed.filter("is_last").drop_nulls("next_day"), MISSING, day="next_day"),
    ]


def _change(name: str, before: pl.Expr, after: pl.Expr) -> pl.Expr:
    """Return in words how a field changed; null where it did not."""
    return (
        pl.when(before.is_null())
        .then(pl.format(f"{name} {{}}", after))
        .when(after.is_null())
        .then(pl.format(f"{name} no longer stated (was {{}})", before))
        .when(before != after)
        .then(pl.format(f"{name} {{}} → {{}}", before, after))
    )


def _next_day(rows: pl.DataFrame, days: pl.DataFrame) -> pl.Series:
    """Return the day of the list that comes after that of each row, by the same map."""
    following = days.sort("map_name", "listed_on").with_columns(
        next_day=pl.col("listed_on").shift(-1).over("map_name")
    )
    return rows.select("map_name", "listed_on").join(
        following, on=["map_name", "listed_on"], how="left", maintain_order="left"
    )["next_day"]


def _texts(rows: pl.DataFrame, field: str) -> pl.Series:
    """Return a field of listed pairs as it is written, "" for an empty list; null where nothing is known."""
    name = f"{field}_text"
    if field in AMOUNTS:
        return _money(rows[field].cast(pl.Float64), rows[AMOUNTS[field][1]]).alias(name)
    if isinstance(rows.schema[field], pl.List):
        joined = pl.col(field).list.sort().list.join(", ")
        written = pl.when(pl.col(field).list.len() == 0).then(pl.lit("none")).otherwise(joined)
        return rows.select(written.alias(name)).to_series()
    text = rows[field].cast(pl.String)
    if rows.schema[field].is_float():
        text = text.str.replace(r"\.0$", "")
    return text.replace("unknown", None).alias(name)


def _money(amounts: pl.Series, currencies: pl.Series) -> pl.Series:
    """Return amounts with their currency, each distinct one written once."""
    pairs = pl.DataFrame({"amount": amounts, "currency": currencies})
    known = pairs.drop_nulls("amount").unique()
    written = known.with_columns(
        pl.Series(
            "text",
            [
                f"{amount:,.2f}" if currency is None else formats.amount(amount, currency)
                for amount, currency in known.iter_rows()
            ],
            dtype=pl.String,
        )
    )
    return pairs.join(
        written, on=["amount", "currency"], how="left", nulls_equal=True, maintain_order="left"
    )["text"]


def _of_offers(offers: pl.DataFrame, base: str) -> list[pl.DataFrame]:
    """Return when pairs were offered, and how each offer ended."""
    began = offers.drop_nulls("offered_on").filter(
        pl.col("ended_on").is_null() | (pl.col("offered_on") < pl.col("ended_on"))
    )
    ended = offers.filter(pl.col("status").is_in(list(ENDINGS)))
    what = (
        pl.when("is_undone")
        .then(pl.lit(UNDONE))
        .otherwise(pl.col("status").replace_strict(ENDINGS, default=None, return_dtype=pl.String))
    )
    return [
        _events(began, OFFERED, day="offered_on", place="venue", amount=pl.col("ask"), currency="currency"),
        _events(
            ended.with_columns(base=pl.lit(base)),
            what,
            day="ended_on",
            place="venue",
            amount=pl.col("price_paid"),
            currency="base",
        ),
    ]


def _of_reversals(reversals: pl.DataFrame, offers: pl.DataFrame) -> pl.DataFrame:
    """Return when sales were undone: as the export says it, returned, refunded, cancelled or not paid."""
    known = reversals.join(offers.select("number", "venue", "record_id"), on="record_id")
    what = pl.col("kind").replace("unpaid", "not paid")
    return _events(
        known, what, day="reversed_on", place="venue", amount=pl.col("amount"), currency="currency"
    )


def _of_values(values: pl.DataFrame) -> pl.DataFrame:
    """Return what was kept of values, with their bands and the prices that were to be asked or bid."""
    written = values.with_columns(
        low_text=_money(values["low"], values["currency"]),
        high_text=_money(values["high"], values["currency"]),
        price_text=_money(values["price"], values["price_currency"]),
    ).with_columns(
        details=pl.concat_str(
            [
                pl.format("80 % band {} – {}", "low_text", "high_text"),
                pl.format("{} {}", "price_kind", "price_text"),
            ],
            separator="; ",
            ignore_nulls=True,
        )
    )
    return _events(
        written,
        VALUED,
        day="said_on",
        place="venue",
        amount=pl.col("median"),
        currency="currency",
        details="details",
    )


def _events(
    rows: pl.DataFrame,
    what: str | pl.Expr,
    *,
    day: str,
    place: str | None = None,
    amount: pl.Expr | None = None,
    currency: str | None = None,
    details: str | None = None,
) -> pl.DataFrame:
    """Return rows as EVENTS."""
    none = pl.lit(None)
    value = none if amount is None else amount
    written = {
        "number": pl.col("number"),
        "day": pl.col(day),
        "what": pl.lit(what) if isinstance(what, str) else what,
        "place": none if place is None else pl.col(place),
        "amount": value,
        "currency": none if currency is None else pl.when(value.is_not_null()).then(pl.col(currency)),
        "details": none if details is None else pl.col(details),
        "record_id": pl.col("record_id") if "record_id" in rows.columns else none,
    }
    return rows.select(expr.cast(EVENTS[name]).alias(name) for name, expr in written.items())
