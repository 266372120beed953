"""Which amount of an export is the price, what it counts, and its tax: headings and arithmetic weighed together."""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Literal

import polars as pl

from pipeline.ingest.amount_words import (
    AMOUNT_WORDS,
    EXCLUDING_WORDS,
    INCLUDING_WORDS,
    MARGIN_WORDS,
    SELLER_WORDS,
    UNIT_WORDS,
)
from pipeline.ingest.cells import distinct_texts
from pipeline.ingest.dates import read_in_each_order
from pipeline.ingest.header_words import FIELD_WORDS
from pipeline.ingest.heading_meaning import NOT_READ, PART, Meaning, meanings, says_any, written
from pipeline.ingest.identities import (
    LEAST_ROWS,
    MOST_RATES,
    Share,
    Sum,
    are_bounds,
    find_markups,
    find_minor_twins,
    find_products,
    find_shares,
    find_sums,
)
from pipeline.ingest.numbers import decide_decimal_mark, low_end, read_amounts
from pipeline.ingest.unnamed_amounts import read_together, rounder

Mark = Literal[".", ","]
MARKS: tuple[Mark, ...] = (".", ",")

LEAST_SHARE = 0.8
"""A column of amounts has so many distinct cells that are amounts."""

BY_VALUES = 0.38
BY_ARITHMETIC = 0.2

_MOST_RATE = 0.3
_MOST_PAIRS = 50
"""A line of an export is of no more pairs."""

_ASKED = 0.5
"""An asking price is at or above the price in at least so many sales."""

_LARGEST_SIZE = 60
"""A column of amounts with decimals is money where one is larger than any size of shoe."""

_UNNAMED_ASKED = (0.9, 1.6)
"""Of an asking price that no heading names: at or above the price in so many sales, usually by no more than this."""

_ZEROS_BEFORE = r"(?:^|[^\d.,])0\d"
"""A number of a document (22/0001), and no amount."""

_ESTIMATED = (0.3, 3.0)
"""The median of price and estimate lies between these."""

_SPECIFIC = (
    *("all-in", "high estimate", "low estimate", "start price", "hammer", "ask", "payout", "cost", "rate"),
    *(
        "quantity",
        "postage",
        "premium",
        "discount",
        "commission",
        "tax",
        "other amount",
        "gross",
        "net of tax",
    ),
    *("price", "total"),
)
"""What an amount is, the more telling word first: "hammer price" is a hammer and "total incl VAT" a gross."""

_PRICES = {
    "hammer": 7.0, "gross": 6.0, "all-in": 5.0, "price": 4.0, "net of tax": 3.0, "total": 2.0, "payout": 1.0,
}  # fmt: skip
"""The roles that can be the price of a sale; of a hammer price both the all-in and the net can be worked out."""

_MINOR_TWIN = "in minor units"
"""What a column is that says the same as another one in cents."""

_SHARES = ("premium", "commission", "tax", "other amount")
"""What an amount may be that is a share of a price."""

_CENTS = r"[.,]\d\d\D*$"
"""Two decimals at the end of an amount, as none in minor units has."""

_MOST_ASKED = 20
"""What was asked is not usually so many times the price: such amounts are in another unit."""

_OF_AN_AUCTION = ("hammer", "premium", "low estimate", "high estimate", "start price")


@dataclass(frozen=True)
class AmountColumn:
    """An amount column: what it is taken to be (None: not known), how surely, and why."""

    name: str
    role: str | None
    confidence: float
    why: str
    also: frozenset[str] = frozenset()

    @property
    def unexplained(self) -> bool:
        """Whether neither its amounts nor a word of its heading say what it is."""
        return self.role is None and not meanings(self.name)


@dataclass(frozen=True)
class Account:
    """The amounts of an export.

    `columns` holds every column of amounts, by name. `price` and `ask` name the columns of price_native and
    ask_native. `basis` and `tax` are what the price counts, None where nothing says it; `tax_column` holds the
    amount of tax that the price is without, or `tax_rate` its one rate. `quantity` is the column of how many pairs
    a line is of, `quantity_price` whose price it is ("line", "unit"; None where nothing says it).
    """

    columns: dict[str, AmountColumn]
    price: str | None = None
    price_why: str = ""
    ask: str | None = None
    ask_why: str = ""
    basis: str | None = None
    basis_why: str = ""
    tax: str | None = None
    tax_why: str = ""
    tax_column: str | None = None
    tax_rate: str | None = None
    quantity: str | None = None
    quantity_price: str | None = None
    quantity_why: str = ""


def read_account(cells: pl.DataFrame, *, numbers_are_plain: bool) -> Account:
    """Return what the amount columns of an export are; neither the order of rows nor of columns matters."""
    amounts = amount_columns(cells, numbers_are_plain=numbers_are_plain)
    named = {
        name: _by_heading(name, is_rate=amounts[name].drop_nulls().n_unique() <= MOST_RATES)
        for name in sorted(amounts.columns)
    }
    for name, one in named.items():
        may_be_range = one.role in ("price", "ask") or (
            one.role is None and not FIELD_WORDS.keys() & meanings(name)
        )
        if may_be_range and _are_ranges(cells[name]):
            named[name] = replace(
                one, role="low estimate", confidence=PART, why="its cells are ranges of amounts"
            )
    _name_minor_twins(named, amounts, cells)
    _name_quantity(named, amounts)
    twins = {name for name, one in named.items() if one.role == _MINOR_TWIN}
    tried = amounts.select(
        name for name in amounts.columns if named[name].role not in ("rate", "quantity") and name not in twins
    )
    sums, shares = find_sums(tried), find_shares(tried)
    _name_unnamed(named, tried, sums, shares)
    columns = _by_arithmetic(named, sums, shares, amounts)
    _name_taxed(columns, find_markups(tried), cells)
    _name_line_totals(columns, amounts)
    account = _with_price(columns, sums, cells, amounts)
    account = _with_premium(account, shares)
    account = _with_quantity(account, sums, amounts)
    account = _with_tax(account, sums, shares, cells)
    return _with_ask(account, amounts, _with_more(sums, account.columns))


def amount_columns(cells: pl.DataFrame, *, numbers_are_plain: bool) -> pl.DataFrame:
    """Return the columns of amounts as Float64, one row a row; what is no amount is null."""
    found = {}
    for name in sorted(cells.columns):
        cell = cells.select(low_end(pl.col(name))).to_series() if _are_ranges(cells[name]) else cells[name]
        texts = distinct_texts(cell, "text")["text"]
        if texts.is_empty() or not texts.str.contains(r"\d").any():
            continue
        mark = _mark_of(texts, numbers_are_plain=numbers_are_plain)
        read = read_amounts(texts, decimal_mark=mark)
        known = read.filter(pl.col("amount").is_not_null())
        empty = read.filter(pl.col("amount").is_null() & pl.col("reason").is_null()).height
        if (
            known.height < max(1, LEAST_SHARE * (read.height - empty))
            or _are_days(texts)
            or _are_years(texts)
        ):
            continue
        by_text = dict(known.select("text", pl.col("amount").cast(pl.Float64)).iter_rows())
        found[name] = cell.replace_strict(by_text, default=None, return_dtype=pl.Float64).alias(name)
    return pl.DataFrame(list(found.values()))


def _name_minor_twins(named: dict[str, AmountColumn], amounts: pl.DataFrame, cells: pl.DataFrame) -> None:
    """Name the columns that are another one in minor units, and let that one be what either heading says.

    Amounts with cents in the cells are not in minor units, and a fee of one per cent is a hundredth of a price, too.
    """
    for minor, major in find_minor_twins(amounts):
        one, other = named[minor], named[major]
        is_share = "%" in major or (other.role in _SHARES and other.role != one.role)
        if is_share or cells[minor].str.contains(_CENTS).any():
            continue
        if other.role is None and one.role is not None:
            named[major] = replace(
                other, role=one.role, confidence=one.confidence, why=one.why, also=one.also
            )
        named[minor] = replace(one, role=_MINOR_TWIN, why=f"it is {major!r} in minor units")


def _are_ranges(texts: pl.Series) -> bool:
    """Whether most cells hold two amounts, as estimates do (120 - 180); a number with zeros before it is none."""
    known = distinct_texts(texts, "text")
    ranges = known.select(
        (low_end(pl.col("text")) != pl.col("text").str.strip_chars())
        & ~pl.col("text").str.contains(_ZEROS_BEFORE)
    ).to_series()
    return known.height > 0 and int(ranges.sum()) > known.height / 2 and not _are_marked_days(known["text"])


def _are_marked_days(texts: pl.Series) -> bool:
    """Whether cells are days written with marks (04/03/2024)."""
    return any(2 * days.count() > texts.len() for days in read_in_each_order(texts).values())


def _mark_of(texts: pl.Series, *, numbers_are_plain: bool) -> Mark:
    decided = decide_decimal_mark(texts).value
    if decided is not None:
        return "," if decided == "," else "."
    if numbers_are_plain:
        return "."
    read = {mark: int(read_amounts(texts, decimal_mark=mark)["amount"].count()) for mark in MARKS}
    return max(MARKS, key=lambda mark: read[mark])


def _are_days(texts: pl.Series) -> bool:
    """Whether cells of digits alone are days written without marks (20240305)."""
    if not bool(texts.str.contains(r"^(19|20)\d{6}$").all()):
        return False
    return any(days.null_count() == 0 for days in read_in_each_order(texts).values())


def _are_years(texts: pl.Series) -> bool:
    """Whether cells are years, as no column of prices is by chance."""
    return texts.len() >= LEAST_ROWS and bool(texts.str.contains(r"^(?:19[5-9]\d|20[0-4]\d)$").all())


def _by_heading(name: str, *, is_rate: bool) -> AmountColumn:
    """Return what the heading alone says; one with a percentage is a rate where it has few values (`is_rate`)."""
    said = meanings(name)
    roles = {role for role in said if role in AMOUNT_WORDS}
    percent = "%" in written(name).split() or written(name).endswith("%")
    if percent and is_rate and roles & {"tax", "premium", "commission", "rate"}:
        return AmountColumn(name, "rate", said[min(roles, key=_SPECIFIC.index)].score, "its heading")
    if "all-in" in roles and "postage" not in roles:
        roles -= {"hammer", "premium"}
    if roles & {"price", "total"}:
        roles -= {"quantity"}
    including, excluding = says_any(name, INCLUDING_WORDS), says_any(name, EXCLUDING_WORDS)
    if roles & {"price", "total", "hammer"} and (including or excluding) and "postage" not in roles:
        if "tax" in roles and not roles & {"premium", "commission"}:
            roles = {"net of tax" if excluding else "gross"}
            said |= {role: said["tax"]._replace(role=role) for role in roles}
        elif "premium" in roles and not roles & {"gross", "net of tax", "tax"}:
            roles = {"hammer" if excluding else "all-in"}
            said |= {role: said["premium"]._replace(role=role) for role in roles}
    if "tax" in roles and roles & {"premium", "commission", "postage"}:
        roles = {"other amount"}
        said |= {"other amount": Meaning("other amount", PART, "tax on a fee")}
    if "postage" in roles and including and not roles & {"commission", "premium"}:
        roles = {"total"}
        said |= {"total": Meaning("total", PART, "with postage")}
    if "net of tax" in roles and says_any(name, SELLER_WORDS):
        roles = {"payout"}
        said |= {"payout": said["net of tax"]._replace(role="payout")}
    if not roles:
        return AmountColumn(name, None, 0.0, "")
    role = min(roles, key=_SPECIFIC.index)
    rival = max((one.score for other, one in said.items() if other in FIELD_WORDS), default=0.0)
    score = said[role].score * (0.5 if NOT_READ in said or rival > said[role].score else 1.0)
    return AmountColumn(
        name,
        role,
        score,
        f"{said[role].word!r} in its heading is a word for {_named(role)}",
        frozenset(roles),
    )


def _named(role: str) -> str:
    return {
        "all-in": "the price with premium",
        "gross": "a price with tax",
        "net of tax": "a price without tax",
        "hammer": "the hammer price",
        "payout": "what the seller receives",
        "premium": "the buyer's premium",
        "ask": "an asking price",
    }.get(role, role)


def _by_arithmetic(
    named: Mapping[str, AmountColumn], sums: list[Sum], shares: list[Share], amounts: pl.DataFrame
) -> dict[str, AmountColumn]:
    """Return the columns with what sums say of those whose headings say little."""
    columns = dict(named)
    _name_estimates(columns, amounts)
    for one in sums:
        for name, role in _roles_in_sum(one, columns, shares, amounts).items():
            weak = columns[name].role in (None, "price", "total", "gross", "net of tax", "commission")
            if columns[name].role == role:
                surer = min(0.98, columns[name].confidence + BY_ARITHMETIC)
                columns[name] = replace(
                    columns[name], confidence=surer, why=_joined(columns[name].why, str(one))
                )
            elif weak:
                columns[name] = replace(
                    columns[name], role=role, confidence=max(0.5, columns[name].confidence), why=str(one)
                )
    for share in shares:
        if columns[share.part].role is None and columns[share.base].role == "hammer":
            columns[share.part] = replace(
                columns[share.part],
                role="premium",
                confidence=0.4,
                why=f"a steady share of {share.base!r}",
            )
        elif columns[share.base].role is None and columns[share.part].role == "tax" and _is_tax_within(share):
            why = f"{share.part!r} is the tax within it"
            columns[share.base] = replace(columns[share.base], role="gross", confidence=0.5, why=why)
    bounds = [
        (low, high)
        for low, one in columns.items()
        for high, other in columns.items()
        if one.role == "low estimate" and other.role in (None, "high estimate", "low estimate") and low != high
        and are_bounds(amounts[low], amounts[high])
    ]  # fmt: skip
    for low, high in bounds:
        columns[high] = replace(columns[high], role="high estimate", why=f"it is never below {low!r}")
    return columns


def _name_quantity(named: dict[str, AmountColumn], amounts: pl.DataFrame) -> None:
    """Name a column of small whole numbers by which the amounts of one column are those of another."""
    if any(one.role == "quantity" for one in named.values()):
        return
    for name, one in sorted(named.items()):
        counts = amounts[name].drop_nulls()
        small = counts.len() > 0 and bool((counts.is_between(0, _MOST_PAIRS) & (counts % 1 == 0)).all())
        if one.unexplained and small and bool((counts > 1).any()):
            for unit, line in find_products(amounts.drop(name), amounts[name]):
                why = f"{line!r} is {unit!r} times it"
                named[name] = replace(one, role="quantity", confidence=PART, why=why)
                return


def _name_unnamed(
    named: dict[str, AmountColumn], amounts: pl.DataFrame, sums: list[Sum], shares: list[Share]
) -> None:
    """Name the columns whose headings say nothing by how their amounts stand to those of the others."""
    roles = {
        name: named[name].role
        for name in amounts.columns
        if named[name].role is not None or named[name].unexplained
    }
    for name, one in read_together(amounts, roles, sums, shares, is_tax_rate=_is_tax_rate).items():
        if named[name].role is not None:
            named[name] = replace(named[name], role=one.role, why=_joined(named[name].why, one.why))
            continue
        surer = min(BY_VALUES + one.margin / 50, PART)
        named[name] = AmountColumn(name, _AS_NAMED.get(one.role, one.role), surer, one.why)


_AS_NAMED = {"profit": "cost"}


def _name_estimates(columns: dict[str, AmountColumn], amounts: pl.DataFrame) -> None:
    """Name what a heading says in two ways ("Taxe" an estimate or a tax, "Preis Auktionsgebühr") by its amounts."""
    prices = [name for name, one in columns.items() if one.role in ("hammer", "price", "gross")]
    largest = max((float(amounts[name].abs().sum()) for name in prices), default=0.0)
    for name, one in columns.items():
        if {"tax", "low estimate"} <= one.also:
            role = "low estimate" if amounts[name].abs().sum() > _MOST_RATE * largest else "tax"
            columns[name] = replace(one, role=role, why=f"its amounts are those of {_named(role)}")
        elif one.role in ("tax", "premium", "commission") and one.also & {"price", "total"}:
            rest = max((float(amounts[other].abs().sum()) for other in columns if other != name), default=0.0)
            if amounts[name].abs().sum() > max(2 * _MOST_RATE * largest, _MOST_RATE * rest):
                columns[name] = replace(one, role="price", why="its amounts are those of a price")


def _name_taxed(columns: dict[str, AmountColumn], markups: list[Share], cells: pl.DataFrame) -> None:
    """Say which of two prices is with tax, where they differ by a rate of tax and the export has a column of it."""
    taxed = [name for name in sorted(cells.columns) if {"tax", "rate"} & set(meanings(name))]
    weak = (None, "price", "total", "gross", "net of tax")
    auction = any(one.role in _OF_AN_AUCTION for one in columns.values())
    for one in markups:
        by_words = says_any(one.base, INCLUDING_WORDS) and says_any(one.part, EXCLUDING_WORDS) and not auction
        if not taxed and not by_words:
            continue
        pair = columns[one.part], columns[one.base]
        usual = all(map(_is_tax_rate, one.rates))
        if not usual or any(each.role not in weak for each in pair):
            continue
        why = f"{one.base!r} is {one.part!r} and {' or '.join(f'{rate:.1%}' for rate in one.rates)} of tax on it"
        for each, role in zip(pair, ("net of tax", "gross"), strict=True):
            surer = max(0.5, min(0.98, each.confidence + BY_ARITHMETIC))
            columns[each.name] = replace(each, role=role, confidence=surer, why=_joined(each.why, why))


def _name_line_totals(columns: dict[str, AmountColumn], amounts: pl.DataFrame) -> None:
    """Take the price of one piece for the price where another column is that times the quantity."""
    counts = sorted(name for name, one in columns.items() if one.role == "quantity")
    if len(counts) != 1:
        return
    several = int((amounts[counts[0]] > 1).sum()) > 0
    tried = amounts.select(name for name in sorted(columns) if columns[name].role in (None, *_PRICES))
    for unit, line in find_products(tried, amounts[counts[0]]):
        if not (several or says_any(unit, UNIT_WORDS)) or says_any(line, UNIT_WORDS):
            continue
        one, whole = columns[unit], columns[line]
        role = max(one.role, whole.role, key=lambda role: _PRICES.get(role or "", 0.0))
        why = f"{line!r} is {unit!r} times {counts[0]!r}"
        columns[unit] = replace(
            one,
            role=role,
            confidence=max(0.5, one.confidence),
            why=_joined(one.why, why),
            also=one.also | whole.also,
        )
        columns[line] = replace(whole, role="total", why=why)


def _with_premium(account: Account, shares: Iterable[Share]) -> Account:
    """Return the account with the share of the hammer price that the premium is, where it is one."""
    if account.basis != "hammer":
        return account
    for share in shares:
        if (
            share.base == account.price
            and account.columns[share.part].role == "premium"
            and len(share.rates) == 1
        ):
            why = f"the premium in {share.part!r} is {100 * share.rates[0]:g} % of it"
            return replace(account, basis_why=f"{account.basis_why}; {why}")
    return account


def _with_quantity(account: Account, sums: Iterable[Sum], amounts: pl.DataFrame) -> Account:
    """Return the account with its column of quantities, where a line is of several pairs, and whose price it is."""
    counts = sorted(name for name, one in account.columns.items() if one.role == "quantity")
    if account.price is None or len(counts) != 1 or not bool((amounts[counts[0]].abs() > 1).any()):
        return account
    price, count = account.price, counts[0]
    prices = amounts.select(name for name in sorted(account.columns) if name != count)
    for unit, line in find_products(prices, amounts[count]):
        of_lines = price == line or any(one.whole == price and line in one.parts for one in sums)
        if of_lines or price == unit:
            whose = "line" if of_lines else "unit"
            why = f"{line!r} is {unit!r} times {count!r}"
            return replace(account, quantity=count, quantity_price=whose, quantity_why=why)
    if says_any(price, UNIT_WORDS):
        why = f"{price!r} is the price of one"
        return replace(account, quantity=count, quantity_price="unit", quantity_why=why)
    return replace(account, quantity=count)


def _roles_in_sum(
    one: Sum, columns: Mapping[str, AmountColumn], shares: list[Share], amounts: pl.DataFrame
) -> dict[str, str]:
    """Return what each column of a sum is, as far as one of them is known; nothing where none is.

    Several sales taxes are on top of the price where that is rounder than the sum, else they are within it. What a
    discount is taken off was asked, unless every sale has it at one rate: nobody is asked such a price.
    """
    first, *rest = one.parts
    known = {name: columns[name].role for name in (*one.parts, one.whole)}
    small = {known[name] for name in rest}
    roles: dict[str, str] = {}
    if small == {None} and len(rest) == 1:
        small = {_small_by_whole(known[first], known[one.whole], rest[0], first, shares)}
        if small == {None}:
            return {}
        roles[rest[0]] = str(*small)
    if known[first] == "hammer" or "premium" in small:
        if "postage" in small or "other amount" in small:
            return roles | {first: "hammer"}
        return roles | {first: "hammer", one.whole: "all-in"}
    if "commission" in small and known[first] == "price" and known[one.whole] in ("total", "all-in"):
        fees = {name: "premium" for name in rest if known[name] == "commission"}
        return roles | fees | {one.whole: "total" if "postage" in small else "all-in"}
    if small == {"discount"}:
        standing = any(
            share.part in rest and share.base in (first, one.whole) and len(share.rates) == 1
            for share in shares
        )
        return roles | {first: "price", one.whole: "other amount" if standing else "ask"}
    if "postage" in small:
        if "commission" in small or known[first] == "payout":
            return roles | {first: "payout", one.whole: "price"}
        return roles | {one.whole: "total"}
    if small == {"tax"}:
        set_before_taxes = len(rest) > 1 and rounder(amounts[first], amounts[one.whole])
        return roles if set_before_taxes else roles | {first: "net of tax", one.whole: "gross"}
    if "commission" in small or known[first] == "payout":
        keeps = (
            "hammer" if known[one.whole] == "hammer" else "gross" if known[one.whole] == "gross" else "price"
        )
        return roles | {first: "payout", one.whole: keeps}
    return roles


def _small_by_whole(
    first: str | None, whole: str | None, small: str, large: str, shares: list[Share]
) -> str | None:
    """Return what the smaller part of a sum is that no heading names."""
    if first == "hammer" or whole == "all-in":
        return "premium"
    if first == "payout":
        return "commission"
    if first == "net of tax" or whole == "gross":
        return "tax"
    rates = [share.rates for share in shares if share.part == small and share.base == large]
    of_tax = rates and 0 < len(rates[0]) <= 2 and all(map(_is_tax_rate, rates[0]))
    return "tax" if of_tax and {first, whole} <= {None, "price", "total"} else None


def _joined(*reasons: str) -> str:
    return "; ".join(dict.fromkeys(part for reason in reasons for part in reason.split("; ") if part))


def _with_price(
    columns: dict[str, AmountColumn], sums: list[Sum], cells: pl.DataFrame, amounts: pl.DataFrame
) -> Account:
    account = Account(columns)
    with_postage = {
        one.whole
        for one in sums
        if any(columns[part].role in ("postage", "other amount") for part in one.parts)
    }
    for one in _above_settlement(columns, amounts, _with_more(sums, columns)):
        why = "it is above what the seller receives and the commission come to"
        columns[one] = replace(columns[one], role="ask", why=_joined(columns[one].why, why))
    _name_asked_before_sale(columns, amounts)
    likely = [
        (_weight(one, with_postage, amounts), one)
        for one in columns.values()
        if one.role in _PRICES and one.confidence > 0.15
    ]
    if not likely:
        return _with_only_amount(account, cells, amounts)
    _, best = max(likely, key=lambda pair: (pair[0], pair[1].name))
    basis, why = _basis(best, columns, with_postage)
    share = BY_VALUES if best.confidence < 0.9 else 0.0
    columns[best.name] = replace(best, confidence=round(min(0.98, best.confidence + share), 2))
    return replace(account, price=best.name, price_why=best.why, basis=basis, basis_why=why)


def _name_asked_before_sale(columns: dict[str, AmountColumn], amounts: pl.DataFrame) -> None:
    """Take a price for an ask that is at or above another price, and stands where there is none of that."""
    prices = sorted(name for name, one in columns.items() if one.role == "price")
    for name in prices:
        for other in prices:
            if columns[other].role == "price" and name != other and _covers(amounts[name], amounts[other]):
                why = f"at or above {other!r}, and there in rows that have none"
                columns[name] = replace(columns[name], role="ask", why=why)


def _covers(asked: pl.Series, price: pl.Series) -> bool:
    rows = pl.DataFrame({"ask": asked.abs(), "price": price.abs()}).filter(pl.col("ask") > 0)
    sold = rows.filter(pl.col("price") > 0)
    above = (sold["ask"] > sold["price"] * 0.995).mean() if sold.height >= LEAST_ROWS else 0.0
    return sold.height < rows.height and float(above or 0.0) >= _UNNAMED_ASKED[0]  # type: ignore[arg-type]


def _with_more(sums: Iterable[Sum], columns: Mapping[str, AmountColumn]) -> set[str]:
    """Return the columns that are a price with what the buyer paid besides, or a payout with all that came off it."""
    besides = ("postage", "premium", "tax", "other amount")
    known = [(one, {columns[part].role for part in one.parts}) for one in sums]
    settled = [one for one, roles in known if {"payout", "commission"} <= roles]
    least = {one.whole for one in settled if not any({*two.parts} < {*one.parts} for two in settled)}
    return least | {one.whole for one, roles in known if roles.intersection(besides)}


def _above_settlement(
    columns: Mapping[str, AmountColumn], amounts: pl.DataFrame, wholes: Collection[str]
) -> list[str]:
    """Return the prices that payout and what may have come off it never come to, and mostly lie below: what was asked.

    What may have come off is every commission, and what no heading explains or may be a cost of the sale, so that fees
    under an unknown name make no ask of a price. A price with postage or tax (`wholes`) is none of them: it is above
    the price by what it adds.
    """
    by_role = {one.role: one.name for one in columns.values()}
    if "payout" not in by_role or "commission" not in by_role:
        return []
    fees = [
        one.name
        for one in columns.values()
        if one.role in ("commission", "postage", "other amount") or one.unexplained
    ]
    settled = amounts[by_role["payout"]].abs() + sum(
        amounts[fee].abs().fill_null(0.0) for fee in sorted(fees)
    )
    asked = []
    for name in sorted(one.name for one in columns.values() if one.role in ("price", "total")):
        if name in wholes:
            continue
        both = pl.DataFrame({"price": amounts[name].abs(), "settled": settled}).drop_nulls()
        above = both.filter(pl.col("price") > pl.col("settled") * 1.001).height
        equal = both.filter((pl.col("price") - pl.col("settled")).abs() <= 0.011).height
        if both.height >= 4 and above > 0.7 * both.height and equal < both.height / 4:
            asked.append(name)
    return asked


def _weight(one: AmountColumn, with_postage: Iterable[str], amounts: pl.DataFrame) -> float:
    filled = float((amounts[one.name].abs() > 0).mean() or 0.0)  # type: ignore[arg-type]
    role = _PRICES[one.role or ""] - (4.5 if one.name in set(with_postage) else 0.0)
    return role + one.confidence + (0.0 if filled > 0.25 else -5.0) * (1 - filled)


def _with_only_amount(account: Account, cells: pl.DataFrame, amounts: pl.DataFrame) -> Account:
    """Take the one column of money for the price, where no heading says any amount."""
    money = [
        name
        for name, one in account.columns.items()
        if one.unexplained
        and cells[name].drop_nulls().str.contains(r"\p{Sc}|\d[.,]\d{2}\b|\d{2}[.,]\d\b").mean() == 1
        and float(amounts[name].abs().max() or 0) > _LARGEST_SIZE  # type: ignore[arg-type]
    ]
    if len(money) != 1:
        return account
    why = "the one column of money"
    account.columns[money[0]] = replace(account.columns[money[0]], role="price", confidence=0.38, why=why)
    return replace(account, price=money[0], price_why=why)


def _basis(
    price: AmountColumn, columns: Mapping[str, AmountColumn], with_postage: Iterable[str]
) -> tuple[str | None, str]:
    if price.role == "hammer":
        return "hammer", f"{price.name!r} is the hammer price"
    if price.role == "all-in":
        return "all-in", f"{price.name!r} is the price with the buyer's premium"
    if price.role == "payout":
        return "net", f"{price.name!r} is what the seller receives"
    roles = {one.role: one.name for one in columns.values() if one.role is not None}
    if "premium" in roles:
        return "hammer", f"the premium stands apart, in {roles['premium']!r}"
    if any(role in roles for role in _OF_AN_AUCTION):
        return None, ""
    for role in ("commission", "payout", "tax", "net of tax", "gross", "postage", "quantity", "discount"):
        if role in roles:
            return (
                "all-in",
                f"a sale at a fixed price: {roles[role]!r} is there, and no hammer price or premium",
            )
    return None, ""


def _with_tax(account: Account, sums: list[Sum], shares: list[Share], cells: pl.DataFrame) -> Account:
    """Return the account with what it says of sales tax on the price."""
    if account.price is None:
        return account
    price = account.columns[account.price]
    margin = [
        name
        for name in sorted(cells.columns)
        if (says_any(name, MARGIN_WORDS[:3]) and name not in account.columns) or _all_say_margin(cells[name])
    ]
    if margin:
        return replace(account, tax="margin", tax_why=f"{margin[0]!r} says so")
    for one in sums:
        for share in shares:
            if one.whole != price.name or share.base not in one.parts or not _is_tax_within(share):
                continue
            if "cost" in {account.columns[part].role for part in one.parts}:
                earned = f"{share.part!r} is the tax within {share.base!r}"
                return replace(account, tax="margin", tax_why=f"{earned}; {one}")
    taxes = [one.name for one in account.columns.values() if one.role == "tax"]
    for one in sums:
        taxed = [part for part in one.parts if part in taxes]
        if taxed and one.whole == price.name:
            if _is_on_a_fee(taxed[0], one, account.columns, shares):
                continue
            return replace(account, tax="included", tax_why=str(one))
        if taxed and one.parts[0] == price.name and price.role != "hammer":
            if len(taxed) > 1:
                rate = _rate_in_all(taxed, price.name, shares)
                return replace(account, tax="excluded", tax_why=str(one), tax_rate=rate)
            return replace(account, tax="excluded", tax_why=str(one), tax_column=taxed[0])
    if "gross" in price.also or price.role == "gross":
        if not taxes and _is_before_fees(price, account.columns, sums):
            return account
        return replace(account, tax="included", tax_why=price.why)
    if price.role == "net of tax" or "net of tax" in price.also:
        on_price = [share.part for share in shares if share.base == price.name and share.part in taxes]
        if on_price:
            return replace(account, tax="excluded", tax_why=price.why, tax_column=on_price[0])
        rate = _one_rate(account, cells)
        return replace(account, tax="excluded", tax_why=price.why, tax_rate=rate)
    inside = [
        share.part
        for share in shares
        if share.base == price.name and share.part in taxes and price.role in ("price", "total")
    ]
    if inside:
        [share] = [one for one in shares if one.base == price.name and one.part == inside[0]]
        if _is_tax_within(share):
            why = f"{inside[0]!r} is the tax within {price.name!r}"
            return replace(account, tax="included", tax_why=why)
    return account


def _rate_in_all(taxes: list[str], price: str, shares: Iterable[Share]) -> str | None:
    """Return what several taxes on one price come to as a share of it; None where one of them has not one rate."""
    rates = {share.part: share.rates for share in shares if share.base == price and share.part in taxes}
    if any(len(rates.get(name, ())) != 1 for name in taxes):
        return None
    return f"{sum(rates[name][0] for name in taxes):.6f}".rstrip("0")


_WITH_TAX = ("ttc", "t t c", "ivato", "税込", "内税", "含稅", "含税")
"""Words for a price with tax that hold no word for tax."""

_TAX_RATES = tuple(
    rate / 1000
    for rate in (
        50,
        55,
        60,
        70,
        77,
        80,
        81,
        90,
        100,
        120,
        130,
        135,
        140,
        190,
        200,
        210,
        220,
        230,
        240,
        250,
        255,
    )
)
"""Usual rates of value-added and sales tax, to tell a tax within a price from one on top of it."""


def _is_tax_rate(rate: float) -> bool:
    return any(abs(rate - tax) < 0.0011 for tax in _TAX_RATES)


def _is_before_fees(price: AmountColumn, columns: Mapping[str, AmountColumn], sums: Iterable[Sum]) -> bool:
    """Whether "gross" says of a price that fees come off it: it is payout and commission, and names no tax."""
    settled = any(
        one.whole == price.name
        and columns[one.parts[0]].role == "payout"
        and all(columns[part].role == "commission" for part in one.parts[1:])
        for one in sums
    )
    return settled and not says_any(price.name, (*AMOUNT_WORDS["tax"], *_WITH_TAX))


def _is_tax_within(share: Share) -> bool:
    """Whether a share is by its rates the tax within an amount."""
    return bool(share.rates) and all(
        any(abs(rate - tax / (1 + tax)) < 0.0006 for tax in _TAX_RATES) for rate in share.rates
    )


def _is_on_a_fee(tax: str, one: Sum, columns: Mapping[str, AmountColumn], shares: Iterable[Share]) -> bool:
    """Whether a tax that comes off a price with a commission is that on the commission, and none on the price."""
    by_base = {share.base: share for share in shares if share.part == tax}
    fees = [by_base[part] for part in one.parts if columns[part].role == "commission" and part in by_base]
    of_a_fee = any(fee.rates and all(map(_is_tax_rate, fee.rates)) for fee in fees)
    return of_a_fee and not (one.whole in by_base and _is_tax_within(by_base[one.whole]))


def _all_say_margin(texts: pl.Series) -> bool:
    known = distinct_texts(texts, "text")["text"]
    return 0 < known.len() <= 3 and all(says_any(text[:200], MARGIN_WORDS) for text in known)


def _one_rate(account: Account, cells: pl.DataFrame) -> str | None:
    """Return the one rate of tax that a column of rates holds, as a share; None where there is none or several."""
    for name in sorted(cells.columns):
        said = meanings(name)
        if not {"rate", "tax"} & set(said) or account.price == name:
            continue
        texts = distinct_texts(cells[name].str.replace(r"\s*%$", "").str.replace(",", "."), "text")["text"]
        rates = sorted({float(rate) for rate in texts.cast(pl.Float64, strict=False).drop_nulls()} - {0.0})
        if len(rates) == 1 and texts.len() <= 2 and 0 < rates[0] < 100 * _MOST_RATE:
            share = rates[0] if rates[0] < 1 else rates[0] / 100
            return f"{share:.6f}".rstrip("0")
    return None


def _with_ask(account: Account, amounts: pl.DataFrame, wholes: Collection[str]) -> Account:
    """Return the account with its asking price: one that lies at or above most prices, or an estimate near them."""
    for role, order in (("ask", 0), ("low estimate", 1), ("start price", 2)):
        for one in sorted(
            (one for one in account.columns.values() if one.role == role),
            key=lambda one: (-one.confidence, one.name),
        ):
            why = _why_ask(account, one, amounts, estimate=order == 1)
            if why:
                confident = round(min(0.98, one.confidence + BY_VALUES), 2)
                account.columns[one.name] = replace(one, confidence=confident)
                return replace(account, ask=one.name, ask_why=why)
    asked = [
        name
        for name, one in sorted(account.columns.items())
        if name not in (account.price, *wholes) and _may_be_asked(account, one, amounts)
    ]
    if len(asked) != 1:
        return account
    why = f"at or above {account.price!r} in nearly every sale"
    account.columns[asked[0]] = replace(account.columns[asked[0]], role="ask", confidence=0.4, why=why)
    return replace(account, ask=asked[0], ask_why=why)


def _may_be_asked(account: Account, one: AmountColumn, amounts: pl.DataFrame) -> bool:
    """Whether a column that no heading explains, or that is a price beside the price, has the amounts of an ask.

    What was asked is near the price, never below it, and a second price stands in rows that have no price.
    """
    if account.price is None or account.basis == "net" or not (one.unexplained or one.role == "price"):
        return False
    asked, price = amounts[one.name].abs(), amounts[account.price].abs()
    both = pl.DataFrame({"ask": asked, "price": price}).filter((pl.col("ask") > 0) & (pl.col("price") > 0))
    if both.height < LEAST_ROWS or (
        not one.unexplained and not bool(((asked > 0) & ~(price > 0).fill_null(value=False)).any())
    ):
        return False
    ratios = both["ask"] / both["price"]
    share, most = _UNNAMED_ASKED
    return float((ratios > 0.995).mean() or 0) >= share and 1.0 < float(ratios.median() or 0) <= most  # type: ignore[arg-type]


def _why_ask(account: Account, one: AmountColumn, amounts: pl.DataFrame, *, estimate: bool) -> str:
    """Return why a column is an asking price or low estimate; "" where its amounts do not bear it out."""
    if one.confidence < PART and not estimate:
        return ""
    asked = amounts[one.name]
    if account.price is None:
        return one.why if int((asked > 0).sum()) > 0 and one.role != "start price" else ""
    both = pl.DataFrame({"ask": asked.abs(), "price": amounts[account.price].abs()}).filter(
        (pl.col("ask") > 0) & (pl.col("price") > 0)
    )
    if both.is_empty():
        return ""
    if estimate:
        ratio = float((both["price"] / both["ask"]).median() or 0.0)  # type: ignore[arg-type]
        return _joined(one.why, "near the prices") if _ESTIMATED[0] <= ratio <= _ESTIMATED[1] else ""
    if float((both["ask"] / both["price"]).median() or 0.0) > _MOST_ASKED:  # type: ignore[arg-type]
        return ""
    at_or_above = int((both["ask"] >= both["price"] * 0.995).sum())
    if at_or_above < _ASKED * both.height:
        return ""
    return _joined(one.why, f"at or above the price in {at_or_above} of {both.height} sales")
