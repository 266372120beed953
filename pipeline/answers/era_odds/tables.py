"""What is said of a pair whose era is in doubt: the mixed band, each era beside it, what finding out is worth."""

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
from pipeline.answers.sheet import Sheet, Table, count, estimate, level, source_words, table, words

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
WORTH_NOTHING = 0.005
"""Finding out is worth nothing where at most it is worth less than this share of the average."""


def era_odds_sheet(doubt: EraInDoubt) -> Sheet:
    """Return the sheet of a pair whose era is in doubt."""
    return Sheet(
        title=f"{pair_name(doubt.pair, era='era in doubt')}, valued on {formats.day(doubt.as_of)}",
        figures=value_figures(doubt.median, doubt.bands, doubt.currency, weak=doubt.weak),
        sentences=(state_doubt(doubt), finding_out_words(doubt), f"The chances are from {doubt.origin}."),
        tables=(eras_table(doubt), bands_table(doubt.bands, doubt.currency).as_detail()),
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
