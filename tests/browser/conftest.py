"""A real Chromium for the pages: skipped where there is none, but a failure in CI."""

import os
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import cache

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright

from pipeline.answers.appraisal.appraisal import Appraisal
from reports.appraisal.page import appraisal_page

CHROMIUMS = ("chromium-headless-shell", "chromium", "chromium-browser")
"""The names under which Debian and others install it; the first has no window to draw, and is quicker."""

QUIET = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
DRAWN = (
    "() => [...document.querySelectorAll('.chart')]"
    ".every((chart) => chart.dataset.drawn === 'yes' || chart.querySelector('svg')"
    " || chart.closest('#near[hidden], .pricing.empty'))"
)
"""Whether every chart is drawn; no comparables, no chart of them; no pair, no chart."""


def chromium_path() -> str | None:
    """Return where Chromium is installed, or None."""
    return next(filter(None, map(shutil.which, CHROMIUMS)), None)


def serious_faults_of(page: Page) -> list[tuple[str, str]]:
    """Return (rule, the first place) of the serious and critical faults that axe-core finds on a page as it is."""
    found = Axe().run(page, options={"resultTypes": ["violations"]}).response["violations"]
    return [(one["id"], one["nodes"][0]["html"]) for one in found if one["impact"] in ("serious", "critical")]


@dataclass
class Opened:
    """A page as Chromium shows it, with all that it complained of and asked the network for."""

    page: Page
    complaints: list[str] = field(default_factory=list)
    requests: list[str] = field(default_factory=list)


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    """Return a running Chromium."""
    path = chromium_path()
    if path is None:
        if os.environ.get("CI") == "true":
            pytest.fail("no Chromium is installed, and CI must open the pages in one")
        pytest.skip("no Chromium is installed")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=QUIET)
        yield browser
        browser.close()


@pytest.fixture(scope="session")
def open_page(chromium: Browser, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Callable[..., Opened]]:
    """Return a function that opens a page's HTML from disk, with the network off, its charts drawn."""
    contexts: list[BrowserContext] = []
    folder = tmp_path_factory.mktemp("pages")

    def open_from_disk(html: str, *, width: int = 1280, dark: bool = False) -> Opened:
        path = folder / f"page-{len(contexts)}.html"
        path.write_text(html, encoding="utf-8")
        context = chromium.new_context(
            viewport={"width": width, "height": 900}, color_scheme="dark" if dark else "light", offline=True
        )
        contexts.append(context)
        opened = Opened(context.new_page())
        opened.page.on("console", lambda message: opened.complaints.append(f"{message.type}: {message.text}"))
        opened.page.on("pageerror", lambda error: opened.complaints.append(f"error: {error}"))
        opened.page.on("request", lambda request: opened.requests.append(request.url))
        opened.page.goto(path.as_uri())
        opened.page.wait_for_function(DRAWN, timeout=20_000)
        return opened

    yield open_from_disk
    for context in contexts:
        context.close()


@pytest.fixture(scope="session")
def look_at(open_page: Callable[..., Opened]) -> Callable[..., Opened]:
    """Return a function that opens the page of an appraisal once, for tests that leave it as it is."""

    @cache
    def look(pair: Callable[[], Appraisal], *, width: int = 1280, dark: bool = False) -> Opened:
        return open_page(appraisal_page(pair(), business="Tidewrack Pairs"), width=width, dark=dark)

    return look
