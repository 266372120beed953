"""Doubts settled by keyboard alone, in a real Chromium."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page

from pipeline.answers.review.run import list_decisions
from tests.desks import running_desk
from tests.doubtful import write_doubtful_shop

pytestmark = pytest.mark.browser


@pytest.fixture
def page(chromium: Browser, tmp_path: Path) -> Iterator[Page]:
    """Return the doubts of a small shop, three of which are sales that may be one."""
    with running_desk(write_doubtful_shop(tmp_path)) as address:
        opened = chromium.new_page()
        opened.set_default_timeout(60_000)
        opened.goto(address)
        opened.goto(f"{address.split('/enter')[0]}/doubts?kind=same")
        yield opened
        opened.close()


def _press(page: Page, key: str) -> None:
    with page.expect_navigation():
        page.keyboard.press(key)


def _said(folder: Path) -> list[tuple[str, str]]:
    return [(one["kind"], one["note"]) for one in list_decisions(folder / "pairband.duckdb").decisions]


def test_three_doubts_are_settled_by_keyboard_alone(page: Page, tmp_path: Path) -> None:
    _press(page, "d")
    page.keyboard.press("r")
    page.keyboard.type("sdp one pair")
    page.keyboard.press("Escape")
    _press(page, "p")
    _press(page, "s")
    assert "Nothing awaits your decision here" in page.inner_text("main")
    assert _said(tmp_path) == [("different sales", ""), ("same pair", "sdp one pair"), ("same sale", "")]


def test_the_last_decision_is_taken_back_by_its_key(page: Page, tmp_path: Path) -> None:
    first = page.input_value("[name=at]")
    _press(page, "d")
    _press(page, "u")
    assert page.input_value("[name=at]") == first
    assert _said(tmp_path) == []
