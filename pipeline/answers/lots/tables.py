"""What upcoming lots are worth bidding, in words and tables, and as one document."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import polars as pl

from pipeline import formats
from pipeline.answers.appraisal.cautions import state_weakness
from pipeline.answers.lots.answer import BID, CLOSED, LOOK, LotList, Terms
from pipeline.answers.sheet import (
    NONE,
    Column,
    Detail,
    Sheet,
    Table,
    amount,
    change,
    count,
    day,
    estimate,
    source_words,
    table,
    words,
)
from pipeline.limits import LIMITS
from pipeline.market.price_distribution import CHANCES
from pipeline.untrusted import show_words

MOST_SHOWN = 40
"""The most lots that the terminal shows, the best first."""

MONEY: tuple[str, ...] = (
    *("landed_cost", "median", "low_80", "high_80", "resale_net", "walk_away_landed", "expected_gain"),
)
"""The columns in the base currency; the keys of the table's columns end in its code: landed_cost_eur."""


_BIDS = ("present_bid", "walk_away_bid")


def lots_table(listed: LotList) -> Table:
    """Return every lot, the best first. Its columns are all there is to say of a lot; CSV and workbook have them all.

    Money is rounded to the cent; flags are one text.
    """
    currency = listed.currency
    rows = listed.lots.with_columns(
        pl.col(*MONEY).round(2),
        pl.col("chance_of_loss").round(3),
        pl.col("flags").list.join("; "),
    ).rename({name: in_base(name, listed) for name in MONEY})
    return table(
        "lots",
        "The lots, the best first",
        (
            count("rank", "Rank"),
            words("verdict", "Verdict"),
            count("row_number", "Row"),
            words("venue", "Venue"),
            words("sale_ref", "Sale"),
            words("lot_ref", "Lot number"),
            Column("title", "Lot", describe=lot_words),
            day("closes_on", "Closes"),
            words("closes_at", "At"),
            words("silhouette", "Model"),
            words("colourway", "Colourway"),
            words("era", "Era"),
            Column("grade", "Grade", "{:g}".format, number=True),
            words("native_currency", "Currency"),
            _native("present_bid", "Present bid", currency),
            _native("present_all_in", "All-in now", currency),
            amount(in_base("landed_cost", listed), "Cost if won now", currency),
            estimate(in_base("median", listed), "Fair value there", currency),
            estimate(in_base("low_80", listed), "80 % band, from", currency),
            estimate(in_base("high_80", listed), "80 % band, to", currency),
            estimate(in_base("resale_net", listed), "Net of the resale", currency),
            _native("walk_away_bid", "Maximum bid", currency),
            amount(in_base("walk_away_landed", listed), "Cost at the maximum bid", currency),
            change(in_base("expected_gain", listed), "Expected gain", currency),
            Column("chance_of_loss", "Chance of a loss", chance_words, number=True),
            words("flags", "Flags"),
            words("why", "Why"),
        ),
        rows,
    )


def in_base(name: str, listed: LotList) -> str:
    """Return the key of a column of the lots table that is in the base currency."""
    return f"{name}_{listed.currency.lower()}"


def page_numbers(listed: LotList) -> dict[str, str]:
    """Return the columns of numbers on the page, each with the column it sorts by: money in one currency."""
    same = (in_base("landed_cost", listed), in_base("median", listed), in_base("expected_gain", listed))
    return {
        "present_bid": same[0],
        same[0]: same[0],
        "walk_away_bid": in_base("walk_away_landed", listed),
        same[1]: same[1],
        same[2]: same[2],
        "chance_of_loss": "chance_of_loss",
    }


def lots_sheet(listed: LotList) -> Sheet:
    """Return the sheet of a lot list: the answer, then the best lots by verdict; in brief those to bid on."""
    left = listed.lots.height - MOST_SHOWN
    gain = in_base("expected_gain", listed)
    lots = lots_table(listed)
    full = lots.showing(
        *("rank", "title", "present_bid", "walk_away_bid", in_base("median", listed), gain, "chance_of_loss")
    ).as_detail()
    brief = replace(
        lots,
        columns=(_NAME, Column("lot_ref", "No."), _CLOSES, *lots.showing(*_BIDS, gain).columns),
        brief=True,
    )
    why = {BID: Column("venue", "Venue", cut=True), LOOK: words("flags", "Look at")}
    verdicts = dict(listed.lots["verdict"].value_counts().iter_rows())
    tables = []
    for rows in lots.rows.head(MOST_SHOWN).partition_by("verdict", maintain_order=True):
        verdict = rows["verdict"][0]
        title = f"{verdict} ({formats.counted(verdicts[verdict], 'lot')})"
        total = total_cost(rows, listed) if verdict == BID else ""
        tables.append(replace(full, key=verdict, title=title, rows=rows, note=total))
        if verdict in why:
            columns = (*brief.columns, why[verdict])
            key = f"{verdict} in brief"
            tables.append(replace(brief, key=key, title=title, columns=columns, rows=rows, note=total))
    return Sheet(
        title=f"Upcoming lots, valued on {formats.day(listed.as_of)}",
        sentences=(state_lots(listed), Detail(state_terms(listed.terms, listed.currency))),
        tables=tuple(tables),
        warnings=(
            *((f"{formats.counted(left, 'lot')} more: `--csv` and `--excel` have them all.",) * (left > 0)),
            *listed.refused,
            *listed.cautions,
        ),
        source=source_words(listed.source),
        weak=state_weakness(listed.weak),
    )


def total_cost(rows: pl.DataFrame, listed: LotList) -> str:
    """Return what lots cost together, all fees in: won at the present bids, and at the maximum bids."""
    now, most = (
        formats.amount(float(rows[in_base(name, listed)].sum()), listed.currency)
        for name in ("landed_cost", "walk_away_landed")
    )
    return (
        f"Total: {formats.counted(rows.height, 'lot')}; if you win all of them they cost {now} at the present bids, "
        f"{most} at the maximum bids, all charges in."
    )


def state_lots(listed: LotList) -> str:
    """Return the answer in a sentence or two."""
    counts = dict(listed.lots["verdict"].value_counts().iter_rows())
    total = formats.counted(listed.lots.height, "lot")
    if listed.lots.height and counts.get(CLOSED, 0) == listed.lots.height:
        last = max(listed.lots["closes_on"])
        return (
            f"{total}, all closed before {formats.day(listed.as_of)}. Value them as of another day with `--on`: on "
            f"`--on {last}` the last of them was open."
        )
    open_to = counts.get(BID, 0)
    opening = f"{total}: {open_to} {'is' if open_to == 1 else 'are'} worth a bid today"
    if counts.get(LOOK, 0):
        opening += f", {counts[LOOK]} more after a closer look"
    if counts.get(CLOSED, 0):
        opening += f"; {counts[CLOSED]} closed before that day"
    first = listed.lots.filter(pl.col("verdict") == BID).head(1)
    if not first.height:
        return f"{opening}."
    lot = first.row(0, named=True)
    bid = formats.amount(lot["walk_away_bid"], lot["native_currency"])
    return f"{opening}. First: {show_words(lot_name(lot), 90)}, up to {bid}."


def state_terms(terms: Terms, currency: str) -> str:
    """Return what the owner asks of a lot, and how the maximum bid follows from it."""
    where = f"sold again at {terms.sells_at}" if terms.sells_at else "sold again where it was bought"
    return (
        f"The maximum bid is the highest at which {formats.level(terms.confidence)} of outcomes leave you a margin of "
        f"{formats.level(terms.margin)} of what the resale brings in, {where}, after fees, freight, duty, tax and "
        f"{formats.amount(terms.costs, currency)} of costs in the shop. It is rounded down to a valid bid step."
    )


def lot_name(lot: Mapping[str, Any]) -> str:
    """Return what a lot is: its model, colourway and era, else its title."""
    parts = (lot["silhouette"], lot["colourway"], lot["era"])
    return " ".join(part for part in parts if part) or lot["title"] or "(no title)"


_NAME = Column("title", "Lot", describe=lot_name, cut=True)
_CLOSES = Column("closes_on", "Closes", lambda on: formats.day(on).removesuffix(f" {on.year}"))


def lot_words(lot: Mapping[str, Any]) -> str:
    """Return what a lot is; under it where and when it is sold, and what to know about it."""
    number = " ".join(part for part in (lot["venue"], lot["lot_ref"]) if part)
    closes = formats.day(lot["closes_on"]) if lot["closes_on"] else ""
    place = ", ".join(part for part in (number, closes) if part)
    return "\n".join(part for part in (lot_name(lot), place, lot["flags"], lot["why"]) if part)


def chance_words(chance: float) -> str:
    """Return a chance of loss; at the ends of what is tabulated, only that it is beyond them."""
    least, most = CHANCES[0], CHANCES[-1]
    if chance <= least + 1e-9:
        return "under 3\u00a0%"
    return "over 97\u00a0%" if chance >= most - 1e-9 else formats.level(chance)


def lots_document(listed: LotList) -> dict[str, object]:
    """Return a lot list as one document: the terms, the lots, what was refused, the cautions, the limits."""
    return {
        "as_of": listed.as_of,
        "currency": listed.currency,
        "terms": listed.terms,
        "lots": listed.lots.to_dicts(),
        "refused": listed.refused,
        "cautions": listed.cautions,
        "weak": listed.weak,
        "limits": LIMITS,
        "source": listed.source,
    }


def _native(key: str, heading: str, currency: str) -> Column:
    """Return a column of amounts in the currency of each lot, `currency` where it names none; 0 is "none"."""

    def write(lot: Mapping[str, Any]) -> str:
        value = lot[key]
        if value is None:
            return NONE
        return formats.amount(value, lot["native_currency"] or currency) if value else "none"

    return Column(key, heading, number=True, describe=write)
