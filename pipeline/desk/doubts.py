"""Doubts settled one by one: both sides beside each other, and what can be decided as buttons with a key each."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any, get_args

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from pipeline import formats
from pipeline.answers.records.answer import OneRecord
from pipeline.answers.understood.tables import field_title, origin_title
from pipeline.desk.calls import Called, call
from pipeline.desk.desk import Desk
from pipeline.desk.doubt_list import BETWEEN, TITLES, Doubt, Kind, address, place_of
from pipeline.desk.pages import desk_of, show
from pipeline.desk.posted import posted
from pipeline.desk.record import decision_row, read_record, read_records, rule, say_done
from pipeline.ingest.put_right import decisions
from pipeline.ingest.review import OF_TWO
from pipeline.schema import COLUMN, SALE_RECORD, UNKNOWN

TENTH, TENFOLD = "a tenth", "tenfold"
"""What a price is corrected to where its decimal mark is misplaced."""

PATIENCE = 30.0
"""Seconds for which the page of doubts waits until they are found."""

_IN_CONFLICT = "era in conflict"
_NOT_SHOWN = ("pair_key", "held_out", "flags", "rate", "rate_on", "stamp_from", "stamp_to")


@dataclass(frozen=True)
class Choice:
    """What can be decided of a doubt: the key for it, its words, and what the form sends."""

    key: str
    words: str
    decision: str
    era: str = ""

    @property
    def sent(self) -> str:
        """What its button sends."""
        return f"era:{self.era}" if self.era else self.decision


@dataclass(frozen=True)
class Beside:
    """One field of two sales beside each other."""

    title: str
    left: str
    right: str

    @property
    def differs(self) -> bool:
        """Whether both know it, and not the same."""
        return self.left != self.right


OF_PAIRS = (
    Choice("s", "Same sale: count it once", "same sale"),
    Choice("d", "Different sales", "different sales"),
    Choice("p", "Same pair, sold twice", "same pair"),
)


def routes() -> list[Route]:
    """Return the routes of doubts."""
    return [
        Route("/doubts", _page),
        Route("/doubts/decide", _decide, methods=["POST"]),
        Route("/doubts/undo", _undo, methods=["POST"]),
    ]


def _page(request: Request) -> Response:
    """Answer with the doubt that the address names, or the first that is left."""
    desk = desk_of(request)
    every = desk.doubts(PATIENCE) or ()
    kind = _kind(request.query_params.get("kind", ""))
    doubts = _of_kind(every, kind)
    kinds = [
        (title, address(one), len(_of_kind(every, one)), one == kind)
        for one, title in (("", "All"), *TITLES.items())
    ]
    last = _last_decision(desk) if desk.has_ledger else None
    values: dict[str, Any] = {"kinds": kinds, "kind": kind, "last": last, "left": len(doubts)}
    if not doubts:
        return show(request, "desk/doubts.html.j2", title="Doubts", doubt=None, **values)
    at = place_of(doubts, request.query_params.get("at", ""))
    doubt = doubts[at]
    values |= {
        "place": at + 1,
        "later": address(kind, doubts[(at + 1) % len(doubts)].key),
        "back": address(kind, doubts[at - 1].key),
        "heading": TITLES[doubt.kind],
    }
    sides = read_records(desk, doubt.record_ids)
    market = desk.market()
    return show(
        request,
        "desk/doubts.html.j2",
        title="Doubts",
        scripts=("desk/doubts.js",),
        doubt=doubt,
        sides=[_side(found, record) for found, record in sides],
        beside=_fields_beside(*(found for found, _ in sides)) if len(sides) == len(("left", "right")) else (),
        choices=_choices(doubt, sides[0][1], [era.name for era in market.eras] if market else []),
        field_title=field_title,
        **values,
    )


def _kind(said: str) -> str:
    return said if said in get_args(Kind) else ""


def _of_kind(doubts: tuple[Doubt, ...], kind: str) -> tuple[Doubt, ...]:
    return tuple(one for one in doubts if not kind or one.kind == kind)


def _choices(doubt: Doubt, record: dict[str, Any], eras: list[str]) -> tuple[Choice, ...]:
    """Return what can be decided of a doubt."""
    if doubt.kind == "same":
        return OF_PAIRS
    keep_out = Choice("o", "Keep it out of the fit", "hold")
    if doubt.kind == "price":
        put_right = TENTH if _is_too_high(doubt) else TENFOLD
        words = f"It is {_put_right_price(record, put_right):,f} {record['currency'] or ''}".strip()
        return (Choice("a", "The price is right", "accept"), Choice("t", words, put_right), keep_out)
    of_era = tuple(
        Choice(str(number), f"Its era is {era}", "era", era)
        for number, era in enumerate(eras[:9], start=1)
        if _IN_CONFLICT in doubt.why
    )
    return (*of_era, Choice("a", "Accept it as it is", "accept"), keep_out)


def _is_too_high(doubt: Doubt) -> bool:
    return "too high" in doubt.why


def _put_right_price(record: dict[str, Any], how: str) -> Decimal:
    """Return a price with its decimal mark a place further."""
    price = Decimal(str(record["price_native"]))
    return (price / 10 if how == TENTH else price * 10).quantize(Decimal("0.01"))


def _side(found: OneRecord, record: dict[str, Any]) -> dict[str, Any]:
    """Return one record as a doubt shows it."""
    return {
        "href": f"/records/{found.record_id}",
        "title": found.title,
        "rows": found.rows,
        "files": [f"row {row.row_number} of {row.file_name}" for row in found.rows],
        "paid": "" if found.price_paid is None else formats.amount(found.price_paid, found.currency),
        "value": "" if found.value is None else formats.estimate(found.value, found.currency),
        "facts": [
            (title, text)
            for title, text in (
                ("Era as read", " ".join(filter(None, (record["era"], _from(record["era_origin"]))))),
                ("Stamp", record["stamp_text"]),
                ("Year made", record["production_year"]),
                ("Sold", _text("sold_on", found)),
                ("At", record["venue"]),
            )
            if text
        ],
    }


def _from(origin: str | None) -> str:
    return f"({origin_title(origin).lower()})" if origin and origin != UNKNOWN else ""


def _fields_beside(left: OneRecord, right: OneRecord) -> list[Beside]:
    """Return all that is known of two sales, field by field, those that differ marked."""
    return [
        Beside(field_title(name), _text(name, left), _text(name, right))
        for name in (column.name for column in SALE_RECORD)
        if name not in _NOT_SHOWN and (name in left.known or name in right.known)
    ]


def _text(name: str, found: OneRecord) -> str:
    """Return a field of a record as people read it; "" where it is not known."""
    text = found.known.get(name, "")
    if not text:
        return ""
    unit = COLUMN[name].unit
    if unit == "day":
        return formats.day(date.fromisoformat(text))
    if name in ("price_paid", "ask_price"):
        return formats.exact_or_whole(Decimal(text), found.currency)
    if unit == "in `currency`":
        return f"{Decimal(text):,.2f} {found.known.get('currency', '')}".strip()
    return text


def _decide(request: Request) -> Response:
    """Keep a decision on a doubt and go on to the next; where it is refused, say why and stay."""
    desk, said = desk_of(request), posted(request)
    kind, key = _kind(said.get("kind", "")), said.get("at", "")
    every = desk.doubts(PATIENCE) or ()
    doubts = _of_kind(every, kind)
    doubt = next((one for one in doubts if one.key == key), None)
    if doubt is None:
        desk.notices.add("This doubt was settled before, or its records changed; nothing was done.")
        return RedirectResponse(address(kind), 303)
    called = _settle(desk, doubt, said.get("decision", ""), said.get("reason", ""))
    if called.fault:
        desk.notices.add(called.fault)
        return RedirectResponse(address(kind, key), 303)
    following = doubts[(doubts.index(doubt) + 1) % len(doubts)]
    return RedirectResponse(address(kind, following.key), 303)


def _settle(desk: Desk, doubt: Doubt, decision: str, reason: str) -> Called:
    """Keep a decision on a doubt, as the command does; raises HTTPException for one that is none on it."""
    _, record = read_record(desk, doubt.record_ids[0])
    market = desk.market()
    eras = [era.name for era in market.eras] if market else []
    found = next((one for one in _choices(doubt, record, eras) if one.sent == decision), None)
    if found is None:
        raise HTTPException(400, "This cannot be decided of this doubt.")
    if found.decision in (TENTH, TENFOLD):
        price = _put_right_price(record, found.decision)
        return call("correct", [f"--reason={reason}", "--", doubt.record_ids[0], f"price_native={price:f}"])
    return rule(found.decision, *doubt.record_ids, era=found.era, note=reason)


def _last_decision(desk: Desk) -> dict[str, str] | None:
    """Return the decision that was made last, None where there is none."""
    with desk.workspace() as workspace:
        kept = decisions(workspace.ledger)
    return decision_row(kept.row(-1, named=True)) if kept.height else None


def _undo(request: Request) -> Response:
    """Take a decision back, and go to the doubt that it had settled."""
    desk, said = desk_of(request), posted(request)
    decision = said.get("decision", "")
    with desk.workspace() as workspace:
        kept = decisions(workspace.ledger).filter(decision_id=decision).to_dicts()
    say_done(desk, call("undo", ["--", decision]))
    keys = [one["row_key"] for one in kept]
    keys += [one["other_key"] for one in kept if one["kind"] in OF_TWO]
    return RedirectResponse(address(_kind(said.get("kind", "")), BETWEEN.join(sorted(keys))), 303)
