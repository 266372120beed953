"""The pages in real Chromium, opened from disk with the network off."""

from collections.abc import Callable

import pytest
from axe_playwright_python.sync_playwright import Axe

from pipeline.answers.appraisal.appraisal import Appraisal
from reports.appraisal.page import appraisal_page
from reports.report.index import appraisal_entry, index_page
from tests.appraisals import (
    AS_OF,
    HOSTILE,
    SOURCE,
    common_pair,
    hostile_pair,
    pair_outside_the_data,
    rare_pair,
)
from tests.browser.conftest import Opened

pytestmark = pytest.mark.browser
Open = Callable[..., Opened]

EVERY_PAIR = pytest.mark.parametrize("pair", [common_pair, rare_pair, pair_outside_the_data, hostile_pair])
SERIOUS = ("serious", "critical")


def html_of(appraisal: Appraisal) -> str:
    return appraisal_page(appraisal, business="Tidewrack Pairs")


def serious_faults(opened: Opened) -> list[str]:
    """Return the serious and critical faults that axe-core finds, with where they are.

    The dark look differs from the light one in its colours alone, so only contrast is looked at again.
    """
    dark = opened.page.evaluate("matchMedia('(prefers-color-scheme: dark)').matches")
    options: dict[str, object] = {"resultTypes": ["violations"]}
    if dark:
        options["runOnly"] = ["color-contrast"]
    faults = Axe().run(opened.page, options=options).response["violations"]
    return [
        f"{fault['id']}: {node['target']} {node['failureSummary']}"
        for fault in faults
        if fault["impact"] in SERIOUS
        for node in fault["nodes"]
    ]


@EVERY_PAIR
def test_a_page_opens_from_disk_without_a_complaint(look_at: Open, pair: Callable[[], Appraisal]) -> None:
    assert look_at(pair).complaints == []


@EVERY_PAIR
def test_a_page_asks_the_network_for_nothing(look_at: Open, pair: Callable[[], Appraisal]) -> None:
    asked = look_at(pair).requests
    assert [url for url in asked if not url.startswith(("file:", "data:"))] == []


@EVERY_PAIR
def test_every_chart_draws_marks(look_at: Open, pair: Callable[[], Appraisal]) -> None:
    opened = look_at(pair)
    marks = opened.page.eval_on_selector_all(
        ".chart",
        "charts => charts.map((chart) => chart.querySelectorAll('.broad :is(path, circle)[fill]').length)",
    )
    assert len(marks) >= 2
    assert min(marks) >= 3


def test_the_band_chart_shows_one_dot_a_comparable(look_at: Open) -> None:
    opened = look_at(common_pair)
    assert opened.page.locator("#chart-band .broad circle[fill='var(--accent)']").count() == 12


def test_the_widest_bar_is_that_of_the_widest_band(look_at: Open) -> None:
    opened = look_at(rare_pair)
    widths = [
        opened.page.locator(f"#chart-band .broad path[{form}='var(--band-{level})']").bounding_box()["width"]  # type: ignore[index]
        for form, level in (("fill", 50), ("fill", 80), ("stroke", 95))
    ]
    assert widths == sorted(widths)


def test_a_hostile_title_does_not_run(look_at: Open) -> None:
    opened = look_at(hostile_pair)
    assert opened.page.title() != "owned"
    assert opened.page.locator("img").count() == 0


def test_a_hostile_title_stays_text(look_at: Open) -> None:
    opened = look_at(hostile_pair)
    shown = opened.page.locator("details.sale .title bdi").first.inner_text()
    assert shown.startswith(
        "</script><script>document.title='owned'</script><img src=x onerror=alert(1)> =cmd|"
    )


def test_a_hostile_title_stays_text_in_a_tooltip(look_at: Open) -> None:
    opened = look_at(hostile_pair)
    told = opened.page.locator("#chart-band .broad circle[fill='var(--accent)'] title").first
    assert told.text_content().startswith("</script><script>document.title='owned'</script>")  # type: ignore[union-attr]
    assert opened.page.locator("#chart-band img").count() == 0


def test_the_policy_stops_a_script_that_is_not_the_pages_own(open_page: Open) -> None:
    foreign = html_of(rare_pair()).replace("</main>", "<script>document.title='owned'</script></main>")
    opened = open_page(foreign)
    assert opened.page.title() != "owned"
    assert any("Content Security Policy" in complaint for complaint in opened.complaints)


def test_no_sign_that_turns_text_reaches_the_page(look_at: Open) -> None:
    assert "\u202e" in HOSTILE
    text = look_at(hostile_pair).page.evaluate("document.documentElement.textContent")
    assert not set("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069") & set(text)


@EVERY_PAIR
@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
def test_axe_finds_no_serious_fault(look_at: Open, pair: Callable[[], Appraisal], dark: bool) -> None:
    opened = look_at(pair, dark=dark)
    opened.page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
    assert serious_faults(opened) == []


@EVERY_PAIR
def test_a_page_fits_a_phone(look_at: Open, pair: Callable[[], Appraisal]) -> None:
    opened = look_at(pair, width=390)
    opened.page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
    assert opened.page.evaluate("document.documentElement.scrollWidth") <= 390


def in_view(opened: Opened, name: str) -> list[bool]:
    """Return of every drawing of that name whether it is shown."""
    drawn: list[bool] = opened.page.eval_on_selector_all(
        f".chart .{name}", "drawings => drawings.map((one) => one.getBoundingClientRect().width > 0)"
    )
    return drawn


def test_a_desk_gets_the_broad_drawing_of_each_chart_alone(look_at: Open) -> None:
    opened = look_at(rare_pair)
    assert (in_view(opened, "broad"), in_view(opened, "narrow")) == ([True] * 3, [False] * 3)


def test_a_phone_gets_the_narrow_drawing_of_each_chart_alone(look_at: Open) -> None:
    opened = look_at(rare_pair, width=390)
    assert (in_view(opened, "broad"), in_view(opened, "narrow")) == ([False] * 3, [True] * 3)


@pytest.mark.parametrize("width", [320, 390, 576, 577, 768, 1280])
def test_no_letter_of_a_chart_is_under_nine_pixels(look_at: Open, width: int) -> None:
    heights = look_at(common_pair, width=width).page.eval_on_selector_all(
        ".chart svg",
        """drawings => drawings.filter((one) => one.getBoundingClientRect().width > 0).flatMap((one) => {
            const scale = one.getBoundingClientRect().width / one.viewBox.baseVal.width;
            return [...one.querySelectorAll('text')].map((text) => scale * parseFloat(getComputedStyle(text).fontSize));
        })""",
    )
    assert len(heights) > 50
    assert min(heights) >= 9


OVERLAPS = """([wanted, others]) => [...document.querySelectorAll('.chart svg')].flatMap((drawing) => {
    const boxes = (what) => [...drawing.querySelectorAll(what)].map((one) => [one, one.getBoundingClientRect()])
        .filter(([, box]) => box.height > 0 || box.width > 0);
    return boxes(wanted).flatMap(([one, a]) => boxes(others)
        .filter(([, b]) => a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom)
        .map(([other]) => `${one.textContent} × ${other.outerHTML}`));
})"""
MARKS = ", ".join(
    f"path[{part}='var(--{name})']"
    for part, name in (
        *(("fill", name) for name in ("band-50", "band-80", "accent", "rise", "fall", "ink")),
        ("stroke", "band-95"),
    )
)


@EVERY_PAIR
@pytest.mark.parametrize("width", [390, 1280])
def test_no_figure_stands_on_a_mark(look_at: Open, pair: Callable[[], Appraisal], width: int) -> None:
    opened = look_at(pair, width=width)
    assert opened.page.evaluate(OVERLAPS, ["text[font-weight='600']", MARKS]) == []


@EVERY_PAIR
@pytest.mark.parametrize("width", [390, 1280])
def test_a_reference_line_is_broken_by_the_halo_of_every_word_that_it_meets(
    look_at: Open, pair: Callable[[], Appraisal], width: int
) -> None:
    crossed = """() => [...document.querySelectorAll('.chart svg')].flatMap((drawing) =>
        [...drawing.querySelectorAll('line[stroke-dasharray]')].flatMap((line) =>
            [...drawing.querySelectorAll('text')].filter((word) => {
                const look = getComputedStyle(word);
                const above = line.compareDocumentPosition(word) & Node.DOCUMENT_POSITION_FOLLOWING;
                const [a, b] = [line.getBoundingClientRect(), word.getBoundingClientRect()];
                const meets = a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom;
                return meets && !(above && look.paintOrder.startsWith('stroke') && parseFloat(look.strokeWidth) >= 6);
            }).map((word) => word.textContent)))"""
    assert look_at(pair, width=width).page.evaluate(crossed) == []


def test_a_mark_says_its_numbers_when_pointed_at(look_at: Open) -> None:
    told = look_at(common_pair).page.locator("#chart-band .broad path[fill='var(--band-80)'] title")
    assert told.text_content() == "band: 80\u00a0%\nfrom – to: €1,230 – €2,010"


@pytest.mark.parametrize("width", [320, 390, 576, 577, 768, 1280])
def test_no_page_of_a_pair_is_wider_than_the_screen(look_at: Open, width: int) -> None:
    opened = look_at(common_pair, width=width)
    assert opened.page.evaluate("document.documentElement.scrollWidth") <= width


def test_every_chart_is_an_image_with_its_own_words(look_at: Open) -> None:
    charts = look_at(common_pair).page.eval_on_selector_all(
        ".chart",
        "charts => charts.map((chart) => [chart.getAttribute('role'), chart.getAttribute('aria-label')])",
    )
    assert [role for role, _ in charts] == ["img"] * 3
    assert [words.split(" ")[0] for _, words in charts] == ["Bands", "Steps", "Comparable"]


def test_a_page_turns_dark_with_the_reader(look_at: Open) -> None:
    papers = [
        look_at(rare_pair, dark=dark).page.evaluate("getComputedStyle(document.body).backgroundColor")
        for dark in (False, True)
    ]
    assert papers == ["rgb(253, 252, 249)", "rgb(20, 24, 27)"]


def test_the_marks_turn_dark_with_the_page(look_at: Open) -> None:
    fills = {
        look_at(rare_pair, dark=dark).page.evaluate(
            "getComputedStyle(document.querySelector(\"#chart-band .broad path[fill='var(--band-80)']\")).fill"
        )
        for dark in (False, True)
    }
    assert len(fills) == 2


@EVERY_PAIR
def test_the_page_of_an_appraisal_weighs_no_more_than_150_kilobytes(pair: Callable[[], Appraisal]) -> None:
    assert len(html_of(pair()).encode()) <= 150_000


def test_the_first_tab_reaches_the_skip_link(open_page: Open) -> None:
    opened = open_page(html_of(rare_pair()))
    opened.page.keyboard.press("Tab")
    assert opened.page.evaluate("document.activeElement.textContent") == "Skip to the content"


def test_a_comparable_opens_by_keyboard(open_page: Open) -> None:
    opened = open_page(html_of(rare_pair()))
    opened.page.locator("details.sale summary").first.focus()
    opened.page.keyboard.press("Enter")
    assert opened.page.locator("details.sale table").first.is_visible()


def test_the_lines_of_every_comparable_are_printed(open_page: Open) -> None:
    opened = open_page(html_of(rare_pair()))
    opened.page.evaluate("window.dispatchEvent(new Event('beforeprint'))")
    assert opened.page.locator("details.sale[open]").count() == 2


def test_what_was_closed_before_printing_is_closed_after(open_page: Open) -> None:
    opened = open_page(html_of(rare_pair()))
    opened.page.evaluate(
        "['beforeprint', 'afterprint'].forEach((name) => window.dispatchEvent(new Event(name)))"
    )
    assert opened.page.locator("details.sale[open]").count() == 0


def test_the_index_opens_without_a_complaint_or_a_serious_fault(open_page: Open) -> None:
    entries = [appraisal_entry(common_pair(), "common.html"), appraisal_entry(hostile_pair(), "a b.html")]
    opened = open_page(index_page(entries, business="Tidewrack Pairs", as_of=AS_OF, source=SOURCE))
    assert opened.complaints + serious_faults(opened) == []
