"""The words of titles that move the price, in sentences and a table."""

from pipeline import formats
from pipeline.answers.sheet import (
    Column,
    Detail,
    Sheet,
    Table,
    change,
    count,
    share,
    source_words,
    table,
    words,
)
from pipeline.answers.title_words.answer import FALSE_SHARE, TitleWords, WordValue
from pipeline.answers.title_words.candidates import FEWEST_DAYS, FEWEST_SALES, FEWEST_VENUES
from pipeline.untrusted import show_words

MOST_SHOWN = 60

KINDS = {"[[parts]]": "a part", "[[defects]]": "a defect"}
"""What a word becomes by the lines that adopt it."""

REASONS = {
    "one venue's style": "are the style of one venue",
    "names": "are written, or stand, as names of persons",
    "perhaps names": f"may be names of persons: capitals do not say it, and fewer than {FEWEST_VENUES} venues say "
    "them, or they stand beside another unknown word",
    "venues and money": "are of venues or currencies",
    "beyond the most frequent": "are less frequent than those looked at",
}
"""Why words are not looked at, as the end of a sentence."""


def words_sheet(found: TitleWords) -> Sheet:
    """Return the sheet of the words of titles that move the price."""
    listed = found.words
    return Sheet(
        title=f"Words of titles that move the price and that no field reads: {len(listed)}"
        if listed
        else "No word of titles that no field reads moves the price",
        sentences=(_looked_at(found), *((_to_do(listed[0]),) if listed else ()), *_left_out(found)),
        tables=(words_table(found),) if listed else (),
        warnings=tuple(
            filter(None, (found.stale, _ONE_VENUE if listed and not found.several_venues else ""))
        ),
        source=source_words(found.source),
    )


def _to_do(first: WordValue) -> str:
    header, name = first.market_file.split("\n")
    return (
        f"Nothing is changed. To adopt a word, add it to market.toml: for “{first.word}”, {header} on a line, {name} "
        "on the next; or add the word to the `phrases` of the part, defect, treatment or era that it means. If rows "
        "that say it are no single pair, add it to `not_a_pair` under [words]. Then run `pairband ingest` on your "
        "exports again, and `pairband fit`."
    )


_ONE_VENUE = (
    "The sales are of one venue (others have too few), so a word that is only its style is not recognised: "
    "look at what it says of the pair."
)


def _looked_at(found: TitleWords) -> str:
    if not found.looked_at:
        return (
            f"No word that no field reads stands in {FEWEST_SALES} sales of {FEWEST_DAYS} days or more, "
            "or those that do are left out."
        )
    return (
        f"Looked at: {formats.counted(found.looked_at, 'word')} or pairs of words, in {FEWEST_SALES} sales of "
        f"{FEWEST_DAYS} days or more each. Of many words some seem to matter by chance: about "
        f"{formats.level(FALSE_SHARE)} of those listed may be."
    )


def _left_out(found: TitleWords) -> tuple[str, ...]:
    """Return why other words are not looked at; a detail, with how many they are."""
    return tuple(
        Detail(f"Left out: {formats.counted(number, 'word')} or pairs of words that {REASONS[reason]}.")
        for reason, number in found.left_out.items()
    )


def words_table(found: TitleWords) -> Table:
    """Return one row a word: its sales, what it is worth, what it is adopted as, and an example."""
    return table(
        "words",
        "Words of titles, the most telling first",
        (
            words("word", "Word"),
            count("sales", "Sales"),
            share("share", "Worth"),
            Column("error", "±", lambda error: formats.share(error).lstrip("+"), number=True),
            change("money", "At the median price", found.currency, found.median_price),
            Column("market_file", "Adopt as", lambda lines: KINDS[lines.split("\n")[0]]),
            Column("example", "As a title says it", lambda near: show_words(near, MOST_SHOWN)),
        ),
        [vars(word) for word in found.words],
        note="Worth: by how much the price is higher or lower with the word, everything else equal; ±: its standard "
        "error. It is learned from what the fit leaves open, so a word that mostly goes with an attribute (an era, a "
        f"grade) is valued too low. The median price is {formats.estimate(found.median_price, found.currency)}.",
    )
