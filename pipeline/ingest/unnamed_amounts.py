"""What amounts are that no heading explains: one score for all of them together, from how they stand to the price.

Each column that may be the price is tried as such. Given it, every other column takes the role that its amounts
bear out best: a premium is a round share of the hammer price, an estimate is round and stands without a sale, a
payout is what a commission leaves. The evidence is added up as log-odds, with what holds between the columns. What
wins by too little is left to the owner.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipeline.ingest.identities import LEAST_ROWS, Share, Sum

Amounts = NDArray[np.float64]
IsTaxRate = Callable[[float], bool]

LEAST_MARGIN = 1.0
"""Log-odds by which a role is ahead of the next: at 1.0 it is right in three cases of four."""

_PRICES = {"hammer": "hammer", "price": "price", "gross": "price", "total": "price", "net of tax": "price"}
"""Role of a heading → the price that it can be: of an auction, or of a sale at a fixed price."""

_SUM_HOLDS, _SUM_UNEXPLAINED = 5.0, -1.5
_SUMS = frozenset(
    (first, frozenset(rest), whole)
    for first, rest, whole in (
        ("hammer", ("premium",), "all-in"),
        ("hammer", ("premium", "other amount"), "all-in"),
        ("hammer", ("premium", "tax"), "all-in"),
        ("hammer", ("premium", "postage"), "all-in"),
        ("payout", ("commission",), "hammer"),
        ("payout", ("commission",), "price"),
        ("payout", ("commission", "other amount"), "hammer"),
        ("payout", ("commission", "other amount"), "price"),
        ("payout", ("commission", "postage"), "price"),
        ("net of tax", ("tax",), "price"),
        ("cost", ("profit",), "price"),
        ("profit", ("cost",), "price"),
        ("cost", ("profit", "commission"), "price"),
        ("profit", ("cost", "commission"), "price"),
        ("cost", ("profit", "postage"), "price"),
        ("profit", ("cost", "postage"), "price"),
        ("cost", ("profit", "other amount"), "price"),
        ("profit", ("cost", "other amount"), "price"),
        ("payout", ("postage",), "price"),
        ("payout", ("tax",), "price"),
        ("payout", ("commission", "tax"), "price"),
        ("price", ("postage",), "total"),
        ("price", ("discount",), "ask"),
        ("price", ("tax",), "total"),
    )
)
"""The sums of an account of sales: the largest part, the others, and what they add up to."""

_OF_AUCTIONS = ("premium", "all-in", "low estimate", "high estimate", "start price")
_OF_BOTH = ("commission", "payout", "other amount", "nothing")
_OF_SHOPS = ("tax", "net of tax", "postage", "total", "ask", "cost", "profit", "discount")
_ROLES = {"hammer": (*_OF_AUCTIONS, *_OF_BOTH), "price": (*_OF_SHOPS, *_OF_BOTH)}
_SEVERAL = ("commission", "postage", "tax", "other amount", "nothing")
"""The roles that several columns may have."""

_CHARMS = (0.0, 0.01, 0.05, 0.1, 1.0)
"""What a price lacks to the round one that it is set just below (99.99, 99.95, 89.90, 89)."""

_LARGEST_COUNT = 60
"""Bids, places and sizes of shoes are no larger."""

_NEVER = -9.0


@dataclass(frozen=True)
class Reading:
    """What a column is taken to be, by how many log-odds more than anything else, and why."""

    role: str
    margin: float
    why: str


@dataclass(frozen=True)
class _Column:
    """The amounts of a column, none of them below zero; zero where there is none."""

    name: str
    values: Amounts

    @cached_property
    def there(self) -> NDArray[np.bool_]:
        return self.values > 0

    @cached_property
    def distinct(self) -> Amounts:
        return np.unique(self.values[self.there])

    @cached_property
    def digits(self) -> float:
        """Return the mean count of digits that matter: two or so where people set amounts, four of computed ones."""
        return float(np.mean([_telling_digits(one) for one in self.distinct.tolist()]))

    @cached_property
    def is_set(self) -> float:
        """Return the log-odds that people set these amounts: they are round, or end just below a round one."""
        return float(np.clip(2.5 * (2.9 - self.digits), -2.5, 2.0))

    @cached_property
    def is_number(self) -> float:
        """Return the log-odds that these are codes, counts or sizes and no amounts."""
        distinct, single = self.distinct, self.distinct.size == int(self.there.sum())
        if distinct[-1] <= _LARGEST_COUNT and (2 * distinct == np.round(2 * distinct)).all():
            return 3.0
        if (distinct != np.round(distinct)).any():
            return 0.0
        if single and distinct[-1] - distinct[0] < 3 * distinct.size:
            return 6.0
        lengths = {len(f"{one:.0f}") for one in distinct.tolist()}
        return 3.0 if single and len(lengths) == 1 and self.digits > max(lengths) - 0.6 else 0.0


def _telling_digits(amount: float) -> int:
    return min(
        len(f"{amount + lack:.2f}".replace(".", "").strip("0")) + (lack > 0)
        for lack in _CHARMS
        if lack < amount / 5
    )


def rounder(one: pl.Series, other: pl.Series) -> bool:
    """Whether people rather set the first amounts than the second: fewer of their digits matter."""
    first, second = (
        _Column(each.name, np.nan_to_num(np.abs(each.cast(pl.Float64).to_numpy()))) for each in (one, other)
    )
    return first.digits < second.digits


def read_together(
    amounts: pl.DataFrame,
    roles: Mapping[str, str | None],
    sums: list[Sum],
    shares: list[Share],
    *,
    is_tax_rate: IsTaxRate,
) -> dict[str, Reading]:
    """Return what the columns are whose headings say nothing, as far as their amounts tell.

    `roles` holds the columns of the account with what their headings say (None: nothing), `amounts` one Float64
    column for each of them. Neither the order of rows nor that of columns matters.
    """
    columns = {
        name: _Column(name, np.nan_to_num(np.abs(amounts[name].cast(pl.Float64).to_numpy())))
        for name in sorted(roles)
    }
    columns = {name: one for name, one in columns.items() if int(one.there.sum()) >= LEAST_ROWS}
    said = {name: role for name in columns if (role := roles[name]) is not None}
    if len(said) == len(columns):
        return {}
    stated = [name for name, role in said.items() if role in _PRICES]
    tried = [
        _Attempt(columns, said, sums, shares, columns[name], kind, is_tax_rate)
        for name in (stated or [name for name in columns if name not in said])
        for kind in ("hammer", "price")
        if name not in said or _PRICES[said[name]] == kind or said[name] == "price"
    ]
    ranked = sorted(tried, key=lambda one: (-one.score, one.price.name, one.kind))
    return _readings(ranked, columns.keys() - said.keys()) if ranked else {}


def _readings(ranked: list["_Attempt"], unnamed: set[str]) -> dict[str, Reading]:
    """Return the roles of the best attempt that no other attempt, nor another role within it, comes near to.

    A price that is the best one at an auction as well as at a fixed price is a price, whichever it is.
    """
    best = ranked[0]
    found = {}
    price = best.price.name
    if price in unnamed:
        margin = best.score - max((one.score for one in ranked if one.price.name != price), default=_NEVER)
        surely = all(best.score - one.score >= LEAST_MARGIN for one in ranked[1:])
        if margin >= LEAST_MARGIN:
            found[price] = Reading(best.kind if surely else "price", margin, best.why(price))
    elif best.kind == "hammer" and all(best.score - one.score >= LEAST_MARGIN for one in ranked[1:]):
        found[price] = Reading("hammer", LEAST_MARGIN, best.why(price))
    for name in sorted(unnamed - {price}):
        role = best.roles[name]
        rival = max((one.score for one in ranked[1:] if one.roles[name] != role), default=_NEVER)
        margin = min(best.score - rival, best.lead(name))
        if role != "nothing" and margin >= LEAST_MARGIN:
            found[name] = Reading(role, margin, best.why(name))
    return found


class _Attempt:
    """The account as it reads when one column is the price."""

    def __init__(
        self,
        columns: Mapping[str, _Column],
        said: Mapping[str, str],
        sums: list[Sum],
        shares: list[Share],
        price: _Column,
        kind: str,
        is_tax_rate: IsTaxRate,
    ) -> None:
        self.price, self.kind, self._columns, self._is_tax = price, kind, columns, is_tax_rate
        self._rates = {(share.part, share.base): share.rates for share in shares}
        self._sums = [one for one in sums if {*one.parts, one.whole} <= columns.keys()]
        self._said = said
        self.roles: dict[str, str] = {price.name: kind}
        self._fits: dict[str, dict[str, float]] = {}
        for name, one in columns.items():
            if name != price.name:
                self._fits[name] = (
                    {role: self._fit(one, role) for role in _ROLES[kind]} if name not in said else {}
                )
        for name in self._fits:
            self.roles[name] = said.get(name, "nothing")
        self._settle()
        self.score = self._score()

    def lead(self, name: str) -> float:
        """Return by how much the role of a column beside the price is ahead of its next."""
        chosen = self.roles[name]
        rest = [self._with(name, role) for role in self._fits[name] if role != chosen]
        return self.score - max(rest, default=_NEVER)

    def why(self, name: str) -> str:
        """Return what speaks for the role of a column, in words for the owner."""
        held = [str(one) for one in self._sums if name in (*one.parts, one.whole) and self._explains(one)]
        if held:
            return held[0]
        if name == self.price.name:
            return "of all amounts the others are best explained by it"
        return f"its amounts stand to those of {self.price.name!r} as such amounts do"

    def _settle(self) -> None:
        """Give each column its best role, given the others, until nothing changes; pairs of a sum move together."""
        unnamed = [name for name in self._fits if name not in self._said]
        for name in unnamed:
            self.roles[name] = max(self._fits[name], key=lambda role: self._fits[name][role])
        for _ in range(4):
            before = dict(self.roles)
            for name in unnamed:
                self.roles[name] = max(self._fits[name], key=lambda role: self._with(name, role))
            for one in self._sums:
                self._move_together(one)
            if self.roles == before:
                return

    def _move_together(self, one: Sum) -> None:
        """Give the columns of a sum the roles of the known sum that makes the account more likely."""
        if self._explains(one):
            return
        best, best_score = dict(self.roles), self._score()
        for first, rest, whole in _SUMS:
            if len(rest) != len(one.parts) - 1:
                continue
            for others in (sorted(rest), sorted(rest, reverse=True)):
                wanted = dict(
                    zip((one.parts[0], *one.parts[1:], one.whole), (first, *others, whole), strict=True)
                )
                may = all(
                    self.roles[name] == role or (name in self._fits and role in self._fits[name])
                    for name, role in wanted.items()
                )
                if not may:
                    continue
                kept = dict(self.roles)
                self.roles.update(wanted)
                score = self._score()
                if score > best_score:
                    best, best_score = dict(self.roles), score
                self.roles = kept
        self.roles = best

    def _with(self, name: str, role: str) -> float:
        """Return the score with another role for a column."""
        kept, self.roles[name] = self.roles[name], role
        score = self._score()
        self.roles[name] = kept
        return score

    def _score(self) -> float:
        score = self._price_fits()
        for name, fits in self._fits.items():
            score += fits.get(self.roles[name], 0.0)
        for one in self._sums:
            score += _SUM_HOLDS if self._explains(one) else _SUM_UNEXPLAINED if len(one.parts) == 2 else 0.0
        single = [role for role in self.roles.values() if role not in _SEVERAL]
        score += 4.0 * (len(set(single)) - len(single))
        return score + self._together()

    def _together(self) -> float:
        """Return what the roles say of each other: the margin holds tax, and estimates come in pairs."""
        by_role = {role: name for name, role in self.roles.items()}
        score = 0.0
        if "high estimate" in by_role:
            low = by_role.get("low estimate")
            high = self._columns[by_role["high estimate"]]
            score += 1.0 if low is not None and self._bounds(self._columns[low], high) else -4.0
        if "profit" in by_role and "cost" not in by_role:
            score -= 2.0
        if "tax" in by_role and "profit" in by_role:
            score += 2.0 if self._is_within(self._rates.get((by_role["tax"], by_role["profit"]), ())) else 0.0
        if "other amount" in by_role and "premium" in by_role:
            rates = self._rates.get((by_role["other amount"], by_role["premium"]), ())
            score += 2.0 if rates and all(map(self._is_tax, rates)) else 0.0
        on_price = self._rates.get((by_role.get("tax", ""), self.price.name), ())
        if self.kind == "hammer" and on_price and all(map(self._is_tax, on_price)):
            score -= 3.0
        if ("payout" in by_role) != ("commission" in by_role):
            score -= 0.5
        return score

    def _bounds(self, low: _Column, high: _Column) -> bool:
        both = low.there & high.there
        return both.sum() >= LEAST_ROWS and bool((low.values[both] <= high.values[both]).all())

    def _explains(self, one: Sum) -> bool:
        first, *rest = (self.roles[part] for part in one.parts)
        whole = self.roles[one.whole]
        names = {"gross": "price", "total": "total"}
        if one.whole == self.price.name:
            whole = self.kind
        if one.parts[0] == self.price.name:
            first = self.kind
        return (names.get(first, first), frozenset(rest), names.get(whole, whole)) in _SUMS

    def _price_fits(self) -> float:
        """Return how well the column stands for the price itself: set by people, where something was sold."""
        one = self.price
        score = one.is_set - one.is_number
        filled, most = one.there.mean(), max(other.there.mean() for other in self._columns.values())
        score += 1.0 if filled < 0.98 * most else 0.0
        score += 1.5 if one.name in self._said else 0.0
        return score + 0.3 * (self.kind == "price")

    def _fit(self, one: _Column, role: str) -> float:
        """Return the log-odds of a role against "nothing", from how a column stands to the price."""
        price = self.price
        both = one.there & price.there
        if both.sum() < LEAST_ROWS:
            return 0.0 if role == "nothing" else _NEVER
        ratio = one.values[both] / price.values[both]
        middle = float(np.median(ratio))
        alike = _correlation(one.values[both], price.values[both])
        in_same = float((one.there == price.there).mean()) > 0.97
        wider = bool(both.sum() > 0.97 * price.there.sum()) and one.there.sum() > 1.03 * price.there.sum()
        full = one.there.mean() > 0.97
        if role == "nothing":
            return one.is_number + (1.5 if alike < 0.4 else 0.0)
        few = one.distinct.size <= max(3, 0.25 * one.there.sum())
        rates = self._rates.get((one.name, price.name), ())
        affine = _is_affine(one.values[both], price.values[both])
        plain = bool(rates) and all(abs(1000 * rate - round(1000 * rate)) < 1e-6 for rate in rates)
        share = 3.0 if plain else 1.5 if rates or affine else _NEVER
        with_sale = 1.0 if in_same else -4.0
        before = 1.5 if wider else 0.5 if in_same and full else -3.0
        computed = -0.5 * one.is_set
        match role:
            case "premium":
                usual = plain and all(0.08 <= rate <= 0.35 for rate in rates)
                return with_sale + (share + 0.5 if usual else -2.0 if not rates else -1.0)
            case "commission":
                return (
                    with_sale
                    + (share if 0.01 < middle < 0.65 else _NEVER)
                    - (0.5 if self._is_within(rates) else 0.0)
                )
            case "all-in":
                above = bool((ratio > 1.0).all()) and middle < 1.6
                bid = 1.5 + (1.0 if affine else 0.0) if price.is_set > 0 else -2.0
                return with_sale + computed + (bid if above else _NEVER)
            case "payout":
                below = bool((ratio < 1.0).all()) and middle > 0.3
                return with_sale + computed + (0.5 + (1.0 if affine else 0.0) if below else _NEVER)
            case "tax":
                within, on_top = self._is_within(rates), bool(rates) and all(map(self._is_tax, rates))
                return with_sale + (3.5 if within else 2.5 if on_top else -1.5 if middle < 0.2 else _NEVER)
            case "net of tax":
                top = (1 / ratio) - 1
                exact = bool(
                    (np.abs(one.values[both] * (1 + np.median(top)) - price.values[both]) < 0.6).all()
                )
                return (
                    with_sale
                    + computed
                    + (2.5 if exact and self._is_tax(round(float(np.median(top)), 3)) else -3.0)
                )
            case "postage":
                return (
                    (2.0 if few else -2.0) - (1.0 if alike > 0.6 else 0.0) + (0.0 if middle < 0.5 else _NEVER)
                )
            case "total":
                more = one.values[both] - price.values[both]
                steps = np.unique(np.round(more, 2)).size <= max(4, 0.2 * more.size)
                added = 2.0 if steps else 0.0 if affine else -3.0
                return with_sale + (added if bool((more >= -0.011).all()) else -3.0)
            case "ask":
                often = float((ratio > 0.995).mean())
                asked = 2.0 if often > 0.9 and 1.0 <= middle < 1.7 else -3.0
                return (
                    before
                    + asked
                    + 0.5 * one.is_set
                    + (1.0 if (np.abs(ratio - 1) < 1e-9).mean() > 0.1 else 0.0)
                )
            case "low estimate":
                near = 0.5 if 0.4 <= middle <= 1.3 and alike > 0.5 else -4.0
                return before + near + 0.5 * one.is_set + (-2.0 if rates else 0.0)
            case "high estimate":
                near = 0.5 if 0.7 <= middle <= 2.6 and alike > 0.5 else -4.0
                return before + near + 0.5 * one.is_set + (-2.0 if rates else 0.0)
            case "start price":
                lower = float((ratio <= 1.001).mean()) > 0.9 and 0.15 < middle < 0.95 and alike > 0.5
                return before + (0.2 if lower else -4.0) + 0.5 * one.is_set + (-2.0 if rates else 0.0)
            case "cost":
                near = 0.0 if 0.1 < middle < 1.0 and alike > 0.4 else -4.0
                return (0.5 if full or in_same else -2.0) + near + (-3.0 if rates or affine else 0.0)
            case "profit":
                return with_sale + (0.0 if middle < 0.95 and alike > 0.2 else -4.0) + (-3.0 if rates else 0.0)
            case "discount":
                return -2.0 if middle < 0.5 else _NEVER
            case _:
                return with_sale - (0.5 if few or middle < 0.15 else 3.0)

    def _is_within(self, rates: tuple[float, ...]) -> bool:
        """Whether shares of an amount are the tax within it (a sixth of it where the rate is 20 %)."""
        return bool(rates) and all(
            rate < 0.25 and self._is_tax(round(rate / (1 - rate), 4)) for rate in rates
        )


def _correlation(one: Amounts, other: Amounts) -> float:
    logs = np.log(one), np.log(other)
    spread = float(logs[0].std() * logs[1].std())
    return (
        float(((logs[0] - logs[0].mean()) * (logs[1] - logs[1].mean())).mean()) / spread
        if spread > 1e-12
        else 0.0
    )


def _is_affine(one: Amounts, price: Amounts) -> bool:
    """Whether amounts are a share of the price and a fixed amount on top, to rounding."""
    if np.unique(price).size < LEAST_ROWS + 2 or np.unique(one).size < LEAST_ROWS:
        return False
    slope, start = np.polyfit(price, one, 1)
    most = float(np.abs(slope * price + start - one).max())
    return bool(slope > 0.005) and most < max(0.6, 0.004 * float(one.mean()))
