"""A pair described on the desk in real Chromium, by keyboard: the band moves, the value is kept, the sheet prints."""

import re
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, Request, expect
from pypdf import PdfReader

from tests.desks import running_desk, write_fitted_shop

pytestmark = pytest.mark.browser
WAIT = 20_000
"""Milliseconds within which an answer must be there, on a machine that does much else."""


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Return the first address of a desk that runs by itself."""
    with running_desk(write_fitted_shop(tmp_path_factory.mktemp("value") / "shop")) as address:
        yield address


@pytest.fixture
def page(chromium: Browser, address: str) -> Iterator[Page]:
    """Return a page that has entered the desk and stands at the form; what it complains of fails the test."""
    with chromium.new_context(viewport={"width": 1280, "height": 900}) as context:
        opened = context.new_page()
        opened.set_default_timeout(WAIT)
        complaints: list[str] = []
        opened.on("pageerror", lambda error: complaints.append(str(error)))
        opened.on(
            "console", lambda said: complaints.append(said.text) if "Content Security" in said.text else None
        )
        opened.goto(address)
        opened.goto(f"{opened.url.rstrip('/')}/value?as_of=2023-01-15&label=TP-9")
        yield opened
        assert complaints == []


def describe(page: Page, **words: str) -> None:
    """Type words into the fields, by keyboard alone from the first."""
    for name, word in words.items():
        page.locator(f"form[data-live] [name={name}]").focus()
        page.keyboard.press("Control+A")
        page.keyboard.type(word)


def glanced(page: Page) -> str:
    return page.locator("[data-part=glance] dd").first.inner_text()


def wait_for_the_whole_page(page: Page) -> None:
    """Wait until the page is that of the words that stand in the form."""
    expect(page.locator("main")).not_to_have_attribute("aria-busy", "true", timeout=WAIT)


def test_the_band_moves_as_a_pair_is_described(page: Page) -> None:
    describe(page, silhouette="Gannet Hi")
    expect(page.locator("[data-part=glance] svg.strip rect")).to_have_count(3, timeout=WAIT)
    before = page.locator("svg.strip .level-80").get_attribute("x"), glanced(page)

    describe(page, grade="9.5")

    expect(page.locator("[data-part=glance] dd").first).not_to_have_text(before[1], timeout=WAIT)
    assert page.locator("svg.strip .level-80").get_attribute("x") != before[0]


def test_the_answer_follows_without_the_fields_losing_their_place(page: Page) -> None:
    describe(page, silhouette="Gannet Hi", grade="8")
    wait_for_the_whole_page(page)
    page.keyboard.type(".5")

    wait_for_the_whole_page(page)

    assert page.evaluate("document.activeElement.name") == "grade"
    expect(page.locator("main .median .amount")).to_have_text(
        glanced(page).removeprefix("about "), timeout=WAIT
    )
    assert "grade=8.5" in page.url


def test_only_the_last_answer_is_shown(page: Page) -> None:
    describe(page, silhouette="Gannet Hi")
    wait_for_the_whole_page(page)
    for grade in ("5", "6", "7", "8"):
        describe(page, grade=grade)

    wait_for_the_whole_page(page)

    facts = page.locator("main section:has(#pair) dl").inner_text()
    assert re.search(r"Grade\s+8\b", facts)


def test_a_word_that_means_nothing_is_said_at_its_field_as_it_is_typed(page: Page) -> None:
    describe(page, silhouette="Gannet Hi", size="UK 99")

    fault = page.locator(".field:has([name=size]) .fault")

    expect(fault).to_contain_text("no foot length", timeout=WAIT)
    assert page.locator("[name=size]").get_attribute("aria-invalid") == "true"
    describe(page, size="UK 9")
    expect(fault).to_have_count(0, timeout=WAIT)


def test_the_colourways_offered_follow_the_silhouette(page: Page) -> None:
    of_all = page.locator("#field-colourway-offered option").count()

    describe(page, silhouette="Gannet Hi")
    wait_for_the_whole_page(page)

    assert 0 < page.locator("#field-colourway-offered option").count() < of_all


def test_an_asking_price_is_judged_as_it_is_typed(page: Page) -> None:
    describe(page, silhouette="Gannet Hi", grade="8", asked="5000")

    expect(page.locator("[data-part=glance] .verdict")).to_contain_text("Pass at €5,000", timeout=WAIT)


def test_a_value_is_kept_by_keyboard(page: Page) -> None:
    describe(page, silhouette="Gannet Hi", grade="8")
    wait_for_the_whole_page(page)
    page.get_by_role("button", name="Keep this value").focus()
    page.keyboard.press("Enter")

    expect(page.locator(".desk-notice")).to_contain_text(re.compile("Kept [01] value"), timeout=WAIT)
    assert page.locator("[name=silhouette]").input_value() == "Gannet Hi"


def test_without_script_a_button_shows_the_value(chromium: Browser, address: str) -> None:
    with chromium.new_context(java_script_enabled=False) as context:
        plain = context.new_page()
        plain.goto(address)
        plain.goto(f"{plain.url.rstrip('/')}/value")
        plain.locator("[name=silhouette]").fill("Gannet Hi")
        plain.get_by_role("button", name="Show").click()

        assert plain.locator("main .median .amount").inner_text().startswith("€")
        assert plain.locator("[data-part=glance] svg.strip rect").count() == 3


def test_the_sheet_of_a_consignment_opens_alone_and_prints_as_its_file_does(
    page: Page, tmp_path: Path
) -> None:
    describe(page, silhouette="Gannet Hi", grade="8")
    wait_for_the_whole_page(page)
    page.get_by_role("link", name="Price a consignment of it").click()
    with page.expect_popup() as opened:
        page.get_by_role("link", name="The sheet to hand out").click()
    sheet = opened.value
    sheet.wait_for_load_state()
    file = tmp_path / "sheet.html"
    with page.expect_download() as saved:
        page.get_by_role("link", name="Save the sheet").click()
    saved.value.save_as(file)

    printed = PdfReader(BytesIO(sheet.pdf(format="A4", prefer_css_page_size=True)))

    assert sheet.locator(".desk-ways").count() == 0
    sheet.context.set_offline(True)
    page.goto(file.as_uri())
    from_disk = PdfReader(BytesIO(page.pdf(format="A4", prefer_css_page_size=True)))
    page.context.set_offline(False)
    assert [one.extract_text() for one in printed.pages] == [one.extract_text() for one in from_disk.pages]


@pytest.mark.parametrize("width", [390, 768, 1280, 1600])
def test_nothing_runs_off_the_side(page: Page, width: int) -> None:
    page.set_viewport_size({"width": width, "height": 800})
    page.goto(f"{page.url.split('/value')[0]}/value?silhouette=Gannet+Hi&grade=8&asked=300&as_of=2023-01-15")

    assert page.evaluate("document.documentElement.scrollWidth") == width


def test_a_form_asks_nobody_outside_the_desk(page: Page) -> None:
    asked: list[str] = []

    def note(request: Request) -> None:
        asked.append(request.url)

    page.on("request", note)
    describe(page, silhouette="Gannet Hi", grade="8")
    wait_for_the_whole_page(page)

    own = page.url.split("/value")[0]
    assert asked
    assert [url for url in asked if not url.startswith(f"{own}/")] == []
