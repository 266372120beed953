"""The pages as HTML text: escaped, self-contained, each chart with its table."""

import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from pipeline.answers.appraisal.appraisal import Appraisal
from pipeline.answers.appraisal.tables import state_answer
from pipeline.errors import ReportError
from pipeline.limits import LIMITS
from pipeline.untrusted import show_words
from reports.appraisal.page import appraisal_page
from reports.page import embed_json, keep_together, mark_commands, security_policy, write_page
from tests.appraisals import HOSTILE, common_pair, hostile_pair, pair_outside_the_data, rare_pair

EVERY_PAIR = pytest.mark.parametrize("pair", [common_pair, rare_pair, pair_outside_the_data, hostile_pair])
SCRIPT = re.compile(r"<script[^>]*>.*?</script>", re.DOTALL)


def html_of(appraisal: Appraisal) -> str:
    return appraisal_page(appraisal, business="Tidewrack Pairs")


def own_html_of(appraisal: Appraisal) -> str:
    """Return the page without what stands in its scripts."""
    return SCRIPT.sub("<script></script>", html_of(appraisal))


@EVERY_PAIR
def test_every_chart_has_a_text_alternative_and_a_table(pair: Callable[[], Appraisal]) -> None:
    figures = re.findall(r"<figure>.*?</figure>", own_html_of(pair()), re.DOTALL)
    assert len(figures) >= 2
    for figure in figures:
        assert re.search(r'role="img" aria-label="[^"]{40,}"', figure)
        assert re.search(r"<details.*<table>.*<tbody>\s*<tr>", figure, re.DOTALL)


def test_a_page_says_in_its_foot_alone_which_fit_its_figures_come_from() -> None:
    pair = common_pair()
    assert own_html_of(pair).count(pair.source.fit_id) == 1


@EVERY_PAIR
def test_nothing_in_a_page_is_fetched(pair: Callable[[], Appraisal]) -> None:
    html = html_of(pair())
    sources = re.findall(
        r'<[^>]*\s(?:src|href|srcset|action|data)="([^"]*)"', SCRIPT.sub("<script></script>", html)
    )
    assert {source for source in sources if not source.startswith("#")} == {"data:,"}
    assert not re.search(r"url\(|@import", html[: html.index("</style>")])


@EVERY_PAIR
def test_a_page_stays_under_three_megabytes(pair: Callable[[], Appraisal]) -> None:
    assert len(html_of(pair()).encode()) < 3_000_000


def test_a_page_carries_no_chart_runtime() -> None:
    assert "vega" not in html_of(common_pair())


def test_the_policy_forbids_the_network_and_evaluated_text() -> None:
    policy = security_policy("", ["one();"])
    assert policy.startswith("default-src 'none'; script-src 'sha256-")
    assert "unsafe" not in policy
    assert "http" not in policy


def test_a_hostile_title_ends_no_script() -> None:
    html = html_of(hostile_pair())
    assert "<script>document.title" not in html
    assert len(re.findall("<script", html)) == len(re.findall("</script>", html)) == 1


def test_a_hostile_business_name_is_escaped() -> None:
    assert "<script>document.title" not in appraisal_page(rare_pair(), business=HOSTILE)


def test_json_in_a_script_holds_no_sign_that_ends_it() -> None:
    text = embed_json({"title": "</script><!-- & \u2028\u2029"})
    assert not set("<>&\u2028\u2029") & set(text)


@EVERY_PAIR
def test_every_page_states_its_limits_source_and_day(pair: Callable[[], Appraisal]) -> None:
    html = own_html_of(pair())
    for told in (*LIMITS, "5,321", "2 Mar 2015", "30 May 2024", "1 Jun 2024", "5f1c09a2", "pairband 0.1.0"):
        assert keep_together(told) in html


def test_every_caution_is_stated() -> None:
    appraisal = common_pair()
    html = html_of(appraisal)
    assert all(caution in html for caution in appraisal.cautions)


def test_the_answer_is_a_sentence_with_median_and_band() -> None:
    answer = state_answer(common_pair())
    assert answer == (
        "A pair like this should sell for about €1,570, all-in; 8 in 10 sell for between €1,230 and €2,010."
    )


def test_an_answer_outside_the_data_is_called_a_guess() -> None:
    assert "the best guess is about €449" in state_answer(pair_outside_the_data())


def test_a_pair_outside_the_data_is_labelled_in_words() -> None:
    assert "Outside the data: no sale of this silhouette" in html_of(pair_outside_the_data())


def test_a_pair_within_the_data_has_no_such_label() -> None:
    assert "Outside the data" not in html_of(rare_pair())


def test_what_is_not_stated_is_not_known_and_what_was_not_found_is_none() -> None:
    html = own_html_of(common_pair())
    assert "<dt>Venue</dt><dd><bdi>not known</bdi></dd>" in html
    assert "<dt>Other parts</dt><dd><bdi>none found</bdi></dd>" in html


def test_a_pair_without_steps_or_bands_still_has_a_page() -> None:
    bare = replace(rare_pair(), steps=(), bands=(), comparables=(), cautions=())
    assert "about €1,460, all-in." in html_of(bare)


def test_a_page_is_written_where_it_is_asked(tmp_path: Path) -> None:
    path = write_page(html_of(rare_pair()), tmp_path / "new" / "rare.html")
    assert path.read_text(encoding="utf-8").startswith("<!DOCTYPE html>")


def test_a_page_that_cannot_be_written_says_which(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(ReportError, match=r"rare\.html cannot be written.*\nname a folder"):
        write_page(html_of(rare_pair()), tmp_path / "file" / "rare.html")


def test_the_same_appraisal_makes_the_same_page() -> None:
    assert html_of(common_pair()) == html_of(common_pair())


@pytest.mark.parametrize("median", [float("nan"), float("inf"), 0.0, -5.0])
def test_a_price_that_is_not_one_is_refused_by_name(median: float) -> None:
    with pytest.raises(ReportError, match=r"its median is .* \(1 such price\)"):
        html_of(replace(rare_pair(), median=median))


def test_a_command_in_a_sentence_is_set_as_code_and_stays_text() -> None:
    assert mark_commands("run `pairband fit <now>` & see") == (
        "run <code>pairband fit &lt;now&gt;</code> &amp; see"
    )


def test_a_lone_backtick_is_a_sign_like_any_other() -> None:
    assert mark_commands("a ` here <b>") == "a ` here &lt;b&gt;"


def test_a_sign_that_turns_text_is_written_out_in_json() -> None:
    assert embed_json("\u202egrade") == '"\\u202egrade"'


@pytest.mark.parametrize(
    ("written", "kept"),
    [
        ("€456 ± €143", "€456\u00a0±\u00a0€143"),
        ("within 10 %", "within 10\u00a0%"),
        ("271 mm foot", "271\u00a0mm foot"),
        ("to 30 Sept 2026.", "to 30\u00a0Sept\u00a02026."),
        ("3 May 2024, 2 pairs", "3\u00a0May\u00a02024, 2 pairs"),
        ("12 sales of May", "12 sales of May"),
    ],
)
def test_a_figure_stays_on_one_line_with_its_sign_and_unit_and_a_day_whole(written: str, kept: str) -> None:
    assert keep_together(written) == kept


def test_what_is_no_text_is_left_as_it_is() -> None:
    assert keep_together(12) == 12


def test_a_sentence_made_fit_to_show_keeps_its_figures_together() -> None:
    assert show_words("+2.9\u00a0% in  a year") == "+2.9\u00a0% in a year"
