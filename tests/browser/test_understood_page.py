"""The page of what was understood in real Chromium, opened from disk with the network off."""

from collections.abc import Callable
from functools import cache

import pytest

from pipeline.answers.understood.answer import Understood
from reports.understood.page import understood_page
from tests.browser.conftest import Opened
from tests.browser.test_pages import serious_faults
from tests.understandings import hostile_file, unreadable_file, usual_file

pytestmark = pytest.mark.browser
Open = Callable[..., Opened]
EVERY_FILE = pytest.mark.parametrize("file", [usual_file, hostile_file, unreadable_file])


@pytest.fixture(scope="module")
def look(open_page: Open) -> Open:
    """Return a function that opens the page of a file once, for tests that leave it as it is."""

    @cache
    def look_at(file: Callable[[], Understood], *, width: int = 1280, dark: bool = False) -> Opened:
        return open_page(understood_page(file(), business="Tidewrack Pairs"), width=width, dark=dark)

    return look_at


@EVERY_FILE
def test_the_page_of_a_file_opens_from_disk_without_a_complaint(
    look: Open, file: Callable[[], Understood]
) -> None:
    assert look(file).complaints == []


def test_what_no_row_says_of_a_field_is_drawn_as_an_empty_bar(look: Open) -> None:
    empty = look(usual_file).page.locator("#chart-fields .broad path[fill='var(--panel)']")
    assert empty.count() == 1 + 11  # the key, and every field but the silhouette that all rows name in part


def test_the_money_stands_on_the_first_screen_with_the_bars(look: Open) -> None:
    top = look(usual_file).page.locator("#money").bounding_box()
    assert top is not None
    assert top["y"] < 900


def test_a_hostile_title_in_a_file_does_not_run(look: Open) -> None:
    opened = look(hostile_file)
    assert (opened.page.title() != "owned", opened.page.locator("img").count()) == (True, 0)


@EVERY_FILE
@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
def test_axe_finds_no_serious_fault_in_the_page_of_a_file(
    look: Open, file: Callable[[], Understood], dark: bool
) -> None:
    opened = look(file, dark=dark)
    opened.page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
    assert serious_faults(opened) == []


@EVERY_FILE
def test_the_page_of_a_file_fits_a_phone(look: Open, file: Callable[[], Understood]) -> None:
    assert look(file, width=390).page.evaluate("document.documentElement.scrollWidth") <= 390
