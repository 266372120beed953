"""The page of an audit in real Chromium, opened from disk with the network off."""

from collections.abc import Callable
from functools import cache

import pytest

from pipeline.answers.audit.figures import Audit
from reports.audit.page import audit_page
from tests.audits import hostile_audit, narrow_audit, usual_audit
from tests.browser.conftest import Opened
from tests.browser.test_pages import serious_faults

pytestmark = pytest.mark.browser
Open = Callable[..., Opened]
EVERY_AUDIT = pytest.mark.parametrize("audit", [usual_audit, narrow_audit, hostile_audit])


@pytest.fixture(scope="module")
def look(open_page: Open) -> Open:
    """Return a function that opens the page of an audit once, for tests that leave it as it is."""

    @cache
    def look_at(audit: Callable[[], Audit], *, width: int = 1280, dark: bool = False) -> Opened:
        return open_page(audit_page(audit(), business="Tidewrack Pairs"), width=width, dark=dark)

    return look_at


@EVERY_AUDIT
def test_the_audit_opens_from_disk_without_a_complaint(look: Open, audit: Callable[[], Audit]) -> None:
    assert look(audit).complaints == []


def test_the_verdict_heads_the_page(look: Open) -> None:
    assert look(narrow_audit).page.inner_text("h1") == "The bands are too narrow"


def test_too_narrow_bands_stand_in_a_notice(look: Open) -> None:
    assert look(narrow_audit).page.locator(".notice").count() == 1
    assert look(usual_audit).page.locator(".notice").count() == 0


def test_the_bands_of_every_level_and_of_each_group_are_drawn(look: Open) -> None:
    bars = look(usual_audit).page.locator("#chart-bands .broad path[stroke='var(--band-95)']")
    assert bars.count() == 5


def test_a_hostile_title_in_the_audit_does_not_run(look: Open) -> None:
    opened = look(hostile_audit)
    assert opened.page.title() != "owned"
    assert opened.page.locator("img").count() == 0


@EVERY_AUDIT
@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
def test_axe_finds_no_serious_fault_in_the_audit(look: Open, audit: Callable[[], Audit], dark: bool) -> None:
    opened = look(audit, dark=dark)
    opened.page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
    assert serious_faults(opened) == []


@EVERY_AUDIT
def test_the_audit_fits_a_phone(look: Open, audit: Callable[[], Audit]) -> None:
    assert look(audit, width=390).page.evaluate("document.documentElement.scrollWidth") <= 390
