"""The market file: everything that the owner decides, in one TOML file, validated.

The file holds names and words of the owner's trade (eras, grades, silhouettes, treatments, venues,
export maps). Nothing about a real venue or maker is built in.
"""

import unicodedata
from collections.abc import Iterable, Iterator, Mapping
from datetime import date
from decimal import Decimal
from functools import cached_property
from itertools import pairwise
from pathlib import Path
from typing import Annotated, Any, Literal, Self

from pydantic import (
    AfterValidator,
    AliasChoices,
    BaseModel,
    ConfigDict,
    Discriminator,
    Field,
    Tag,
    ValidationError,
    model_validator,
)

from pipeline.alike import find_alike
from pipeline.errors import MarketFileError, UnknownName, suggest
from pipeline.market_rules import (
    faults_of,
    refuse_alike,
    refuse_falling_chart,
    refuse_odd_prior,
    refuse_two_meanings,
    remarks_on,
    with_common_colourways,
)
from pipeline.plain_file import read_plain_text
from pipeline.schema import (
    COLUMN,
    FACTORS,
    GRADES,
    LISTS,
    PICTURE,
    PRICE_BASES,
    QUANTITY,
    SOURCE_FIELDS,
    STOCK_FIELDS,
    SizeSystem,
)
from pipeline.toml_text import LARGEST, parse_toml
from pipeline.value_faults import explain_value

MOST_BYTES = 10_000_000
"""Bytes of a market file: far above what thousands of silhouettes take."""

MOST_SHOWN = 80
"""Characters of a wrong value or key that a message shows."""


def _written_out(text: str) -> str:
    if any(unicodedata.category(sign) == "Cc" for sign in text):
        raise ValueError("it must be plain text, without line breaks, tabs or control characters")
    if not text.strip():
        raise ValueError("it must not be blank")
    return text


def _in_paragraphs(text: str) -> str:
    if any(unicodedata.category(sign) == "Cc" and sign != "\n" for sign in text):
        raise ValueError("it must be plain text, without tabs or control characters")
    return text


Name = Annotated[str, Field(min_length=1, max_length=80), AfterValidator(_written_out)]
Phrase = Annotated[str, Field(min_length=1, max_length=120), AfterValidator(_written_out)]
Heading = Annotated[str, Field(min_length=1, max_length=1000), AfterValidator(_written_out)]
StatusWord = Literal[
    "sold", "unsold", "withdrawn", "open", "returned", "refunded", "cancelled", "unpaid", "deposit", "balance"
]
ONE_HEADING, SEVERAL_HEADINGS = "one heading", "several headings"
Headings = Annotated[
    Annotated[Heading, Tag(ONE_HEADING)]
    | Annotated[tuple[Heading, ...], Field(min_length=1, max_length=100), Tag(SEVERAL_HEADINGS)],
    Discriminator(lambda value: SEVERAL_HEADINGS if isinstance(value, list | tuple) else ONE_HEADING),
]
Remark = Annotated[str, Field(max_length=2000)]
CurrencyCode = Annotated[str, Field(pattern=r"^[A-Z]{3}$", description="an ISO 4217 code, such as EUR")]
Share = Annotated[Decimal, Field(ge=0, lt=1, description="a share, such as 0.25 for 25 %")]
Amount = Annotated[Decimal, Field(ge=0, le=LARGEST)]
Edge = Annotated[Decimal, Field(gt=0, le=LARGEST)]
Hours = Annotated[float, Field(ge=0, le=10_000)]


class Part(BaseModel):
    """A table of the market file: unknown keys are errors, values cannot be changed afterwards."""

    model_config = ConfigDict(allow_inf_nan=False, defer_build=True, extra="forbid", frozen=True)


class Business(Part):
    """Who the owner is, as it stands on the pages that are handed out.

    `address` and `terms` (the terms of consigning, in paragraphs) stand on the consignment sheet. `language` is that of
    sheets and tickets, and of the terms.
    """

    name: Name = "My shop"
    town: Annotated[str, Field(max_length=80)] = ""
    address: Annotated[tuple[Phrase, ...], Field(max_length=8)] = ()
    terms: Annotated[str, Field(max_length=6000), AfterValidator(_in_paragraphs)] = ""
    language: Annotated[str, Field(max_length=20), AfterValidator(_written_out)] = "en"

    @property
    def heading(self) -> str:
        """The name and the town, as pages are headed."""
        return f"{self.name}, {self.town}" if self.town else self.name


class Era(Part):
    """A range of production years with the run it belongs to; `last_year` is left out while it lasts.

    Two eras may share years (a re-issue that came while the original still ran): a stamp of such a year
    does not decide between them.
    """

    name: Name
    run: Literal["original", "re-issue"]
    first_year: Annotated[int, Field(ge=1900, le=2100)]
    last_year: Annotated[int, Field(ge=1900, le=2100)] | None = None
    phrases: tuple[Phrase, ...] = ()

    @model_validator(mode="after")
    def _years_run_forwards(self) -> Self:
        if self.last_year is not None and self.last_year < self.first_year:
            raise ValueError(f"last_year {self.last_year} lies before first_year {self.first_year}")
        return self


class Colourway(Part):
    """A colourway of a silhouette, with the words by which titles name it."""

    name: Name
    phrases: tuple[Phrase, ...] = ()


class Silhouette(Part):
    """A silhouette of a maker; `family` groups silhouettes whose prices move together."""

    name: Name
    maker: Name
    family: Annotated[str, Field(max_length=80)] = ""
    phrases: tuple[Phrase, ...] = ()
    colourways: tuple[Colourway, ...] = ()


class Maker(Part):
    """A maker whose labels say a size of their own.

    A row of `sizes` is one size as each system's label says it ("JP" in cm, "mm"), and the `foot_mm` that it fits;
    left out, that of its first label of US men, UK, US women or EU by the usual formula.
    """

    name: Name
    sizes: Annotated[
        tuple[dict[SizeSystem | Literal["foot_mm"], Annotated[float, Field(gt=0, le=400)]], ...],
        Field(max_length=200),
    ] = ()

    @model_validator(mode="after")
    def _sizes_rise(self) -> Self:
        refuse_falling_chart(self)
        return self


class Treatment(Part):
    """Something a restorer does to a pair, with its usual hours and materials in the base currency."""

    name: Name
    phrases: tuple[Phrase, ...] = ()
    hours: Hours = 0.0
    materials: Amount = Decimal(0)
    grade_gain: Annotated[float, Field(ge=0, le=9)] = 0.0
    cures: tuple[Name, ...] = ()
    caution: Remark = ""


class Named(Part):
    """A defect, or a part of the original set, with the words by which titles name it."""

    name: Name
    phrases: tuple[Phrase, ...] = ()


class Words(Part):
    """The owner's words for grades, box, tags, overlay, lasting, and for "not".

    `restored_words` and `flaw_words` name restoring and flaws in general ("never restored", "no flaws"),
    `piece_words` name pieces of a shoe, whose condition is not the pair's ("uppers very good"),
    `not_yet_words` say of a treatment that it is still to be done, `unsure_words` that a thing is not certain.
    `not_a_pair` names what is sold beside pairs ("laces only"), in which "#" stands for any number from two on.
    With `fix_typos` a misspelt word is taken for the one word or name that it is near to; each is listed.
    """

    fix_typos: bool = True
    grades: dict[Phrase, float] = Field(default_factory=dict)
    box: dict[Literal["original", "replacement", "none"], tuple[Phrase, ...]] = Field(default_factory=dict)
    tags: dict[Literal["attached", "loose", "none"], tuple[Phrase, ...]] = Field(default_factory=dict)
    overlay: dict[Literal["leather", "vinyl", "textile"], tuple[Phrase, ...]] = Field(default_factory=dict)
    lasting: dict[Literal["board", "foam"], tuple[Phrase, ...]] = Field(default_factory=dict)
    not_words: tuple[Phrase, ...] = ("no", "not", "never", "neither", "without", "missing", "lacks", "un")
    restored_words: tuple[Phrase, ...] = ("restored", "restoration", "restoration work", "touched")
    flaw_words: tuple[Phrase, ...] = (
        *("flaw", "flaws", "defect", "defects", "fault", "faults"),
        *("damage", "issues", "problems"),
    )
    piece_words: tuple[Phrase, ...] = (
        *(
            "upper",
            "uppers",
            "sole",
            "soles",
            "insole",
            "insoles",
            "midsole",
            "midsoles",
            "outsole",
            "outsoles",
        ),
        *("heel", "heels", "laces", "lining", "linings", "tongue", "tongues", "stitching", "toe box", "toes"),
    )
    not_yet_words: tuple[Phrase, ...] = (
        *(
            "needs",
            "need",
            "needing",
            "needed",
            "requires",
            "required",
            "wants",
            "could use",
            "could do with",
        ),
        *("would benefit from", "will need", "would need", "should be", "due", "due for", "ready for"),
        *("candidate", "candidate for", "recommended", "awaiting", "pending", "to be"),
        *("advised", "advisable", "suggested", "overdue", "easy", "would", "will", "should", "could", "can"),
    )
    unsure_words: tuple[Phrase, ...] = (
        *("near", "nearly", "almost", "close to", "like", "as if", "looks", "look", "looks like", "seems"),
        *("possibly", "probably", "perhaps", "maybe", "might be", "could be", "may be", "presumably"),
        *(
            "prob",
            "poss",
            "likely",
            "supposedly",
            "apparently",
            "unsure",
            "uncertain",
            "suspected",
            "i guess",
        ),
        *("seems to be", "looks to be", "appears", "appears to be", "believed to be", "thought to be"),
        *("i think", "i believe", "practically", "virtually", "basically", "as good as"),
        *("style", "type", "inspired", "similar to", "not quite", "not sure if"),
    )

    not_a_pair: tuple[Phrase, ...] = ()

    @model_validator(mode="after")
    def _grades_lie_on_the_scale(self) -> Self:
        for word, grade in self.grades.items():
            if grade not in GRADES:
                raise ValueError(f"the word {word!r} has grade {grade}; allowed: 1 to 10 by half")
        refuse_two_meanings({"words.grades": {word: f"{grade:g}" for word, grade in self.grades.items()}})
        return self


class Tier(Part):
    """One step of a fee schedule: `rate` up to and including `up_to` (left out in the last step)."""

    up_to: Edge | None = None
    rate: Share


class FeeSchedule(Part):
    """What one party pays the venue, from a day on.

    `method` marginal: each tier's rate applies to the part of the price within it. whole-lot: the rate
    of the tier in which the price falls applies to the whole of it. `minimum` is the least fee, `flat`
    is added to it, `tax_rate` is charged on the fee; all amounts are in the venue's currency.
    """

    party: Literal["buyer", "seller"]
    starts_on: date
    method: Literal["marginal", "whole-lot"] = "marginal"
    tiers: tuple[Tier, ...] = Field(min_length=1)
    minimum: Amount = Decimal(0)
    flat: Amount = Decimal(0)
    tax_rate: Share = Decimal(0)

    @model_validator(mode="after")
    def _tiers_rise_and_the_last_is_open(self) -> Self:
        edges = [tier.up_to for tier in self.tiers]
        if edges[-1] is not None or any(edge is None for edge in edges[:-1]):
            raise ValueError("each tier but the last needs `up_to`, and the last must not have it")
        closed = [edge for edge in edges if edge is not None]
        if any(later <= earlier for earlier, later in pairwise(closed)):
            raise ValueError(f"`up_to` must rise from tier to tier, not {', '.join(map(str, closed))}")
        return self

    def amounts(self) -> Iterator[tuple[str, Decimal]]:
        """Yield every amount of money with its key."""
        yield "minimum", self.minimum
        yield "flat", self.flat
        yield from (("up_to", tier.up_to) for tier in self.tiers if tier.up_to is not None)


class Increment(Part):
    """One step of a house's bids: multiples of `step` up to and including `up_to`."""

    up_to: Edge | None = None
    step: Edge


class Venue(Part):
    """Where pairs are offered, what it takes from whom, and the bids that it takes.

    Without `increments` a bid is any whole unit of the venue's currency. `consignment` says whether pairs of
    consignors are offered there; left out, they are where a seller's fee is written and a pair was sold in the last
    year. `freight` is what it costs the owner to send a pair there, or on to its buyer, in the base currency.
    """

    name: Name
    kind: Literal["auction", "shop", "online"]
    currency: CurrencyCode
    country: Annotated[str, Field(max_length=80)] = ""
    fees: tuple[FeeSchedule, ...] = ()
    increments: tuple[Increment, ...] = ()
    consignment: bool | None = None
    freight: Amount | None = None

    @model_validator(mode="after")
    def _increments_rise_and_the_last_is_open(self) -> Self:
        edges = [one.up_to for one in self.increments]
        if edges and (edges[-1] is not None or any(edge is None for edge in edges[:-1])):
            raise ValueError("each increment but the last needs `up_to`, and the last must not have it")
        closed = [edge for edge in edges if edge is not None]
        if any(later <= earlier for earlier, later in pairwise(closed)):
            raise ValueError(
                f"`up_to` must rise from increment to increment, not {', '.join(map(str, closed))}"
            )
        return self

    @model_validator(mode="after")
    def _one_schedule_a_party_and_day(self) -> Self:
        keys = [(schedule.party, schedule.starts_on) for schedule in self.fees]
        for party, starts_on in keys:
            if keys.count((party, starts_on)) > 1:
                raise ValueError(f"two {party} schedules start on {starts_on}")
        return self

    def schedule(self, party: Literal["buyer", "seller"], on: date) -> FeeSchedule | None:
        """Return the party's schedule in force on a day, or None where none had started."""
        started = [fees for fees in self.fees if fees.party == party and fees.starts_on <= on]
        return max(started, key=lambda fees: fees.starts_on, default=None)


class Import(Part):
    """What it costs to bring a pair home from a venue, or from every venue of a country.

    `freight` is an amount a pair in the base currency. Duty is charged on the all-in price with freight,
    tax on that and the duty. Local rules differ: the owner states the rates.
    """

    venue: str | None = None
    country: str | None = None
    freight: Amount = Decimal(0)
    duty_rate: Share = Decimal(0)
    tax_rate: Share = Decimal(0)

    @model_validator(mode="after")
    def _a_venue_or_a_country(self) -> Self:
        if (self.venue is None) == (self.country is None):
            raise ValueError("give `venue` or `country`, one of the two")
        return self


class Buying(Part):
    """How the owner buys: the margin wanted, how sure of it, and where the pair would be sold again.

    `margin` is the share of what the resale brings in that must be left; `confidence` the chance with
    which it must be. `sells_at` is a venue; left out, the pair is sold again where it was bought.
    `costs` is what a pair costs in the house besides, in the base currency.
    """

    margin: Share = Decimal("0.2")
    confidence: Annotated[float, Field(ge=0.5, le=0.99)] = 0.8
    sells_at: str | None = None
    costs: Amount = Decimal(0)


class Selling(Part):
    """How the owner's own sales are taxed: on the "margin" over the cost of a pair, or on the "full" price.

    The price counts the tax: of 120 taxed in full at `tax_rate` 0.2, 20 are tax. Left out, no tax is taken off.
    """

    tax: Literal["margin", "full"] | None = None
    tax_rate: Share | None = None

    @model_validator(mode="after")
    def _tax_has_its_rate(self) -> Self:
        if (self.tax is None) != (self.tax_rate is None):
            missing = "tax" if self.tax is None else "tax_rate"
            raise ValueError(f"`tax` and `tax_rate` go together: `{missing}` is missing")
        return self


class Consigning(Part):
    """How the owner takes pairs on consignment.

    `commission` is what the house takes of the price at which a pair is sold elsewhere for its consignor,
    in the base currency (`party` is "seller"); at the owner's own shop it is the shop's seller's schedule.
    `patience_days` is how long an owner waits for a sale at a fixed price before the pair goes to auction.
    """

    patience_days: Annotated[int, Field(ge=1, le=730)] = 60
    commission: tuple[FeeSchedule, ...] = ()

    @model_validator(mode="after")
    def _commission_is_the_sellers(self) -> Self:
        if any(schedule.party != "seller" for schedule in self.commission):
            raise ValueError('`commission` is paid by the consignor: `party` must be "seller"')
        return self


PAPERS: dict[str, tuple[float, float]] = {"A4": (210, 297), "Letter": (215.9, 279.4)}
"""Width and height (mm) of the papers that tickets are printed on."""


class Tickets(Part):
    """How price tickets stand on a sheet, such as one of labels, and how a suggested price is rounded for them.

    `width_mm` and `height_mm` are from the edge of one ticket to that of the next; the tickets stand in the middle of
    the paper. `round_to` is in the currency of the shop.
    """

    paper: Literal["A4", "Letter"] = "A4"
    columns: Annotated[int, Field(ge=1, le=6)] = 3
    rows: Annotated[int, Field(ge=1, le=12)] = 8
    width_mm: Annotated[float, Field(ge=52, le=300)] = 70
    height_mm: Annotated[float, Field(ge=34, le=300)] = 36
    round_to: Edge = Decimal(5)

    @model_validator(mode="after")
    def _they_fit_the_paper(self) -> Self:
        width, height = PAPERS[self.paper]
        if self.columns * self.width_mm > width:
            raise ValueError(
                f"{self.columns} tickets of {self.width_mm:g} mm are wider than {self.paper} ({width:g} mm): "
                "give fewer `columns` or a smaller `width_mm`"
            )
        if self.rows * self.height_mm > height:
            raise ValueError(
                f"{self.rows} tickets of {self.height_mm:g} mm are higher than {self.paper} ({height:g} mm): "
                "give fewer `rows` or a smaller `height_mm`"
            )
        return self


class Pictures(Part):
    """The folder of the owner's photographs of pairs, named by stock number; one without a full path lies beside the
    market file.
    """

    folder: Annotated[str, Field(max_length=1000), AfterValidator(_written_out)] | None = None


class Keeping(Part):
    """Whether values, asks and bids are kept as they are said, for `pairband outcomes` to judge."""

    keep: bool = False


class EraOdds(Part):
    """Odds of an era that are learned from the owner's records.

    `prior` is the chance of each era before anything is seen of a pair; left out, it is the share of the records.
    `in_lists` says whether lots and stock whose era nobody states are valued by such odds.
    """

    in_lists: bool = False
    prior: dict[Name, Annotated[float, Field(gt=0, lt=1)]] = Field(default_factory=dict)


class ExportMap(Part):
    """How one venue's export is read: which column is which field, and how its cells are written.

    `amounts` says whether the amounts of price, ask and tax are in the currency itself ("major"), or in its minor
    units ("minor": 12345 cents for 123.45).
    `tax` says whether the price counts the sales or value-added tax that every buyer pays there: "included";
    "excluded", when `tax_rate` of the price or the amounts of `tax_column` are added to it; "margin", when tax was
    paid on the seller's margin alone, so that there is none to add. `skip` says by the words of a column which rows
    are no pairs.
    """

    venue: Name
    files: Phrase = Field(description="a file-name pattern, such as harbour_*.csv")
    holds: Literal["sales", "lots", "stock"] = "sales"
    sheets: tuple[Heading, ...] = ()
    header_row: Annotated[int, Field(ge=1, le=1_000_000)] | None = None
    encoding: Name | None = None
    delimiter: Annotated[str, Field(min_length=1, max_length=1)] | None = None
    records: Heading | None = Field(default=None, description="the list of a JSON file, such as orders.lines")
    fill_down: Annotated[tuple[Heading, ...], Field(max_length=100)] | None = None
    group_heading: Heading | None = None
    date_order: Literal["dmy", "mdy", "ymd"] = "ymd"
    language: str = "en"
    decimal_mark: Literal[".", ","] = "."
    amounts: Literal["major", "minor"] = "major"
    currency: CurrencyCode | None = None
    price_basis: Literal["hammer", "all-in", "net"] | None = None
    quantity_price: Literal["line", "unit"] | None = None
    tax: Literal["included", "excluded", "margin"] | None = None
    tax_rate: Share | None = None
    tax_column: Heading | None = None
    size_system: Literal["UK", "EU", "US men", "US women", "JP", "mm"] | None = None
    columns: dict[str, Headings]
    status_words: dict[Phrase, StatusWord] = Field(default_factory=dict)
    words: dict[str, dict[Phrase, Phrase]] = Field(default_factory=dict)
    skip: dict[Heading, Annotated[tuple[Phrase, ...], Field(min_length=1)]] = Field(default_factory=dict)
    list_mark: Annotated[str, Field(min_length=1, max_length=5)] = ";"

    @model_validator(mode="after")
    def _fields_are_those_of_a_sale_record(self) -> Self:
        known = SOURCE_FIELDS if self.holds != "stock" else (*SOURCE_FIELDS, *STOCK_FIELDS)
        for field in (*self.columns, *self.words):
            if field in STOCK_FIELDS and field not in known:
                raise ValueError(f'`{field}` is of a stock list: it needs `holds = "stock"`')
            if field not in known and not (field in (QUANTITY, PICTURE) and field in self.columns):
                raise ValueError(f"no field is called {field!r}; {suggest(field, known)}")
        if "price_native" in self.columns and self.price_basis is None:
            raise ValueError(
                f"`price_basis` is missing: say what price_native counts ({', '.join(PRICE_BASES)})"
            )
        by_field = {f"words.{field}": words for field, words in self.words.items()}
        refuse_two_meanings({"status_words": self.status_words, **by_field})
        for field, words in self.words.items():
            allowed = COLUMN[field].allowed if field in COLUMN else None
            for word, value in words.items():
                if allowed is not None and value not in allowed:
                    raise ValueError(
                        f"`words.{field}` gives {word!r} the value {value!r}; allowed: {', '.join(allowed)}"
                    )
        return self

    @model_validator(mode="after")
    def _a_quantity_says_whose_price_it_is(self) -> Self:
        counted = QUANTITY in self.columns
        if counted and self.holds != "sales":
            raise ValueError("`quantity` is of the lines of an export of sales")
        if counted and self.quantity_price is None:
            raise ValueError(
                '`quantity_price` is missing: say if the price is of the "line", all its pairs together, or of the '
                '"unit", one pair'
            )
        if not counted and self.quantity_price is not None:
            raise ValueError("`quantity_price` needs a column for `quantity`")
        return self

    @model_validator(mode="after")
    def _pictures_are_of_the_stock(self) -> Self:
        if PICTURE in self.columns and self.holds != "stock":
            raise ValueError(f'`{PICTURE}` is of a stock list: it needs a map with `holds = "stock"`')
        return self

    @model_validator(mode="after")
    def _minor_units_are_of_amounts(self) -> Self:
        if self.amounts == "minor" and not {"price_native", "ask_native"} & self.columns.keys():
            raise ValueError(
                '`amounts = "minor"` is of a price or an ask: `columns` names neither price_native nor ask_native'
            )
        return self

    @model_validator(mode="after")
    def _tax_is_said_once(self) -> Self:
        added = [key for key in ("tax_rate", "tax_column") if getattr(self, key) is not None]
        if self.tax != "excluded" and added:
            raise ValueError(
                f'`{added[0]}` is added to a price without tax: write `tax = "excluded"` with it'
            )
        if self.tax is None:
            return self
        if "price_native" not in self.columns or self.holds != "sales":
            raise ValueError("`tax` is of the price of a sale: it needs a map of sales with a `price_native`")
        if self.tax == "excluded" and len(added) != 1:
            raise ValueError(
                '`tax = "excluded"` needs one of `tax_rate` (a share of the price) and `tax_column` (the heading of '
                "its amounts)"
            )
        if self.tax == "excluded" and self.price_basis == "net":
            raise ValueError(
                '`tax = "excluded"` is of what the buyer pays, and `price_basis = "net"` of what the seller '
                "receives: leave `tax` out"
            )
        return self

    @model_validator(mode="after")
    def _what_is_written_once_is_read(self) -> Self:
        read = {field: (names,) if isinstance(names, str) else names for field, names in self.columns.items()}
        if self.group_heading is not None and not any(self.group_heading in names for names in read.values()):
            raise ValueError(
                f"`group_heading` is {self.group_heading!r}, and no field of `columns` reads a column of that name"
            )
        once = set(self.fill_down or ()) & set(read.get("price_native", ()))
        if once:
            raise ValueError(
                f"`fill_down` names {min(once)!r}, which is the price: filled down it would count once a line"
            )
        return self

    @model_validator(mode="after")
    def _the_file_can_be_taken_apart(self) -> Self:
        if self.delimiter is not None and (not self.delimiter.isascii() or self.delimiter in '"\r\n'):
            raise ValueError(
                f'`delimiter` is {self.delimiter!r}; give one plain character, such as ";" or "\\t"'
            )
        return self


class Rates(Part):
    """Exchange rates of the owner's own, and how old a rate may be before a record is flagged.

    A `file` without a full path lies beside the market file.
    """

    file: Annotated[str, Field(max_length=1000), AfterValidator(_written_out)] | None = None
    oldest_days: Annotated[int, Field(ge=0, le=36_500)] = 7


class ModelTerm(Part):
    """A term of the model: what `pipeline.hedonic.specification.Term` takes, by name.

    A curve or walk runs over a number first, flags over a list first.
    """

    name: Name
    kind: Literal["level", "pooled", "curve", "walk", "flags"]
    columns: Annotated[tuple[Name, ...], Field(min_length=1, max_length=3)]
    reference: Phrase | None = None

    @model_validator(mode="after")
    def _columns_are_those_of_a_pair(self) -> Self:
        for column in self.columns:
            if column not in FACTORS:
                near = suggest(column, FACTORS, most=0)
                near = f"{near} " if near.startswith("did you mean") else ""
                raise ValueError(
                    f"no factor is called {column!r}; {near}a term may read {', '.join(FACTORS)}"
                )
        if len(set(self.columns)) < len(self.columns):
            raise ValueError(f"the term reads a column twice: {', '.join(self.columns)}")
        first = self.columns[0]
        fitting = [name for name, dtype in FACTORS.items() if _carries(self.kind, dtype)]
        if first not in fitting:
            raise ValueError(
                f"a term of kind {self.kind!r} cannot run over {first!r}; its first column is one of "
                f"{', '.join(fitting)}"
            )
        lists = [name for name in self.columns[1:] if FACTORS[name].is_nested()]
        if lists:
            raise ValueError(f"{lists[0]!r} is a list: name it first")
        if self.reference is not None and self.kind not in ("level", "curve"):
            raise ValueError(f"a term of kind {self.kind!r} has no reference; leave `reference` out")
        return self


class Workshop(Part):
    """What the workshop has and costs: hours and money for the next round, and how far work can lift a pair.

    `hour_cost` is what an hour of work costs beyond its materials, `grade_limit` the grade above which no
    restored pair is sold; amounts are in the base currency.
    """

    hours: Hours = 40.0
    money: Amount = Decimal(400)
    hour_cost: Amount = Decimal(0)
    grade_limit: Annotated[float, Field(ge=1, le=10, multiple_of=0.5)] = 9.0


class Sizes(Part):
    """How the owner's own pairs are labelled.

    `usual` is the system of a size that names none, in a pair that the owner describes or in a stock list whose
    map has no `size_system`.
    """

    usual: SizeSystem | None = None


class PairsOfFactors(Part):
    """Pairs of factors whose values are worth more, or less, together than apart.

    `find` looks for them in the records; `always` are in every fit, and `never` are not looked for.
    """

    find: bool = True
    always: Annotated[tuple[tuple[Name, Name], ...], Field(max_length=20)] = ()
    never: Annotated[tuple[tuple[Name, Name], ...], Field(max_length=200)] = ()

    @model_validator(mode="after")
    def _pairs_are_of_factors(self) -> Self:
        months = [pair for pair in self.always if "month" in pair]
        if months:
            raise ValueError(
                f"the pair {months[0][0]!r} and {months[0][1]!r} would need sales of the month in which a pair is "
                "valued; for a market of its own, write a term of kind 'walk' over 'month' and the other"
            )
        for pair in (*self.always, *self.never):
            for column in pair:
                if column not in FACTORS:
                    raise ValueError(f"no factor is called {column!r}; a pair may be of {', '.join(FACTORS)}")
            if pair[0] == pair[1]:
                raise ValueError(f"a pair is of two factors; {pair[0]!r} stands there twice")
        for pair in self.always:
            if set(pair) <= set(LISTS):
                raise ValueError(f"{pair[0]!r} and {pair[1]!r} are both lists; one of a pair may be")
            if set(pair) in map(set, self.never):
                raise ValueError(f"the pair {pair[0]!r} and {pair[1]!r} stands in `always` and in `never`")
        if len({frozenset(pair) for pair in self.always}) < len(self.always):
            raise ValueError("a pair stands twice in `always`")
        return self


class Model(Part):
    """The hedonic model; left out, the default terms are used.

    `degrees_of_freedom` are those of the Student-t errors; "tails" is its earlier name.
    """

    terms: Annotated[tuple[ModelTerm, ...], Field(max_length=100)] = ()
    degrees_of_freedom: Annotated[
        float, Field(ge=2.5, le=200, validation_alias=AliasChoices("degrees_of_freedom", "tails"))
    ] = 5.0
    interactions: PairsOfFactors = Field(default_factory=PairsOfFactors)

    @model_validator(mode="after")
    def _terms_have_names_of_their_own(self) -> Self:
        refuse_alike({"model.terms": [term.name for term in self.terms]})
        for one, other in self.interactions.always:
            others = [term.name for term in self.terms if set(term.columns) != {one, other}]
            named = find_alike(f"{one} by {other}", others) or find_alike(f"{other} by {one}", others)
            if named:
                raise ValueError(
                    f"the term {named!r} is named like the pair of {one} and {other} in `interactions.always`; give it "
                    "another name"
                )
        return self


class Market(Part):
    """The whole market file.

    `colourways` are those that every silhouette has beside its own; each is among a silhouette's own once the file
    is read, unless the silhouette lists one of that name itself. `phrases` are those of sheets, by language.
    """

    base_currency: CurrencyCode
    business: Business = Field(default_factory=Business)
    eras: tuple[Era, ...] = Field(min_length=1)
    words: Words = Field(default_factory=Words)
    colourways: tuple[Colourway, ...] = ()
    makers: tuple[Maker, ...] = ()
    silhouettes: tuple[Silhouette, ...] = ()
    treatments: tuple[Treatment, ...] = ()
    defects: tuple[Named, ...] = ()
    parts: tuple[Named, ...] = ()
    venues: tuple[Venue, ...] = Field(min_length=1)
    maps: dict[Name, ExportMap] = Field(default_factory=dict)
    rates: Rates = Field(default_factory=Rates)
    sizes: Sizes = Field(default_factory=Sizes)
    workshop: Workshop = Field(default_factory=Workshop)
    model: Model = Field(default_factory=Model)
    imports: tuple[Import, ...] = ()
    buying: Buying = Field(default_factory=Buying)
    selling: Selling = Field(default_factory=Selling)
    consigning: Consigning = Field(default_factory=Consigning)
    tickets: Tickets = Field(default_factory=Tickets)
    pictures: Pictures = Field(default_factory=Pictures)
    outcomes: Keeping = Field(default_factory=Keeping)
    phrases: dict[
        Name, dict[Name, Annotated[str, Field(max_length=6000), AfterValidator(_in_paragraphs)]]
    ] = Field(default_factory=dict)
    era_odds: EraOdds = Field(default_factory=EraOdds)

    @model_validator(mode="after")
    def _silhouettes_have_the_common_colourways(self) -> Self:
        if self.colourways:
            shared = tuple(with_common_colourways(one, self.colourways) for one in self.silhouettes)
            object.__setattr__(self, "silhouettes", shared)  # the file is being read: nobody has seen it yet
        return self

    @model_validator(mode="after")
    def _names_are_single_and_known(self) -> Self:
        kinds = ("eras", "colourways", "silhouettes", "treatments", "defects", "parts", "venues")
        named: dict[str, Iterable[str]] = {kind: [one.name for one in getattr(self, kind)] for kind in kinds}
        named["maps"] = self.maps
        makers = dict.fromkeys(silhouette.maker for silhouette in self.silhouettes)
        named["makers"] = makers
        named["makers (with sizes)"] = [maker.name for maker in self.makers]
        for maker in self.makers:
            if maker.name not in makers:
                raise ValueError(
                    f"`makers` names {maker.name!r}, who makes none of the silhouettes; {suggest(maker.name, makers)}"
                )
        named["families"] = dict.fromkeys(silhouette.family for silhouette in self.silhouettes)
        for silhouette in self.silhouettes:
            named[f"silhouette {silhouette.name!r}"] = [one.name for one in silhouette.colourways]
        refuse_alike(named)
        refuse_odd_prior(self.era_odds.prior, [era.name for era in self.eras])
        venues = [venue.name for venue in self.venues]
        for map_name, export_map in self.maps.items():
            if export_map.venue not in venues:
                raise ValueError(
                    f"`maps.{map_name}.venue` is {export_map.venue!r}, which is no venue; "
                    f"{suggest(export_map.venue, venues)}"
                )
        meant = [("buying.sells_at", self.buying.sells_at), *(("imports", one.venue) for one in self.imports)]
        for key, name in meant:
            if name is not None and name not in venues:
                raise ValueError(f"`{key}` names {name!r}, which is no venue; {suggest(name, venues)}")
        places = [(one.venue, one.country) for one in self.imports]
        for place in places:
            if places.count(place) > 1:
                raise ValueError(f"`imports` holds {place[0] or place[1]!r} twice")
        defects = [defect.name for defect in self.defects]
        for treatment in self.treatments:
            for cured in treatment.cures:
                if cured not in defects:
                    raise ValueError(
                        f"treatment {treatment.name!r} cures {cured!r}, which is no defect; {suggest(cured, defects)}"
                    )
        return self

    @cached_property
    def remarks(self) -> tuple[str, ...]:
        """Return what the owner should know of the names and years, in sentences; none of it is a fault."""
        return remarks_on(self)

    def own_colourways(self, silhouette: Silhouette) -> tuple[Colourway, ...]:
        """Return the colourways that a silhouette has beside the common ones."""
        common = {id(one) for one in self.colourways}
        return tuple(one for one in silhouette.colourways if id(one) not in common)

    @cached_property
    def venue_by_name(self) -> dict[str, Venue]:
        """Return the venues by name."""
        return {venue.name: venue for venue in self.venues}

    @cached_property
    def era_by_name(self) -> dict[str, Era]:
        """Return the eras by name."""
        return {era.name: era for era in self.eras}

    @cached_property
    def silhouette_by_name(self) -> dict[str, Silhouette]:
        """Return the silhouettes by name."""
        return {silhouette.name: silhouette for silhouette in self.silhouettes}

    @cached_property
    def without_premium(self) -> tuple[str, ...]:
        """Return the names of the venues that take nothing from buyers."""
        return tuple(one.name for one in self.venues if all(fees.party != "buyer" for fees in one.fees))

    def venue(self, name: str) -> Venue:
        """Return the venue of that name, or of one alike; raises UnknownName."""
        found = name if name in self.venue_by_name else find_alike(name, self.venue_by_name)
        if found is None:
            raise UnknownName.among("venue", name, self.venue_by_name)
        return self.venue_by_name[found]

    def import_from(self, venue: Venue) -> Import:
        """Return what it costs to bring a pair home from a venue: its own entry, else its country's, else nothing."""
        own = [one for one in self.imports if one.venue == venue.name]
        of_country = [one for one in self.imports if venue.country and one.country == venue.country]
        return (*own, *of_country, Import(venue=venue.name))[0]

    def export_map(self, name: str) -> ExportMap:
        """Return the export map of that name, or of one alike; raises UnknownName."""
        found = find_alike(name, self.maps)
        if found is None:
            raise UnknownName.among("export map", name, self.maps)
        return self.maps[found]


def parse_market(text: str, *, where: str) -> Market:
    """Return the market that a TOML text describes.

    `where` names the file in messages. Raises MarketFileError naming file, key, value and allowed.
    """
    return market_of(parse_toml(text, where=where), where=where)


def market_of(tables: Mapping[str, Any], *, where: str) -> Market:
    """Return the market that parsed tables describe; raises as `parse_market`."""
    try:
        market = Market.model_validate(tables)
    except ValidationError as exc:
        raise MarketFileError(*_explain(exc, where)) from exc
    faults = faults_of(market)
    if faults:
        raise MarketFileError(f"{where}: {faults[0]}{_more(len(faults) - 1)}", "correct that key.")
    return market


def load_market(path: Path) -> Market:
    """Read and validate a market file; raises MarketFileError.

    A rate file or a folder of pictures that it names without a full path lies in the market file's own folder.
    """
    text = read_plain_text(
        path, "market file", MOST_BYTES, fault=MarketFileError, missing="`pairband init` writes a starter."
    )
    market = parse_market(text, where=str(path))
    named = [("rates", "file", market.rates.file), ("pictures", "folder", market.pictures.folder)]
    beside = {
        table: getattr(market, table).model_copy(update={key: str(path.parent / name)})
        for table, key, name in named
        if name is not None
    }
    return market.model_copy(update=beside) if beside else market


def _carries(kind: str, dtype: Any) -> bool:
    """Whether a term of a kind can run over a factor of a type first."""
    if kind in ("curve", "walk"):
        return bool(dtype.is_numeric())
    if kind == "flags":
        return bool(dtype.is_nested())
    return kind == "pooled" or not dtype.is_nested()


def _explain(exc: ValidationError, where: str) -> tuple[str, str]:
    """Return (what, remedy) for the first fault, with the count of the others."""
    faults = exc.errors()
    first = faults[0]
    steps = (step for step in first["loc"] if step not in (ONE_HEADING, SEVERAL_HEADINGS))
    key = ".".join(str(step + 1) if isinstance(step, int) else _key(step) for step in steps) or "(the file)"
    message = explain_value(first)
    value = first.get("input")
    seen = (
        ""
        if isinstance(value, dict | list | BaseModel) or first["type"] == "missing"
        else f" (found: {_shown(value)})"
    )
    what = f"{where}: {key}: {message}{seen}{_more(len(faults) - 1)}"
    return (
        what,
        "correct that key; `pairband init` writes a starter that shows every key. (Tables count from 1.)",
    )


def _more(faults: int) -> str:
    return f"\n({faults} more errors in this file)" if faults else ""


def _key(step: str) -> str:
    return step if len(step) <= MOST_SHOWN else f"{step[:MOST_SHOWN]}…"


def _shown(value: object) -> str:
    """Return a value as a message shows it: as it was written, and not at length."""
    text = str(value) if isinstance(value, Decimal) else repr(value)
    return text if len(text) <= MOST_SHOWN else f"{text[:MOST_SHOWN]}…"
