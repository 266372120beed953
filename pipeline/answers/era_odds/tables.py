"""What is said of a pair whose era is in doubt: the mixed band, each era beside it, what finding out is worth."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from functools import partial
from typing import Any

import polars as pl

from pipeline import formats
from pipeline.answers.appraisal.cautions import state_weakness
from pipeline.answers.appraisal.tables import (
    band_column,
    bands_table,
    middle_band,
    pair_name,
    value_figures,
)
from pipeline.answers.era_odds.answer import EraInDoubt
from pipeline.answers.era_odds.learned import LearnedOdds, Piece
from pipeline.answers.sheet import (
    Column,
    Detail,
    Sheet,
    Table,
    count,
    estimate,
    level,
    source_words,
    table,
    words,
)
from pipeline.market.era_reliability import FEWEST, Reliability

ERA_ROWS = {
    "words": pl.String,
    "chance": pl.Float64,
    "median": pl.Float64,
    "low": pl.Float64,
    "high": pl.Float64,
    "sales": pl.Int64,
}


ANSWER_IN_DOUBT = "With the era in doubt, 8 in 10 such pairs sell for between {low} and {high}, all-in."
FINDING_OUT_AT_AVERAGE = (
    "If you can buy it for {average}, its average over the eras, finding out is worth {most}, and never more. "
    "The closer the price is to that of one era, the less an answer is worth."
)
FINDING_OUT_AT_PRICE = (
    "If you can buy it for {price}, finding out is worth {worth}; at most it is worth {most}, at {average}."
)
"""The sentences of a pair whose era is in doubt; the pricing page says them too."""


FINDING_OUT_NOTHING = (
    "As far as the records tell, the pair is worth the same in each era: finding out is worth nothing."
)
CLEAR = 0.1
"""A factor from here on is written with two decimals, a smaller one with its first figure."""

WORTH_NOTHING = 0.005
"""Finding out is worth nothing where at most it is worth less than this share of the average."""


def era_odds_sheet(doubt: EraInDoubt) -> Sheet:
    """Return the sheet of a pair whose era is in doubt."""
    return Sheet(
        title=f"{pair_name(doubt.pair, era='era in doubt')}, valued on {formats.day(doubt.as_of)}",
        figures=value_figures(doubt.median, doubt.bands, doubt.currency, weak=doubt.weak),
        sentences=(state_doubt(doubt), finding_out_words(doubt), *origin_words(doubt)),
        tables=(
            eras_table(doubt),
            *learned_tables(doubt.learned),
            bands_table(doubt.bands, doubt.currency).as_detail(),
        ),
        warnings=doubt.cautions,
        source=source_words(doubt.source),
        weak=state_weakness(doubt.weak),
    )


def state_doubt(doubt: EraInDoubt) -> str:
    """Return the answer in words."""
    band = middle_band(doubt.bands)
    if band is None:
        return "The era is in doubt: the value mixes the prices of the eras by their chances."
    low, high = (formats.estimate(end, doubt.currency) for end in (band.low, band.high))
    return ANSWER_IN_DOUBT.format(low=low, high=high)


def finding_out_words(doubt: EraInDoubt) -> str:
    """Return in words what a certain answer is worth."""
    most, average, price, worth = (
        formats.estimate(value, doubt.currency)
        for value in (doubt.most, doubt.average, doubt.at_price, doubt.finding_out)
    )
    if doubt.most < WORTH_NOTHING * doubt.average:
        return FINDING_OUT_NOTHING
    sentence = FINDING_OUT_AT_AVERAGE if doubt.at_price == doubt.average else FINDING_OUT_AT_PRICE
    return sentence.format(most=most, average=average, price=price, worth=worth)


def origin_words(doubt: EraInDoubt) -> tuple[str, ...]:
    """Return in sentences where the chances come from, and how well such chances did."""
    learned = doubt.learned
    if learned is None:
        return ("The chances are your odds.",)
    return (
        f"The chances are learned from {formats.counted(learned.records, 'record')} that state an era, each pair once.",
        reliability_words(learned.reliability, own_prior=learned.own_prior),
        *(Detail(piece_words(piece, learned.eras)) for piece in learned.pieces if sum(piece.stated)),
        *(Detail(label_words(learned)) for piece in learned.pieces if not piece.stated),
    )


def reliability_words(found: Reliability | None, *, own_prior: bool) -> str:
    """Return in a sentence how well the chances did on later records."""
    if found is None:
        return f"There are too few records to test the chances on later ones: it takes more than {FEWEST}."
    return (
        f"Tested on {formats.counted(found.judged, 'later record')}, each with what was known before: on average "
        f"(geometric mean) the true era was given {formats.level(found.right)}, by "
        f"{'your prior and ' if own_prior else ''}the silhouette alone {formats.level(found.right_before)}."
    )


def piece_words(piece: Piece, eras: Sequence[str]) -> str:
    """Return in a sentence how many records of each era have what is seen."""
    counted = ", ".join(
        f"{formats.count(with_it)} of {formats.count(stated)} {era}"
        for era, with_it, stated in zip(eras, piece.with_it, piece.stated, strict=True)
        if stated
    )
    where = " (of all silhouettes)" if piece.of_all else ""
    return f"{_seen(piece)}: on {counted}{where}."


def label_words(learned: LearnedOdds) -> str:
    """Return in a sentence what is assumed of years that a label or words say."""
    return (
        "Years: a pair is as likely to be of any year of its era; "
        f"{_fine_level(learned.wrong_labels)} of your label dates contradict the era stated, so they may "
        "be wrong here too."
    )


def learned_tables(learned: LearnedOdds | None) -> tuple[Table, ...]:
    """Return how the chances came about, and how well such chances did; nothing where the owner gave them."""
    if learned is None:
        return ()
    return (
        pieces_table(learned),
        *((reliability_table(learned.reliability).as_detail(),) if learned.reliability else ()),
    )


def pieces_table(learned: LearnedOdds) -> Table:
    """Return one row a step: the chances by silhouette, what each thing seen multiplies them by, and what comes of it.

    Columns: words and step ("start", "piece" or "end"), and era_0, era_1, …: a chance, or a factor.
    """
    start = "Your prior and the silhouette" if learned.own_prior else "By the silhouette alone"
    steps = [
        ("start", start, learned.start),
        *(("piece", _seen(piece), piece.factors) for piece in learned.pieces),
        ("end", "The chances", learned.chances),
    ]
    rows = [
        {"words": name, "step": step, **{f"era_{place}": value for place, value in enumerate(values)}}
        for step, name, values in steps
    ]
    return table(
        "evidence",
        "What each thing seen does to the chances",
        (
            words("words", "Seen"),
            *(
                Column(f"era_{place}", era, number=True, describe=partial(_step_text, key=f"era_{place}"))
                for place, era in enumerate(learned.eras)
            ),
        ),
        rows,
        Detail("×2 doubles the weight of an era against the others; the chances then come to 100 % again."),
    )


def reliability_table(found: Reliability) -> Table:
    """Return one row a range of chances given to eras of later records: how many, their mean, and how many were so."""
    return table(
        "reliability",
        f"How the chances did on {formats.counted(found.judged, 'later record')}",
        (
            Column("low", "Chance given", describe=_bin_text),
            count("times", "Times"),
            level("given", "On average"),
            level("were", "Were so"),
            Column("error", "± chance", _fine_level, number=True),
        ),
        [asdict(one) for one in found.bins],
        f"Each record since {formats.day(found.since)} counts once for each era. Where the chances are right, about 2 "
        "of 3 rows differ by less than the last column.",
    )


def _seen(piece: Piece) -> str:
    return f"{piece.name.capitalize()} {piece.value}"


def _step_text(row: Mapping[str, Any], *, key: str) -> str:
    value: float = row[key]
    if row["step"] != "piece":
        return _fine_level(value)
    return f"×{value:.2f}" if value >= CLEAR else f"×{formats.round_figures(value, 1):f}"


def _fine_level(share: float) -> str:
    """Return a share without a sign, with a decimal where it is small: 66 %, 0.4 %."""
    return formats.share(share).lstrip("+")


def _bin_text(row: Mapping[str, Any]) -> str:
    return f"{row['low'] * 100:.0f}–{row['high'] * 100:.0f}\u00a0%"


def eras_table(doubt: EraInDoubt) -> Table:
    """Return one row an era, the mixture first: words, chance, median, range (text), low, high, sales in it."""
    band = middle_band(doubt.bands)
    mixed = {"words": "In doubt", "median": doubt.median} | (
        {"low": band.low, "high": band.high} if band else {}
    )
    eras = (
        {
            "words": f"If {era.era}",
            "chance": era.chance,
            "median": era.median,
            "low": era.low,
            "high": era.high,
            "sales": era.sales,
        }
        for era in doubt.eras
    )
    return table(
        "eras",
        "What the pair is worth in each era",
        (
            words("words", "Era"),
            level("chance", "Chance"),
            estimate("median", "Fair value", doubt.currency),
            band_column(doubt.currency),
            count("sales", "Sales"),
        ),
        pl.DataFrame([mixed, *eras], schema=ERA_ROWS),
    )
