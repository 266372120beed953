"""What the page of an audit says of its figures."""

import re

from reports.audit.page import audit_page, coverage_frame
from tests.audits import narrow_audit, usual_audit


def html() -> str:
    return audit_page(usual_audit(), business="Tidewrack Pairs")


def test_the_page_can_be_jumped_through() -> None:
    jumps = html().split('<nav class="jumps"', 1)[1].split("</nav>", 1)[0]
    places = re.findall('href="#([a-z]+)"', jumps)
    assert places == ["bands", "pricers", "ratios", "errors", "influential", "support", "source"]


def test_every_jump_of_the_page_has_its_place() -> None:
    places = re.findall('href="#([a-z]+)"', html().split('<nav class="jumps"', 1)[1].split("</nav>", 1)[0])
    assert all(f'<h2 id="{place}">' in html() for place in places)


def test_groups_are_shown_at_80_per_cent_only() -> None:
    assert coverage_frame(usual_audit())["words"].to_list() == [
        "50\u00a0% band, all sales",
        "80\u00a0% band, all sales",
        "95\u00a0% band, all sales",
        "80\u00a0% band, era first",
        "80\u00a0% band, grade 2 to 3.5",
    ]


def test_coverage_is_drawn_in_points_above_what_the_band_claims() -> None:
    row = coverage_frame(narrow_audit()).row(0, named=True)
    assert row["middle"] == -14.0
    assert row["low"] < row["middle"] < row["high"] < 0


def test_a_chance_next_to_zero_is_written_as_such() -> None:
    assert "under 0.001" in html()


def test_a_column_that_no_figure_fills_is_left_out() -> None:
    errors = html().split("The errors that are left", 1)[1].split("</table>", 1)[0]
    assert "Wanted" not in errors
    assert "95 % interval" not in errors


def test_the_margin_over_a_naive_pricer_is_told_with_its_interval() -> None:
    assert "12.4 (10.8 to 14.5)" in html()


def test_a_silhouette_without_sales_in_an_era_stands_at_zero() -> None:
    support = html().split("How many sales stand behind it", 1)[1].split("</table>", 1)[0]
    assert "<bdi>210</bdi>" in support
    assert "<bdi>0</bdi>" in support
