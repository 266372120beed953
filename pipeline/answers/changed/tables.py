"""What changed, in words and tables: all pairs together, each pair, and the new sales that moved it."""

from dataclasses import replace

import polars as pl

from pipeline import formats
from pipeline.answers.changed.answer import (
    MARKET,
    MARKET_FILE,
    NEW_SALES,
    PAIR,
    PARTS,
    PUT_RIGHT,
    Changed,
    rounded,
    together,
)
from pipeline.answers.sheet import (
    Column,
    Detail,
    Sheet,
    Table,
    amount,
    change,
    count,
    day,
    difference,
    factor,
    share,
    source_words,
    table,
    words,
)

NAMES: dict[str, str] = {
    MARKET: "Market",
    NEW_SALES: "New sales",
    PUT_RIGHT: "Records put right",
    MARKET_FILE: "Market file",
    PAIR: "The pair",
}
HEADINGS: dict[str, str] = NAMES | {PUT_RIGHT: "Put right"}

METHOD = (
    "The parts add up to the change. All but the market are taken on the earlier day: each is what it adds on average "
    "over all orders in which they could have come. The market is the step from there to the later day, by the latest "
    "fit."
)
MOST_PAIRS, MOST_NAMED = 10, 3
"""The pairs, and the new sales, that are shown without details."""

SETTINGS: dict[str, str] = {
    "base_currency": "the currency",
    "colourways": "common colourways",
    "model": "the model",
    "parts": "parts of the set",
    "rates": "the age of rates",
}
"""What parts of the market file are called, where that is not their own name."""


def changed_sheet(changed: Changed) -> Sheet:
    """Return the sheet of what changed: together, then pair by pair."""
    pairs = _furthest_first(changed)
    columns = ("stock_ref", "pair", "then", "now", "change", *changed.causes)
    return Sheet(
        title=f"What changed from {formats.day(changed.since)} to {formats.day(changed.as_of)}",
        figures=changed_figures(changed),
        sentences=(*state_changed(changed), Detail(METHOD)),
        tables=(
            *(
                (parts_table(changed), pairs.showing(*columns).marked(cut=("pair",)))
                if changed.pairs.height
                else ()
            ),
            *((differing_table(changed).as_detail(),) if changed.pairs["differs"].count() else ()),
            *(_moved_tables(changed) if changed.moved_by.height else ()),
        ),
        warnings=changed.cautions,
        source=f"{source_words(changed.source)} Then: fit {changed.earlier.fit_id}.",
    )


def _furthest_first(changed: Changed) -> Table:
    """Return the pairs as the terminal shows them: those that changed most first."""
    pairs = pairs_table(changed, whole=True)
    rows = pairs.rows.sort(pl.col("change").abs(), descending=True, maintain_order=True)
    return replace(pairs, title="Each pair, the largest change first", rows=rows, first=MOST_PAIRS)


def _moved_tables(changed: Changed) -> tuple[Table, ...]:
    together, single = moved_together_table(changed), moved_table(changed)
    return replace(together, first=MOST_NAMED, note=Detail(MOVED)).marked(cut=("sale",)), single.as_detail()


def changed_figures(changed: Changed) -> tuple[tuple[str, str], ...]:
    """Return the values of all pairs together, then and now."""
    if not changed.pairs.height:
        return ()
    [whole] = whole_units(changed).to_dicts()
    return (
        (
            f"Sum of fair values, {formats.day(changed.since)}",
            formats.amount(whole["then"], changed.currency),
        ),
        (
            f"Sum of fair values, {formats.day(changed.as_of)}",
            formats.amount(whole["now"], changed.currency),
        ),
        ("Change", _change_words(changed)),
    )


def whole_units(changed: Changed) -> pl.DataFrame:
    """Return the sums over all pairs in whole units, the parts adding up to the change."""
    return rounded(together(changed.pairs), 0)


def _change_words(changed: Changed) -> str:
    [whole] = whole_units(changed).to_dicts()
    moved = formats.share(whole["now"] / whole["then"] - 1)
    return f"{formats.gain(whole['change'], changed.currency)} ({moved})"


def state_changed(changed: Changed) -> tuple[str, ...]:
    """Return the answer in a few sentences: the largest part, and how sure the market's is."""
    if not changed.pairs.height:
        return ("No pair of this list is still there.",)
    [whole] = whole_units(changed).to_dicts()
    pairs = formats.counted(changed.pairs.height, "pair")
    if not any(whole[part] for part in PARTS) and not whole["change"]:
        return (f"Nothing changed the values of these {pairs} by as much as one unit of money.",)
    cause = _CAUSED[max(PARTS, key=lambda part: abs(whole[part]))]
    turn = "rose" if whole["change"] > 0 else "fell"
    amount_of_it = formats.amount(abs(whole["change"]), changed.currency)
    share_of_it = formats.share(abs(whole["now"] / whole["then"] - 1)).lstrip("+")
    return (
        f"The values of {pairs} together {turn} by {amount_of_it} ({share_of_it}), above all through {cause}."
        if whole["change"]
        else f"The values of {pairs} together are what they were: what moved them cancels out.",
        market_words(changed),
    )


_CAUSED: dict[str, str] = {
    MARKET: "the market",
    NEW_SALES: "what new sales say of such pairs",
    PUT_RIGHT: "records that were put right",
    MARKET_FILE: "changes of the market file",
    PAIR: "what the pairs themselves are now",
}


def market_words(changed: Changed) -> str:
    """Say how sure the market's part is."""
    [whole] = whole_units(changed).to_dicts()
    moved, error = whole[MARKET], whole["market_error"]
    if not moved and not error:
        return "The index has not moved between these days."
    amount_of_it = formats.amount(abs(moved), changed.currency)
    did = "moved nothing" if not moved else f"{'added' if moved > 0 else 'took off'} {amount_of_it}"
    chance = ": that may be chance" if abs(moved) <= error else ""
    return f"The market {did}, with a standard error of {formats.amount(error, changed.currency)}{chance}."


def parts_table(changed: Changed) -> Table:
    """Return one row a part of the change of all pairs together, and what is behind it."""
    [whole] = whole_units(changed).to_dicts()
    return table(
        "parts",
        "What the change is made of",
        (
            words("name", "Part"),
            difference("money", "Change", changed.currency),
            share("share", "In %"),
            words("behind", "What is behind it"),
        ),
        [
            {
                "part": part,
                "name": NAMES[part],
                "money": whole[part],
                "share": whole[part] / whole["then"],
                "behind": _behind(changed, part),
            }
            for part in changed.causes
        ],
    )


def _behind(changed: Changed, part: str) -> str:
    """Say what is behind a part."""
    behind = changed.records.get(part, 0)
    if part == MARKET:
        return f"the index, {formats.day(changed.since)} to {formats.day(changed.as_of)}"
    if part == NEW_SALES:
        return f"{formats.counted(behind, 'sale')} that came in since"
    if part == PUT_RIGHT:
        return f"{formats.counted(behind, 'sale')} corrected, removed or settled"
    if part == PAIR:
        return f"{formats.counted(changed.pairs['differs'].count(), 'pair')} not as before"
    named = ", ".join(SETTINGS.get(name, name) for name in changed.settings)
    read = f"{formats.counted(behind, 'sale')} read in another way" if behind else ""
    return "; ".join(said for said in (named, read) if said) or "another version of pairband"


def pairs_table(changed: Changed, *, whole: bool = False) -> Table:
    """Return one row a pair: its value then and now, and the parts of the change; in `whole` units, or to the cent."""
    currency = changed.currency
    pairs = rounded(changed.pairs, 0) if whole else changed.pairs
    return table(
        "pairs",
        "Each pair",
        (
            count("row_number", "Row"),
            words("stock_ref", "Number"),
            Column("pair", "Pair"),
            amount("then", "Then", currency),
            amount("now", "Now", currency),
            difference("change", "Change", currency),
            share("share", "Change in %"),
            *(difference(part, HEADINGS[part], currency) for part in PARTS),
            amount("market_error", "Market ±", currency),
            words("differs", "Not as before"),
        ),
        pairs.with_columns(
            pair=pl.concat_str("silhouette", "colourway", "era", separator=" ", ignore_nulls=True)
        ),
    )


def differing_table(changed: Changed) -> Table:
    """Return the pairs that are not as they were, and what is otherwise."""
    shown = (
        pairs_table(changed, whole=True).showing("stock_ref", "pair", PAIR, "differs").marked(cut=("pair",))
    )
    return table(
        "differs", "Pairs not as they were", shown.columns, shown.rows.filter(pl.col("differs").is_not_null())
    )


def moved_table(changed: Changed) -> Table:
    """Return the new sales that moved each pair's value most."""
    return table(
        "moved",
        "The new sales that moved each value most",
        (words("stock_ref", "Number"), *_moved_columns(changed)),
        changed.moved_by.with_columns(factor=1 + pl.col("share")),
        MOVED,
    )


def moved_together_table(changed: Changed) -> Table:
    """Return the new sales that moved all values together most."""
    return table(
        "moved_together",
        "The new sales that moved the values most",
        _moved_columns(changed),
        changed.moved_together.with_columns(factor=1 + pl.col("share")),
        MOVED,
    )


MOVED = "Moved by: the value less what it would be without that one sale, by the latest fit."


def _moved_columns(changed: Changed) -> tuple[Column, ...]:
    return (
        Column("record_id", "Record", lambda record: record[:6]),
        words("sale", "Sale"),
        day("sold_on", "Sold on"),
        amount("price_paid", "Paid", changed.currency),
        change("moved", "Moved by", changed.currency),
        factor("factor", "In %"),
    )
