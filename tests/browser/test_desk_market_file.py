"""The market file on the desk, in a real Chromium: changed by forms, looked at, saved, undone, and never lost."""

from collections.abc import Iterator
from pathlib import Path
from shutil import copy
from signal import SIGKILL

import pytest
from playwright.sync_api import Browser, Page

from pipeline.config import load_market
from pipeline.shipped import shipped
from tests.browser.conftest import serious_faults_of
from tests.desks import running_desk

pytestmark = pytest.mark.browser

PAGES = (
    "/market-file",
    "/market-file/list?at=venues",
    "/market-file/list?at=silhouettes",
    "/market-file/table?at=venues&at=0",
    "/market-file/table?at=venues&at=0&at=fees&at=1",
    "/market-file/new?at=eras",
    "/market-file/table?at=words",
    "/market-file/text",
    "/market-file/earlier",
)


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with a market file and nothing else."""
    folder = tmp_path_factory.mktemp("market")
    copy(shipped("sample_data") / "market.toml", folder)
    return folder


@pytest.fixture(scope="module")
def address(shop: Path) -> Iterator[str]:
    """Return the address of the folder's desk."""
    with running_desk(shop) as found:
        yield found


@pytest.fixture
def page(chromium: Browser, address: str) -> Iterator[Page]:
    """Return a page that has entered the desk, on a phone."""
    context = chromium.new_context(
        viewport={"width": 390, "height": 844}, base_url=address.split("/enter")[0]
    )
    found = context.new_page()
    found.goto(address)
    yield found
    context.close()


def comments(text: str) -> list[str]:
    return [line for line in text.splitlines() if line.lstrip().startswith("#")]


@pytest.mark.parametrize("path", PAGES)
def test_axe_finds_no_serious_fault_on_a_phone(page: Page, path: str) -> None:
    page.goto(path)
    assert serious_faults_of(page) == []
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")


def test_a_premium_is_changed_seen_saved_and_undone(page: Page, shop: Path) -> None:
    file = shop / "market.toml"
    before = file.read_bytes()
    page.goto("/market-file")
    page.get_by_role("link", name="Venues", exact=True).click()
    page.get_by_role("link", name="Holm Sound Auctions").click()
    page.get_by_role("link", name="Buyer's premium from 2021-03-01").click()
    page.get_by_label("Rate", exact=True).first.fill("30 %")
    page.get_by_role("button", name="See what would change").last.click()
    page.get_by_role("heading", name="What would change").wait_for()
    tables = page.locator(".compared table")
    assert "€125.00" in tables.nth(0).inner_text()
    assert "€150.00" in tables.nth(1).inner_text()
    assert page.locator(".difference .removed").count() == page.locator(".difference .added").count() == 1
    assert serious_faults_of(page) == []
    assert file.read_bytes() == before
    page.get_by_role("button", name="Save").click()
    page.get_by_text("Saved.").wait_for()
    saved = file.read_text(encoding="utf-8")
    assert str(load_market(file).venues[0].fees[1].tiers[0].rate) == "0.3"
    assert comments(saved) == comments(before.decode())
    page.get_by_role("link", name="Undo").click()
    page.get_by_role("button", name="Bring it back").click()
    page.get_by_text("The earlier text is back.").wait_for()
    assert file.read_bytes() == before


def test_an_era_is_added_by_keyboard(page: Page, shop: Path) -> None:
    page.goto("/market-file/list?at=eras")
    page.get_by_role("link", name="Add one").focus()
    page.keyboard.press("Enter")
    page.get_by_label("Name").focus()
    page.keyboard.type("Third Wave")
    page.keyboard.press("Tab")
    page.keyboard.type("re-issue")
    page.keyboard.press("Tab")
    page.keyboard.type("2030")
    page.keyboard.press("Enter")
    save = page.get_by_role("button", name="Save")
    save.focus()
    page.keyboard.press("Enter")
    page.get_by_text("Saved.").wait_for()
    era = load_market(shop / "market.toml").eras[-1]
    assert (era.name, era.run, era.first_year, era.last_year) == ("Third Wave", "re-issue", 2030, None)


def test_a_grade_word_is_added_without_scripts(chromium: Browser, page: Page, shop: Path) -> None:
    plain = chromium.new_context(
        java_script_enabled=False, base_url=page.url, storage_state=page.context.storage_state()
    )
    bare = plain.new_page()
    bare.goto("/market-file/table?at=words")
    words = bare.get_by_role("group", name="Words for a grade")
    words.get_by_label("Word", exact=True).nth(-2).fill("barely worn")
    words.get_by_label("Grade", exact=True).nth(-2).fill("9")
    bare.get_by_role("button", name="See what would change").last.click()
    bare.get_by_role("button", name="Save").click()
    bare.get_by_text("Saved.").wait_for()
    plain.close()
    assert load_market(shop / "market.toml").words.grades["barely worn"] == 9


def test_a_fault_in_the_text_leads_to_its_line(page: Page) -> None:
    page.goto("/market-file/text")
    text = page.get_by_label("The whole file")
    written = text.input_value()
    number = written.split("\n").index("confidence = 0.8") + 1
    text.fill(written.replace("confidence = 0.8", "confidence = 8"))
    page.get_by_role("button", name="See what would change").click()
    page.get_by_role("link", name=f"Line {number}").click()
    chosen = page.evaluate(
        "() => { const one = document.activeElement; "
        "return one.value.slice(one.selectionStart, one.selectionEnd); }"
    )
    assert chosen == "confidence = 8"
    page.goto("/market-file/text")
    page.get_by_role("button", name="Start again from the file").click()
    page.get_by_text("did not save").wait_for(state="detached")
    assert page.get_by_label("The whole file").input_value() == written


def test_what_is_typed_outlives_a_desk_that_is_killed(chromium: Browser, tmp_path: Path) -> None:
    copy(shipped("sample_data") / "market.toml", tmp_path)
    form = "/market-file/table?at=buying"
    with running_desk(tmp_path, ends_by=SIGKILL) as address:
        page = chromium.new_page()
        page.goto(address)
        page.goto(f"{address.split('/enter')[0]}{form}")
        with page.expect_response("**/draft"):
            page.get_by_label("Margin wanted").fill("0.37")
    page.close()
    with running_desk(tmp_path) as address:
        page = chromium.new_page()
        page.goto(address)
        page.goto(f"{address.split('/enter')[0]}{form}")
        assert page.get_by_label("Margin wanted").input_value() == "0.37"
        page.close()
