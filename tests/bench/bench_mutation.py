"""Small faults put into money, sizes and the hedonic core, one at a time: does a test notice each?

Run: `python -m tests.bench.bench_mutation [money|sizes|hedonic]...` (all three unless told), with mutmut
installed. It works in a clone of the committed state, in a temporary folder. For each scope it prints how
many faults there were, how many the scope's tests noticed, and which they did not; one that EXPLAINED gives a
reason for is counted apart. It ends with 1 where one is left, with 2 where it cannot be run. Two busy cores
try about one fault a second: ten minutes for sizes, half an hour for the hedonic core,
most of an hour for money.

A module's constants and its functions under a decorator (but for static and class methods) get no faults:
mutmut leaves them alone.
"""

import importlib.util
import os
import subprocess
import sys
import sysconfig
import tempfile
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]
MUTMUT = Path(sysconfig.get_path("scripts")) / "mutmut"
WORKERS = 2
NOTICED = ("killed", "caught by type check")
PRINTED = {"timeout": "timed out", "no tests": "reached by no chosen test"}


@dataclass(frozen=True)
class Scope:
    """Modules that get faults, and the tests that should notice them."""

    modules: tuple[str, ...]
    tests: tuple[str, ...]


SCOPES = {
    "money": Scope(
        ("pipeline/fees/*.py", "pipeline/ingest/rates.py", "pipeline/ingest/money.py"),
        (
            "tests/unit/test_bids.py",
            "tests/unit/test_fee_columns.py",
            "tests/unit/test_fees.py",
            "tests/unit/test_money.py",
            "tests/unit/test_rates.py",
            "tests/oracle/test_ecb_rates.py",
            "tests/oracle/test_lot_bids_by_hand.py",
            "tests/property/test_fees.py",
            "tests/property/test_bids.py",
        ),
    ),
    "sizes": Scope(
        ("pipeline/ingest/sizes.py",),
        ("tests/unit/test_sizes.py", "tests/oracle/test_size_formulas.py"),
    ),
    "hedonic": Scope(
        (
            "pipeline/hedonic/percent.py",
            "pipeline/hedonic/distributions.py",
            "pipeline/hedonic/bands.py",
            "pipeline/hedonic/scores.py",
            "pipeline/hedonic/penalties.py",
            "pipeline/hedonic/robust.py",
            "pipeline/hedonic/rows.py",
            "pipeline/hedonic/predict.py",
            "pipeline/hedonic/conformal.py",
        ),
        (
            "tests/unit/test_calibration.py",
            "tests/unit/test_hedonic_bands.py",
            "tests/unit/test_hedonic_prediction.py",
            "tests/unit/test_hedonic_robust.py",
            "tests/oracle/test_bands_conformal.py",
            "tests/oracle/test_distributions.py",
            "tests/oracle/test_hedonic_penalised_reference.py",
            "tests/oracle/test_hedonic_percent.py",
            "tests/oracle/test_penalties_by_hand.py",
            "tests/oracle/test_robust_by_hand.py",
            "tests/oracle/test_rows_by_hand.py",
            "tests/oracle/test_scores_by_hand.py",
            "tests/property/test_scores.py",
        ),
    ),
}

SETTINGS = """
[tool.mutmut]
source_paths = ["pipeline"]
only_mutate = {modules}
also_copy = ["sql", "sample_data", "reports", "README.md", "DEVELOPERS.md"]
pytest_add_cli_args = ["-x", "-q", "-p", "no:cacheprovider"]
pytest_add_cli_args_test_selection = {tests}
process_isolation = "forkserver"
timeout_multiplier = 5.0
timeout_constant = 2.0
"""
"""The fork server has run no query when it forks: a child of a process that has would wait for ever on
the threads of polars, and count as timed out."""

FEW_EXAMPLES = '''"""Few examples of a property, none of them made smaller, and the properties after all else."""

import pytest
from hypothesis import Phase, settings

settings.register_profile(
    "few", derandomize=True, deadline=None, max_examples=25, phases=[Phase.explicit, Phase.generate]
)
settings.load_profile("few")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    items.sort(key=lambda item: "property" in item.nodeid)
'''


LEFT_ORDER = "polars keeps the order of the left rows without being told; it only does not promise it"
UNTOLD = "it is what is done untold"
SORTED = "the rows have just been sorted, so that a look finds them so"
SAME_LENGTH = "both lists are made one from the other and are equally long"
WHOLE = "numpy holds these whole numbers exactly by itself"
OBJECTS = "numbers of Python's own give what 64-bit ones give, only slower"
WIDE = "what comes of it and a column of 128 bits has 128 bits"
TRIED_ABOUT = "so many prices about the unrounded one are tried that one more or less changes no answer"
WIDER = "the prices further off leave too much"
EITHER = "a row without a schedule or without an amount has no price; the one does without the other"
UNREAD = "the column is not read afterwards"
NOT_ALL_IN = "whatever is not all-in is worked out as a net"
LETTERS = "a pattern names the class of letters by a capital or a small L alike"
OWN_TYPE = "a text is a text untold, and an absent one takes the type of the column beside it"
JOINED = "the rows are joined to others afterwards, and the order is that of those"
FLOATS = "scipy gives 64-bit floats by itself"
SAME_DIGITS = "both ways to work it out give the same digits, and differ in time only"
SAME_ROOT = "the search comes to the same root from any start, by halving where a step leaves the bracket"
MORE_ROUNDS = "the rounds that follow the last change nothing"
AT_THE_END = "a step exactly on an end of the bracket is the root itself or is halved away"
NO_FIT = "the rows are put together without a look at the fit"
SAME_FIT = "both are laid out for one fit, term by term, and are equally long"
AGAIN = "what is worked out twice comes out the same, and takes longer only"
NAMELESS = "nobody asks what the column of keys is called"
FROM_NONE = "numpy takes no type for that of 64-bit floats"
LETTER = "numpy knows the way to sort by a small or a large letter"
ANY_ORDER = "rows, and the slots of a row, come to the same sum in any order"
SAME_FOUND = "a few are told apart from many for their time only"
NO_LEVEL = "a place that is a level is not looked for between the levels"
HAS_AXIS = "an ordered term always has an axis"

BELOW = "every number below nought says that it lies beyond no end"
NONE_ADDED = "a curve of one level adds no variance anywhere, and where none is added no step is worked out"
STRETCHED = "numpy stretches what holds for one row to as many as the other has"
STRAIGHT = "a curve of one level has no noise beyond it, whatever its chord"
NONE_IS_NAN = "numpy writes None into floats as NaN"

EXPLAINED: dict[tuple[str, str], str] = {
    # money
    (
        "fees.bids.fees_of",
        "exact = np.int64 if (scaled.rate_digits <= _EXACT_DIGITS) and False else object",
    ): OBJECTS,
    ("fees.bids.fees_of", "exact = np.int64 if scaled.rate_digits < _EXACT_DIGITS else object"): OBJECTS,
    ("fees.bids.fees_of", "edges = np.array([step.up_to for step in scaled.steps[:-1]], dtype=None)"): WHOLE,
    ("fees.bids.fees_of", "edges = np.array([step.up_to for step in scaled.steps[:-1]], )"): WHOLE,
    ("fees.bids.fees_of", "tier = np.searchsorted(edges, hammers.astype(np.int64), )"): UNTOLD,
    ("fees.bids.fees_of", 'tier = np.searchsorted(edges, hammers.astype(None), side="left")'): WHOLE,
    (
        "fees.bids.fees_of",
        "np.array([getattr(step, name) for step in scaled.steps], dtype=None)[tier]",
    ): OBJECTS,
    ("fees.bids.fees_of", "np.array([getattr(step, name) for step in scaled.steps], )[tier]"): OBJECTS,
    (
        "fees.bids.greatest_bids",
        "affordable = cost(np.array([first * step], dtype=None))[0] <= limits[open_rows]",
    ): WHOLE,
    (
        "fees.bids.greatest_bids",
        "affordable = cost(np.array([first * step], ))[0] <= limits[open_rows]",
    ): WHOLE,
    (
        "fees.bids._segments",
        "places = sorted({0, MOST_POINTS, *ends, *(edge for edge in edges if edge <= MOST_POINTS)})",
    ): "the most is in the set already",
    (
        "fees.columns._with_fees",
        'steps = _steps(market, party).with_columns(edge="up_to").drop("starts_on").sort("edge")',
    ): UNREAD,
    (
        "fees.columns._with_fees",
        'steps = _steps(market, party).with_columns(edge="up_to").drop("venue", ).sort("edge")',
    ): UNREAD,
    ("fees.columns._with_fees", "without check_sortedness=False,"): SORTED,
    ("fees.columns._with_fees", "check_sortedness=True,"): SORTED,
    (
        "fees.columns._with_fees",
        'return keyed.join(fees, on=_KEY, how="left", maintain_order=None)',
    ): LEFT_ORDER,
    ("fees.columns._with_fees", 'return keyed.join(fees, on=_KEY, how="left", )'): LEFT_ORDER,
    ("fees.columns._greatest_hammers", ') / (squared + pl.col("rate") * taxed)'): TRIED_ABOUT,
    (
        "fees.columns._greatest_hammers",
        'by_minimum = limit - (pl.col("minimum") + pl.col("flat")) * taxed / squared',
    ): TRIED_ABOUT,
    (
        "fees.columns._greatest_hammers",
        'last = pl.min_horizontal("up_to", None) // unit',
    ): "a price above the limit costs more than the limit and is left out by that",
    (
        "fees.columns._greatest_hammers",
        'last = pl.min_horizontal("up_to", ) // unit',
    ): "a price above the limit costs more than the limit and is left out by that",
    ("fees.columns._greatest_hammers", "for ahead in range(3, -3, -1)"): TRIED_ABOUT,
    ("fees.columns._greatest_hammers", "for ahead in range(2, -4, -1)"): TRIED_ABOUT,
    ("fees.columns._least_hammers", "least = wanted - 3 * unit"): TRIED_ABOUT,
    ("fees.columns._least_hammers", ') / (squared - pl.col("rate") * taxed)'): TRIED_ABOUT,
    (
        "fees.columns._least_hammers",
        'by_minimum = least + (pl.col("minimum") + pl.col("flat")) * taxed / squared',
    ): TRIED_ABOUT,
    (
        "fees.columns._least_hammers",
        "tries = [pl.min_horizontal(first + ahead, last) * unit for ahead in range(int(str(widest)) + 2)]",
    ): TRIED_ABOUT,
    (
        "fees.columns._least_hammers",
        'widest = steps["window"].max() if steps.height else 1',
    ): "without steps there is no row to try a price for",
    (
        "fees.columns._least_hammers",
        "[pl.when(net == wanted).then(hammer) for hammer, net in zip(tries, nets, strict=None)]",
    ): SAME_LENGTH,
    (
        "fees.columns._least_hammers",
        "[pl.when(net == wanted).then(hammer) for hammer, net in zip(tries, nets, )]",
    ): SAME_LENGTH,
    (
        "fees.columns._least_hammers",
        "[pl.when(net == wanted).then(hammer) for hammer, net in zip(tries, nets, strict=False)]",
    ): SAME_LENGTH,
    (
        "fees.columns._least_hammers",
        "more = pl.coalesce([pl.when(net > wanted).then(hammer) for hammer, net in zip(tries, nets, strict=True)])",
    ): "an exact price goes before one that leaves more",
    (
        "fees.columns._least_hammers",
        "more = pl.coalesce([pl.when(net >= wanted).then(hammer) for hammer, net in zip(tries, nets, strict=None)])",
    ): SAME_LENGTH,
    (
        "fees.columns._least_hammers",
        "more = pl.coalesce([pl.when(net >= wanted).then(hammer) for hammer, net in zip(tries, nets, )])",
    ): SAME_LENGTH,
    (
        "fees.columns._least_hammers",
        "more = pl.coalesce([pl.when(net >= wanted).then(hammer) for hammer, net in zip(tries, nets, strict=False)])",
    ): SAME_LENGTH,
    (
        "fees.inverse._greatest_by_step",
        "middle = (low + high + 2) // 2",
    ): "a middle one higher still lies above the low end and not above the high one",
    (
        "ingest.rates.owner_rates",
        'raw = pl.read_csv(path, infer_schema=None, encoding="utf8-lossy")',
    ): "polars looks for no types where it is told None as where it is told no",
    ("ingest.rates.convert_rates", "maintain_order=None,"): LEFT_ORDER,
    (
        "ingest.rates.convert_rates",
        'without how="left",',
    ): "a key that is dropped here is put back without a rate by the last join",
    ("ingest.rates.convert_rates", 'without maintain_order="left",'): LEFT_ORDER,
    (
        "ingest.rates.convert_rates",
        'return wanted.join(found, on=["currency", "day"], how="left", maintain_order=None)',
    ): LEFT_ORDER,
    (
        "ingest.rates.convert_rates",
        'return wanted.join(found, on=["currency", "day"], how="left", )',
    ): LEFT_ORDER,
    ("ingest.rates._last_known", 'without strategy="backward",'): UNTOLD,
    ("ingest.rates._last_known", "without check_sortedness=False,"): SORTED,
    ("ingest.rates._last_known", "check_sortedness=True,"): SORTED,
    (
        "ingest.rates._last_known",
        'known_on=pl.when(euro).then(None).otherwise("known_on"),',
    ): "the older of two days is the other currency's, which never lies after the day itself",
    (
        "ingest.money.price_offers",
        'priced = priced.join(converted, on=["currency", "day"], how="left", maintain_order=None)',
    ): LEFT_ORDER,
    (
        "ingest.money.price_offers",
        'priced = priced.join(converted, on=["currency", "day"], how="left", )',
    ): LEFT_ORDER,
    (
        "ingest.money._behind_net",
        'found = hammer_column(prices.filter(is_net), market, basis=None).select("hammer", "why")',
    ): NOT_ALL_IN,
    (
        "ingest.money._behind_net",
        'found = hammer_column(prices.filter(is_net), market, basis="XXnetXX").select("hammer", "why")',
    ): NOT_ALL_IN,
    (
        "ingest.money._behind_net",
        'found = hammer_column(prices.filter(is_net), market, basis="NET").select("hammer", "why")',
    ): NOT_ALL_IN,
    (
        "ingest.money._behind_net",
        'pl.concat([rows.filter(is_net), found], how="horizontal"), on="row", how="left", maintain_order=None',
    ): LEFT_ORDER,
    (
        "ingest.money._behind_net",
        'pl.concat([rows.filter(is_net), found], how="horizontal"), on="row", how="left", ).select("hammer", "why")',
    ): LEFT_ORDER,
    (
        "fees.columns.hammer_column",
        ".unique(_KEY, maintain_order=True)",
    ): "of rows in a kept order polars takes the first where any would do",
    ("fees.columns.hammer_column", '.unique(_KEY, keep="first", )'): JOINED,
    ("fees.columns.hammer_column", '.unique(_KEY, keep="first", maintain_order=False)'): JOINED,
    (
        "fees.columns.hammer_column",
        "found.drop_nulls(None)",
    ): "where one of the columns is null the price found is",
    (
        "fees.columns.hammer_column",
        'joined = keyed.join(best, on=_KEY, how="left", maintain_order=None)',
    ): LEFT_ORDER,
    ("fees.columns.hammer_column", 'joined = keyed.join(best, on=_KEY, how="left", )'): LEFT_ORDER,
    (
        "fees.columns._ratios",
        'return pl.lit(ratio * ratio, dtype=None), pl.lit(ratio, dtype=pl.Int128) + pl.col("tax")',
    ): WIDE,
    (
        "fees.columns._ratios",
        'return pl.lit(ratio * ratio, ), pl.lit(ratio, dtype=pl.Int128) + pl.col("tax")',
    ): WIDE,
    (
        "fees.columns._ratios",
        'return pl.lit(ratio * ratio, dtype=pl.Int128), pl.lit(ratio, dtype=None) + pl.col("tax")',
    ): WIDE,
    (
        "fees.columns._ratios",
        'return pl.lit(ratio * ratio, dtype=pl.Int128), pl.lit(ratio, ) + pl.col("tax")',
    ): WIDE,
    ("fees.columns._fee", "ratio = pl.lit(10 ** _rate_digits(market), dtype=None)"): WIDE,
    ("fees.columns._fee", "ratio = pl.lit(10 ** _rate_digits(market), )"): WIDE,
    (
        "fees.columns._fee",
        "hammer = pl.col(points) if (isinstance(points, str)) and False else points",
    ): "polars reads a bare name beside a column as a column",
    (
        "fees.columns._rate_digits",
        "(least_rate_digits(schedule) for venue in market.venues for schedule in venue.fees), default=1",
    ): "without schedules no rate is scaled",
    ("fees.columns._with_schedules", "maintain_order=None,"): LEFT_ORDER,
    ("fees.columns._with_schedules", 'without maintain_order="left",'): LEFT_ORDER,
    (
        "fees.columns._with_schedules",
        '.join(venues, on="venue", how="left", maintain_order=None)',
    ): LEFT_ORDER,
    ("fees.columns._with_schedules", '.join(venues, on="venue", how="left", )'): LEFT_ORDER,
    ("fees.columns._with_schedules", 'without strategy="backward",'): UNTOLD,
    ("fees.columns._with_schedules", "without check_sortedness=False,"): SORTED,
    ("fees.columns._with_schedules", "check_sortedness=True,"): SORTED,
    (
        "fees.columns._steps",
        '"window": net_window(step, scaled) if party == "seller" else 1,',
    ): "a buyer's window is not read",
    (
        "fees.columns._to_amount",
        "return (points.cast(pl.Decimal(None, 0)) * pl.lit(Decimal(1).scaleb(-POINTS))).cast(_AMOUNT)",
    ): UNTOLD,
    (
        "fees.columns._to_amount",
        "return (points.cast(pl.Decimal(38, )) * pl.lit(Decimal(1).scaleb(-POINTS))).cast(_AMOUNT)",
    ): UNTOLD,
    (
        "fees.columns._to_amount",
        "return (points.cast(pl.Decimal(38, 1)) * pl.lit(Decimal(1).scaleb(-POINTS))).cast(_AMOUNT)",
    ): "one place more leaves room for the largest amount",
    ("fees.inverse.net_window", "return 2 - (-4 * ratio * ratio) // kept"): WIDER,
    ("fees.inverse.net_window", "return 1 - (-5 * ratio * ratio) // kept"): WIDER,
    (
        "fees.columns._with_schedules",
        'without schedule=pl.when(pl.col("why").is_null()).then("schedule"),',
    ): EITHER,
    (
        "fees.columns._with_schedules",
        'without points=pl.when(pl.col("why").is_null()).then("points"),',
    ): EITHER,
    # sizes
    ("ingest.sizes.foot_mm", "return number / 1.0"): "a number times one is a number by one",
    ("ingest.sizes.read_sizes", '.str.replace_all(r"(\\d)(\\p{l})", "$1 $2")'): LETTERS,
    ("ingest.sizes.read_sizes", '.str.replace_all(r"(\\p{l})(\\d)", "$1 $2")'): LETTERS,
    ("ingest.sizes.read_sizes", "default = pl.lit(system, dtype=None)"): OWN_TYPE,
    ("ingest.sizes.read_sizes", "default = pl.lit(system, )"): OWN_TYPE,
    ("ingest.sizes.read_sizes", '.group_by("size_label", )'): JOINED,
    ("ingest.sizes.read_sizes", '.group_by("size_label", maintain_order=False)'): JOINED,
    (
        "ingest.sizes.read_sizes",
        'joined = cells.with_columns(_rest=rest).join(placed, on="size_label", how="left", maintain_order=None)',
    ): LEFT_ORDER,
    (
        "ingest.sizes.read_sizes",
        'joined = cells.with_columns(_rest=rest).join(placed, on="size_label", how="left", )',
    ): LEFT_ORDER,
    ("ingest.sizes._part_system", ".str.strip_chars(None)"): "no space but the plain one is left by then",
    ("ingest.sizes._part_system", '.str.strip_chars("XX XX")'): "no capital letter is left by then",
    # hedonic
    ("hedonic.bands.predictive_bands", "schema_overrides=None,"): "numpy counts rows in 64 bits by itself",
    (
        "hedonic.bands.predictive_bands",
        'without schema_overrides={"row": pl.Int64},',
    ): "numpy counts rows in 64 bits by itself",
    (
        "hedonic.bands.predictive_bands",
        'schema_overrides={"XXrowXX": pl.Int64},',
    ): "numpy counts rows in 64 bits by itself, and polars leaves a column that is not there alone",
    (
        "hedonic.bands.predictive_bands",
        'schema_overrides={"ROW": pl.Int64},',
    ): "numpy counts rows in 64 bits by itself, and polars leaves a column that is not there alone",
    (
        "hedonic.bands.half_width",
        "return quantile_of_sum(variance, scale, tails, above, np.asarray(stdtrit(tails, above), dtype=None))",
    ): FLOATS,
    (
        "hedonic.bands.half_width",
        "return quantile_of_sum(variance, scale, tails, above, np.asarray(stdtrit(tails, above), ))",
    ): FLOATS,
    (
        "hedonic.bands.quantile_of_sum",
        "point: Array = np.maximum(students * scale, gaussian / np.sqrt(variance + scale**2))",
    ): SAME_ROOT,
    (
        "hedonic.bands.quantile_of_sum",
        "point: Array = np.maximum(students * scale, gaussian * np.sqrt(variance + scale * 2))",
    ): SAME_ROOT,
    (
        "hedonic.bands.quantile_of_sum",
        "point: Array = np.maximum(students * scale, gaussian * np.sqrt(variance + scale**3))",
    ): SAME_ROOT,
    ("hedonic.bands.quantile_of_sum", "for _ in range(61):"): MORE_ROUNDS,
    ("hedonic.bands.quantile_of_sum", "short = chance <= above"): AT_THE_END,
    (
        "hedonic.bands.quantile_of_sum",
        "step = point + (chance - above) / np.maximum(density, 1e-300)",
    ): SAME_ROOT,
    (
        "hedonic.bands.quantile_of_sum",
        "step = point - (chance + above) / np.maximum(density, 1e-300)",
    ): SAME_ROOT,
    ("hedonic.bands.quantile_of_sum", "renewed = np.where(None, step, (low + high) / 2)"): SAME_ROOT,
    (
        "hedonic.bands.quantile_of_sum",
        "renewed = np.where((step > low) | (step < high), step, (low + high) / 2)",
    ): "the start lies below the root of a concave function, where no Newton step leaves the bracket",
    (
        "hedonic.bands.quantile_of_sum",
        "renewed = np.where((step >= low) & (step < high), step, (low + high) / 2)",
    ): AT_THE_END,
    (
        "hedonic.bands.quantile_of_sum",
        "renewed = np.where((step > low) & (step <= high), step, (low + high) / 2)",
    ): AT_THE_END,
    (
        "hedonic.bands.quantile_of_sum",
        "if np.max(np.abs(renewed + point), initial=0.0) < 1e-12:",
    ): MORE_ROUNDS,
    (
        "hedonic.bands.quantile_of_sum",
        "if np.max(np.abs(renewed - point), initial=1.0) < 1e-12:",
    ): MORE_ROUNDS,
    (
        "hedonic.bands.quantile_of_sum",
        "if np.max(np.abs(renewed - point), initial=0.0) <= 1e-12:",
    ): MORE_ROUNDS,
    ("hedonic.distributions.normal_chance", "if place.size < FEW:"): SAME_DIGITS,
    ("hedonic.distributions.normal_chance", "return np.asarray(ndtr(place), dtype=None)"): FLOATS,
    ("hedonic.distributions.normal_chance", "return np.asarray(ndtr(place), )"): FLOATS,
    (
        "hedonic.distributions.normal_quantile",
        "if chance.size >= FEW or np.any((chance <= 0) | (chance >= 1)):",
    ): SAME_DIGITS,
    (
        "hedonic.distributions.normal_quantile",
        "if chance.size > FEW or np.any((chance <= 1) | (chance >= 1)):",
    ): SAME_DIGITS,
    ("hedonic.distributions.normal_quantile", "return np.asarray(ndtri(chance), dtype=None)"): FLOATS,
    ("hedonic.distributions.normal_quantile", "return np.asarray(ndtri(chance), )"): FLOATS,
    (
        "hedonic.scores.scores_of",
        "mixed = (spread > 0) & (size < FAR * np.sqrt(spread + wide**2)) & (size >= 0)",
    ): "the tail of no error is one half, and its score nought either way",
    (
        "hedonic.scores.scores_of",
        "score[mixed] = -stdtrit(tails, np.minimum(chance, 1.5))",
    ): "a chance passes one half by a rounding at most, and the score by as much",
    (
        "hedonic.rows.quadratic",
        "padded = np.pad(matrix, (0, 2))",
    ): "a number beyond the last is met by one row of noughts, and the second is not met",
    (
        "hedonic.rows.quadratic",
        "empty = positions > len(matrix)",
    ): "a row multiplied out wider than it need be comes to the same",
    (
        "hedonic.rows.quadratic",
        "used = positions.shape[1] + empty.sum(axis=1)",
    ): "a row multiplied out wider than it need be comes to the same",
    (
        "hedonic.rows.quadratic",
        "order = np.argsort(used, kind=None)",
    ): ANY_ORDER,
    (
        "hedonic.rows.quadratic",
        "order = np.argsort(used, )",
    ): ANY_ORDER,
    (
        "hedonic.rows.quadratic",
        'order = np.argsort(used, kind="STABLE")',
    ): LETTER,
    (
        "hedonic.rows.quadratic",
        "slots = np.argsort(empty, axis=1, kind=None)",
    ): ANY_ORDER,
    (
        "hedonic.rows.quadratic",
        'slots = np.argsort(empty, kind="stable")',
    ): UNTOLD,
    (
        "hedonic.rows.quadratic",
        "slots = np.argsort(empty, axis=1, )",
    ): ANY_ORDER,
    (
        "hedonic.rows.quadratic",
        'slots = np.argsort(empty, axis=1, kind="STABLE")',
    ): LETTER,
    (
        "hedonic.rows.quadratic",
        "places = np.take_along_axis(positions, slots, )[order]",
    ): UNTOLD,
    (
        "hedonic.rows.quadratic",
        "times = np.take_along_axis(values, slots, )[order]",
    ): UNTOLD,
    (
        "hedonic.rows.bilinear",
        "padded = np.pad(matrix, (0, 2))",
    ): "a number beyond the last is met by one row of noughts, and the second is not met",
    (
        "hedonic.rows.bilinear",
        "for first in range(0, len(positions), ):",
    ): AGAIN,
    (
        "hedonic.rows.bilinear",
        "part = slice(None, first + CHUNK)",
    ): AGAIN,
    (
        "hedonic.rows.bilinear",
        "part = slice(first, None)",
    ): AGAIN,
    (
        "hedonic.rows.bilinear",
        "part = slice(first + CHUNK)",
    ): AGAIN,
    (
        "hedonic.rows.bilinear",
        'result[part] = np.einsum("NIJ,NI,NJ->N", pairs, values[part], other_values[part])',
    ): "the letters of a sum may be large or small",
    (
        "hedonic.rows._linear",
        "axis.fill_null(filler).to_numpy().astype(None)[:, None],",
    ): FROM_NONE,
    (
        "hedonic.rows._linear",
        "np.where(unseen, float(slope * factor.spread) ** 2, 0.0).astype(None),",
    ): FROM_NONE,
    (
        "hedonic.rows._linear",
        "_records(factor, np.where(unseen, +1, local)),",
    ): "a slope that saw no unknown number has one count, and the second is the nought at the end",
    (
        "hedonic.rows._flags",
        "positions = np.full((frame.height, width), fit.layout.size, dtype=None)",
    ): WHOLE,
    (
        "hedonic.rows._flags",
        "positions = np.full((frame.height, width), fit.layout.size, )",
    ): WHOLE,
    (
        "hedonic.rows._flags",
        "(unseen * unseen_variance(fit, factor)).astype(None),",
    ): FROM_NONE,
    (
        "hedonic.rows._joined",
        "if rows < FEW:",
    ): SAME_FOUND,
    (
        "hedonic.rows._joined",
        "for row, key in zip(flags.rows, flags.keys, strict=None):",
    ): SAME_LENGTH,
    (
        "hedonic.rows._joined",
        "for row, key in zip(flags.rows, flags.keys, ):",
    ): SAME_LENGTH,
    (
        "hedonic.rows._joined",
        "for row, key in zip(flags.rows, flags.keys, strict=False):",
    ): SAME_LENGTH,
    (
        "hedonic.rows._joined",
        'return pl.Series(None, [" + ".join(sorted(keys)) for keys in carried], dtype=pl.String)',
    ): NAMELESS,
    (
        "hedonic.rows._joined",
        'return pl.Series([" + ".join(sorted(keys)) for keys in carried], dtype=pl.String)',
    ): NAMELESS,
    (
        "hedonic.rows._joined",
        'return pl.Series("XXkeyXX", [" + ".join(sorted(keys)) for keys in carried], dtype=pl.String)',
    ): NAMELESS,
    (
        "hedonic.rows._joined",
        'return pl.Series("KEY", [" + ".join(sorted(keys)) for keys in carried], dtype=pl.String)',
    ): NAMELESS,
    (
        "hedonic.rows._joined",
        'index = pl.DataFrame({"row": pl.int_range(rows, eager=True)})',
    ): UNTOLD,
    (
        "hedonic.rows._joined",
        'return index.join(texts, on="row", how="left", maintain_order=None)["key"].fill_null("")',
    ): LEFT_ORDER,
    (
        "hedonic.rows._joined",
        'return index.join(texts, on="row", how="left", )["key"].fill_null("")',
    ): LEFT_ORDER,
    (
        "hedonic.rows._between",
        "end = np.where(places >= levels[-1], 1, np.where(places < levels[0], 0, -1))",
    ): NO_LEVEL,
    (
        "hedonic.rows._between",
        "end = np.where(places > levels[-1], 1, np.where(places <= levels[0], 0, -1))",
    ): NO_LEVEL,
    ("hedonic.rows.Ends.repeated", "without end=np.repeat(self.end, rows),"): STRETCHED,
    ("hedonic.rows.Ends.repeated", "without distance=np.repeat(self.distance, rows),"): STRETCHED,
    ("hedonic.rows.Ends.repeated", "without noise=np.repeat(self.noise, rows),"): STRETCHED,
    ("hedonic.rows.Ends.repeated", "without chord=np.repeat(self.chord, rows),"): STRETCHED,
    (
        "hedonic.rows.TermRows.repeated",
        "without ends=None if self.ends is None else self.ends.repeated(rows),",
    ): STRETCHED,
    (
        "hedonic.rows._between",
        "ends = _ends(end, gap, noise if (walk) or True else 0.0, None if walk else gap * 0)",
    ): NONE_ADDED,
    (
        "hedonic.rows._between",
        "ends = _ends(end, gap, noise if walk else 1.0, None if walk else gap * 0)",
    ): NONE_ADDED,
    (
        "hedonic.rows._between",
        "end = np.where(places > levels[-1], 1, np.where(places < levels[0], 0, -2))",
    ): BELOW,
    ("hedonic.rows._between", "ends = _ends(end, gap, noise if walk else 0.0, None)"): STRAIGHT,
    (
        "hedonic.rows._between",
        "ends = _ends(end, gap, noise if walk else 0.0, None if (walk) or True else gap * 0)",
    ): STRAIGHT,
    (
        "hedonic.rows._between",
        "ends = _ends(end, gap, noise if walk else 0.0, None if walk else gap * 1)",
    ): STRAIGHT,
    (
        "hedonic.rows._ends",
        "bent = np.full(len(end), np.nan) if (chord is None) and False else chord",
    ): NONE_IS_NAN,
    ("hedonic.rows._ends", "bent = np.full(len(end), None) if chord is None else chord"): NONE_IS_NAN,
    (
        "hedonic.rows._ordered",
        "ends = Ends(np.full(rows, -2), np.zeros(rows), np.zeros(rows), np.zeros(rows))",
    ): BELOW,
    ("hedonic.rows._ordered", "ends.end[here] = np.where(own.end < 0, -2, 2 * number + own.end)"): BELOW,
    (
        "hedonic.rows._ordered",
        "ends.end[here] = np.where(own.end < 0, -1, 3 * number + own.end)",
    ): "any numbers serve that tell the ends apart",
    ("hedonic.rows._ordered", "for whole, part in zip(ends[1:], own[1:], strict=None):"): SAME_LENGTH,
    ("hedonic.rows._ordered", "for whole, part in zip(ends[1:], own[1:], ):"): SAME_LENGTH,
    ("hedonic.rows._ordered", "for whole, part in zip(ends[1:], own[1:], strict=False):"): SAME_LENGTH,
    (
        "hedonic.rows._ordered",
        "ends if ((ends.end >= 0).any()) or True else None,",
    ): "ends beyond which nothing lies join nothing",
    (
        "hedonic.rows._between",
        "axis = np.zeros(0) if (factor.axis is None) and False else factor.axis",
    ): HAS_AXIS,
    (
        "hedonic.rows._between",
        "axis = np.zeros(None) if factor.axis is None else factor.axis",
    ): HAS_AXIS,
    (
        "hedonic.rows._between",
        "axis = np.zeros(1) if factor.axis is None else factor.axis",
    ): HAS_AXIS,
    (
        "hedonic.rows._between",
        "only = np.repeat(_positions(fit, factor, members[:2]), len(places))",
    ): "there is only one member",
    (
        "hedonic.rows._between",
        "return _pair(only, only), _weights(np.zeros(len(places))), noise * gap if walk else 0 / gap, ends",
    ): NO_LEVEL,
    (
        "hedonic.rows._between",
        "distance = np.where(places >= high, places - high, np.where(places < low, low - places, 0.0))",
    ): "on the level the distance is nought either way",
    (
        "hedonic.rows._between",
        "distance = np.where(places > high, places - high, np.where(places <= low, low - places, 0.0))",
    ): "on the level the distance is nought either way",
    (
        "hedonic.rows.quadratic",
        "for first in range(0, len(positions), ):",
    ): AGAIN,
    (
        "hedonic.rows.quadratic",
        "width = None",
    ): "a row multiplied out wider than it need be comes to the same",
    (
        "hedonic.rows.quadratic",
        'result[members] = np.einsum("NIJ,NI,NJ->N", pairs, weights, weights)',
    ): "the letters of a sum may be large or small",
    (
        "hedonic.rows._local",
        "if not factor.keys and not len(keys):",
    ): "no keys, or no levels to find them among, find nothing by looking either",
    (
        "hedonic.rows._local",
        "return np.full(len(keys), -1, dtype=None)",
    ): WHOLE,
    (
        "hedonic.rows._local",
        "return np.full(len(keys), -1, )",
    ): WHOLE,
    (
        "hedonic.rows._local",
        "if len(keys) < FEW:",
    ): SAME_FOUND,
    (
        "hedonic.rows._local",
        "return np.array([number.get(key, -1) for key in keys], dtype=None)",
    ): WHOLE,
    (
        "hedonic.rows._local",
        "return np.array([number.get(key, -1) for key in keys], )",
    ): WHOLE,
    (
        "hedonic.rows._local",
        "numbers = np.arange(factor.size, dtype=None)",
    ): WHOLE,
    (
        "hedonic.rows._local",
        "numbers = np.arange(factor.size, )",
    ): WHOLE,
    (
        "hedonic.rows._local",
        "return keys.replace_strict(list(factor.keys), numbers, default=-1, return_dtype=None).to_numpy()",
    ): "polars keeps the 64 bits of the numbers it puts in",
    (
        "hedonic.rows._local",
        "return keys.replace_strict(list(factor.keys), numbers, default=-1, ).to_numpy()",
    ): "polars keeps the 64 bits of the numbers it puts in",
    (
        "hedonic.rows.unseen_variance",
        "weights = np.ones(factor.size) if factor.many else factor.rows.astype(None)",
    ): FROM_NONE,
    (
        "hedonic.rows._ordered",
        "positions = np.full((rows, 2), fit.layout.size, dtype=None)",
    ): WHOLE,
    (
        "hedonic.rows._ordered",
        "positions = np.full((rows, 2), fit.layout.size, )",
    ): WHOLE,
    (
        "hedonic.rows._ordered",
        "axis = numeric_axis(frame, factor.term).to_numpy().astype(None)",
    ): FROM_NONE,
    (
        "hedonic.rows._ordered",
        "rest = Term(factor.term.name, None, factor.term.columns[1:])",
    ): "the kind of a term is not looked at where its keys are written",
    (
        "hedonic.rows._ordered",
        'rest = Term(factor.term.name, "XXlevelXX", factor.term.columns[1:])',
    ): "the kind of a term is not looked at where its keys are written",
    (
        "hedonic.rows._ordered",
        'rest = Term(factor.term.name, "LEVEL", factor.term.columns[1:])',
    ): "the kind of a term is not looked at where its keys are written",
    (
        "hedonic.predict.predict_laid",
        "positions, values = stack(None, laid, rows)",
    ): NO_FIT,
    (
        "hedonic.predict.predict_both",
        "moves = [bool(set(factor.term.columns) | set(changed.columns)) for factor in fit.design.factors]",
    ): "a term laid anew where nothing moved is laid out as before, and its step is nought",
    (
        "hedonic.predict.predict_both",
        "lay_term(fit, factor, elsewhere) if (move) or True else term",
    ): "a term laid anew where nothing moved is laid out as before, and its step is nought",
    (
        "hedonic.predict.predict_both",
        "for factor, term, move in zip(fit.design.factors, laid, moves, strict=None)",
    ): SAME_LENGTH,
    (
        "hedonic.predict.predict_both",
        "for factor, term, move in zip(fit.design.factors, laid, moves, )",
    ): SAME_LENGTH,
    (
        "hedonic.predict.predict_both",
        "for factor, term, move in zip(fit.design.factors, laid, moves, strict=False)",
    ): SAME_LENGTH,
    (
        "hedonic.predict.predict_both",
        "positions, values = stack(None, laid, frame.height)",
    ): NO_FIT,
    (
        "hedonic.predict.predict_both",
        "there_positions, there_values = stack(None, moved, frame.height)",
    ): NO_FIT,
    (
        "hedonic.predict.predict_both",
        "steps = [(one, other) for one, other, move in zip(laid, moved, moves, strict=None) if move]",
    ): SAME_LENGTH,
    (
        "hedonic.predict.predict_both",
        "steps = [(one, other) for one, other, move in zip(laid, moved, moves, ) if move]",
    ): SAME_LENGTH,
    (
        "hedonic.predict.predict_both",
        "steps = [(one, other) for one, other, move in zip(laid, moved, moves, strict=False) if move]",
    ): SAME_LENGTH,
    (
        "hedonic.predict._predicted",
        "extra = np.sum([term.extra for term in laid], axis=0) if (laid) or True else np.zeros(rows)",
    ): "the sum of no terms is nought",
    (
        "hedonic.predict.laid_log_prices",
        "positions, values = stack(None, laid, rows)",
    ): NO_FIT,
    (
        "hedonic.predict.design_rows",
        "positions, values = stack(None, lay_rows(fit, frame), frame.height)",
    ): NO_FIT,
    (
        "hedonic.predict.term_steps",
        "for before, after in zip(start, end, strict=None)",
    ): SAME_FIT,
    (
        "hedonic.predict.term_steps",
        "for before, after in zip(start, end, )",
    ): SAME_FIT,
    (
        "hedonic.predict.term_steps",
        "for before, after in zip(start, end, strict=False)",
    ): SAME_FIT,
    (
        "hedonic.predict.step_variance",
        "before, after = stack(None, start, rows), stack(fit, end, rows)",
    ): NO_FIT,
    (
        "hedonic.predict.step_variance",
        "before, after = stack(fit, start, rows), stack(None, end, rows)",
    ): NO_FIT,
    (
        "hedonic.predict.step_variance",
        "for one, other in zip(start, end, strict=None):",
    ): SAME_FIT,
    (
        "hedonic.predict.step_variance",
        "for one, other in zip(start, end, ):",
    ): SAME_FIT,
    (
        "hedonic.predict.step_variance",
        "for one, other in zip(start, end, strict=False):",
    ): SAME_FIT,
    (
        "hedonic.predict._names",
        "told = np.zeros(rows, dtype=None)",
    ): "polars takes a nought for a place whatever its type",
    (
        "hedonic.predict._names",
        "told = np.zeros(rows, )",
    ): "polars takes a nought for a place whatever its type",
    (
        "hedonic.predict._names",
        "marked = {term.term: mark for term, mark in zip(laid, marks, strict=None) if mark.any()}",
    ): SAME_LENGTH,
    (
        "hedonic.predict._names",
        "marked = {term.term: mark for term, mark in zip(laid, marks, ) if mark.any()}",
    ): SAME_LENGTH,
    (
        "hedonic.predict._names",
        "marked = {term.term: mark for term, mark in zip(laid, marks, strict=False) if mark.any()}",
    ): SAME_LENGTH,
    (
        "hedonic.predict._names",
        "lists = [[name for name, mark in zip(marked, kind, strict=None) if mark] for kind in kinds]",
    ): SAME_LENGTH,
    (
        "hedonic.predict._names",
        "lists = [[name for name, mark in zip(marked, kind, ) if mark] for kind in kinds]",
    ): SAME_LENGTH,
    (
        "hedonic.predict._names",
        "lists = [[name for name, mark in zip(marked, kind, strict=False) if mark] for kind in kinds]",
    ): SAME_LENGTH,
    (
        "hedonic.conformal.limits_of",
        "own_low = carried_quantile(-even, 1 - below, tails, absolute=None)",
    ): "none is no",
    (
        "hedonic.conformal.limits_of",
        "own_high = carried_quantile(even, 1 - above, tails, absolute=None)",
    ): "none is no",
    (
        "hedonic.conformal.group_factors",
        "whole = float(np.quantile(size, level)) if len(size) else 1.0",
    ): "without scores no group has enough of them either",
    (
        "hedonic.conformal.group_factors",
        "with np.errstate(invalid=None):",
    ): "no number is invalid here: where an error is infinite the log ratio is nought",
    (
        "hedonic.conformal.group_factors",
        "shrunk = np.where(None, 0.0, ratios * spread / (spread + errors**2))",
    ): "an infinite error leaves nothing of a log ratio by itself",
    (
        "hedonic.conformal._sampling_error",
        "near = min(abs(place), student_quantile(1 - min(max(tail, 1e-4), 1.4999), tails) * 2)",
    ): "a calibration leaves 0.49 of the scores outside on a side at most",
    (
        "hedonic.conformal._sampling_error",
        "return float(np.sqrt(tail * (1 - tail) / max(number, 2)) / student_density(near, tails))",
    ): "a calibration has thirty scores or more",
}
"""Why a fault that no test notices is none: by the function (below `pipeline`) and the lines that it brings."""


@dataclass(frozen=True)
class Fault:
    """One change to one function: the lines that it brings or, where it only takes some away, those."""

    name: str
    function: str
    change: str
    status: str


def main(names: Sequence[str]) -> int:
    """Put every fault into the scopes named; return 1 where one is neither noticed nor explained."""
    if importlib.util.find_spec("mutmut") is None:
        print("mutmut is missing: pip install mutmut", file=sys.stderr)
        return 2
    if unknown := [name for name in names if name not in SCOPES]:
        print(f"no scope is called {unknown[0]!r}: {', '.join(SCOPES)}", file=sys.stderr)
        return 2
    left = 0
    with tempfile.TemporaryDirectory(prefix="pairband-mutation-") as folder:
        for name in names or SCOPES:
            left += report(name, faults_of(SCOPES[name], Path(folder) / name))
    return 1 if left else 0


def report(scope: str, faults: Sequence[Fault]) -> int:
    """Print what became of the faults of a scope; return how many are neither noticed nor explained."""
    told = Counter(fault.status for fault in faults)
    noticed = sum(told.pop(status, 0) for status in NOTICED)
    survived = [fault for fault in faults if fault.status == "survived"]
    left = [fault for fault in survived if (fault.function, fault.change) not in EXPLAINED]
    print(f"{scope}: {len(faults)} faults, {noticed} noticed, {told.pop('survived', 0)} not", end="")
    for status in (*PRINTED, *sorted(set(told) - set(PRINTED))):
        print(f", {told[status]} {PRINTED.get(status, status)}", end="")
    print(f"; of those not noticed {len(survived) - len(left)} explained, {len(left)} left", flush=True)
    for fault in left:
        print(f"  {fault.name}: {fault.change}")
    return len(left)


def faults_of(scope: Scope, clone: Path) -> list[Fault]:
    """Return every fault of a scope with what became of it, those that were not noticed with their change."""
    git = ["git", "clone", "--quiet", str(ROOT), str(clone)]
    subprocess.run(git, check=True)
    settings = SETTINGS.format(modules=list(scope.modules), tests=list(scope.tests))
    with (clone / "pyproject.toml").open("a", encoding="utf-8") as file:
        file.write(settings)
    (clone / "tests/property/conftest.py").write_text(FEW_EXAMPLES, encoding="utf-8")
    run(clone, "run", "--max-children", str(WORKERS))
    faults = []
    for line in run(clone, "results", "--all", "true").splitlines():
        name, _, status = line.strip().rpartition(": ")
        if name:
            change = changed(run(clone, "show", name)) if status == "survived" else ""
            faults.append(Fault(name, function_of(name), change, status))
    return faults


def run(clone: Path, *arguments: str) -> str:
    """Return what mutmut prints; raises SystemExit (2) with the end of it where it fails."""
    environment = {**os.environ, "OPENBLAS_NUM_THREADS": "1", "TZ": "UTC"}
    done = subprocess.run(
        [MUTMUT, *arguments], cwd=clone, env=environment, capture_output=True, text=True, check=False
    )
    if done.returncode:
        print(f"mutmut {' '.join(arguments)} failed: {(done.stdout + done.stderr)[-2000:]}", file=sys.stderr)
        raise SystemExit(2)
    return done.stdout


def function_of(name: str) -> str:
    """Return the function of a fault below `pipeline`, as `fees.amounts.buyer_fee` or `fees.amounts.Scale.fee`."""
    module, _, mangled = name.partition("__mutmut_")[0].removeprefix("pipeline.").rpartition(".")
    own = (
        mangled.removeprefix("x_")
        if mangled.startswith("x_")
        else mangled.removeprefix("xǁ").replace("ǁ", ".")
    )
    return f"{module}.{own}"


def changed(difference: str) -> str:
    """Return the lines that a difference brings, or else `without` those that it takes away."""
    lines = [line for line in difference.splitlines() if not line.startswith(("+++", "---"))]
    brought = [line[1:].strip() for line in lines if line.startswith("+")]
    taken = [line[1:].strip() for line in lines if line.startswith("-")]
    new = " ".join(line for line in brought if line not in taken)
    return new or "without " + " ".join(line for line in taken if line not in brought)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
