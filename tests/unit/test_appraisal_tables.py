"""The tables of an appraisal: the same words in the terminal and on the page."""

import math
from dataclasses import replace

import pytest

from pipeline.answers.appraisal.answer import appraise
from pipeline.answers.appraisal.appraisal import Step
from pipeline.answers.appraisal.tables import (
    adjustments_table,
    appraisal_sheet,
    appraisals_sheet,
    comparables_table,
    sale_name,
    steps_table,
    support_table,
)
from pipeline.market.pair import Pair
from reports.appraisal.page import appraisal_page
from reports.page import Table, keep_together
from sample_data import scenario
from tests import drawn
from tests.appraisals import AS_OF, common_pair, comparable, pair_outside_the_data, rare_pair


@pytest.mark.parametrize("key", ["bands", "steps", "comparables"])
def test_the_page_holds_every_cell_of_the_tables_that_the_terminal_prints(key: str) -> None:
    appraisal = rare_pair()
    page = appraisal_page(appraisal, business="Tidewrack Pairs")
    shown = Table.of(appraisal_sheet(appraisal).table(key))

    assert all(f"<bdi>{keep_together(cell)}</bdi>" in page for row in shown.rows for cell in row)


def test_what_is_unknown_is_called_not_known_in_a_step() -> None:
    appraisal = common_pair()
    unknown = replace(appraisal, steps=(replace(appraisal.steps[0], attribute="box", value="unknown"),))

    assert steps_table(unknown).rows["words"][1] == "Box: not known"


def test_the_second_stage_is_one_step_that_names_the_part_of_each_attribute() -> None:
    appraisal = common_pair()
    parts = (("grade", 0.96), ("size", 1.03), ("box", 1.0001), ("", 1.01))
    together = Step("together", "both", 0.9988, appraisal.median, 0.01, 300, parts)

    words = steps_table(replace(appraisal, steps=(together,))).rows["words"][1]

    assert words == "Together: both (grade −4\u00a0%, size +3\u00a0%, in every pair +1\u00a0%)"


def test_the_parts_of_the_second_stage_make_up_its_step() -> None:
    sold = drawn.sales(1500, 11)
    fitted = drawn.with_trees(drawn.fitted(), sold)
    pair = Pair(silhouette=sold["silhouette"][0], era=sold["era"][0], grade=8.0, foot_mm=270)

    step = appraise(pair, fitted, scenario.market(), sold, as_of=AS_OF).steps[-1]

    assert step.attribute == "together"
    assert math.prod(factor for _, factor in step.parts) == pytest.approx(step.factor, rel=1e-9)


def test_what_is_unknown_of_a_comparable_is_called_not_known() -> None:
    sale = comparable(1, 1000.0)
    unknown = replace(sale, adjustments=(replace(sale.adjustments[0], comparable_value="unknown"),))

    assert adjustments_table(unknown).rows["comparable"].to_list() == ["not known"]


def test_a_sale_without_a_venue_says_so() -> None:
    appraisal = rare_pair()
    nowhere = replace(appraisal, comparables=(replace(appraisal.comparables[0], venue="", title=""),))

    assert comparables_table(nowhere).texts()[0][-1] == "(venue not known)"


def test_a_sale_of_which_nothing_is_known_is_called_by_its_title() -> None:
    bare = replace(comparable(1, 1000.0), title="Ostrel, a pair", attributes={})

    assert sale_name(bare, common_pair().pair) == "Ostrel, a pair"


def test_a_sale_is_called_by_its_attributes_without_the_silhouette_that_it_shares_with_the_pair() -> None:
    sale = replace(
        comparable(1, 1000.0),
        attributes={
            "silhouette": "Gannet Hi",
            "colourway": "Kelp",
            "era": "first",
            "size_mm": "275 mm",
            "grade": "8",
            "box": "unknown",
        },
    )

    assert sale_name(sale, common_pair().pair) == "Kelp · first · 275 mm · grade 8"
    assert sale_name(sale, rare_pair().pair) == "Gannet Hi Kelp · first · 275 mm · grade 8"


def test_the_page_keeps_the_title_of_a_sale_under_its_name() -> None:
    sale = replace(comparable(1, 1000.0), title="Erstserie, ohne Karton", attributes={"era": "first"})
    page = appraisal_page(replace(common_pair(), comparables=(sale,)), business="Tidewrack Pairs")

    assert "Listed as <bdi>Erstserie, ohne Karton</bdi>" in page


def test_the_sales_behind_an_attribute_are_counted_and_not_called_strong() -> None:
    assert support_table(common_pair()).texts()[0] == ("Silhouette: Gannet Hi", "842")


def test_an_attribute_that_never_sold_is_estimated_from_similar_models() -> None:
    assert support_table(rare_pair()).texts()[-1] == (
        "Part: spare laces (no sale)",
        "0",
        "none: estimated from similar models",
    )


def test_without_comparables_the_sheet_says_that_none_is_near() -> None:
    assert appraisal_sheet(pair_outside_the_data()).sentences[-1] == (
        "No past sale is near enough to compare with this pair."
    )


def test_a_warning_of_every_pair_is_said_once_and_the_others_are_counted() -> None:
    first, second = rare_pair(), replace(common_pair(), cautions=("Look at the toe.", *rare_pair().cautions))
    sheet = appraisals_sheet((first, second))

    assert sheet.warnings == first.cautions
    assert sheet.table("pairs").rows["warnings"].to_list() == [0, 1]


def test_many_pairs_stand_in_the_order_of_their_rows() -> None:
    sheet = appraisals_sheet((rare_pair(), replace(rare_pair(), pair=Pair("Knot Racer"))))

    assert sheet.table("pairs").rows.select("row", "pair").rows() == [
        (1, "Plover Lo · Kelp · second"),
        (2, "Knot Racer"),
    ]
