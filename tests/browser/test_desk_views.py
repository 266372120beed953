"""Every page of the desk in a real Chromium, on a phone."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page

from pipeline.desk.answers import VIEWS
from pipeline.desk.pages import WAYS
from tests.browser.conftest import serious_faults_of
from tests.desks import running_desk, write_fitted_shop

pytestmark = pytest.mark.browser

PLACES = sorted({link.href for _, links in WAYS for link in links} | {view.path for view in VIEWS} | {"/"})
ANSWERED = (
    "/lots?file=exports%2Fupcoming_lots.csv&as_of=2023-01-15",
    "/stock?file=exports%2Fstock.csv&by=silhouette",
    "/value?silhouette=Gannet+Hi&grade=8&asked=300&as_of=2023-01-15",
    "/value?silhouette=Gannet+Hi&era_odds=sales&as_of=2023-01-15",
    "/value?silhouette=Gannet+Hi&size=UK+99",
    "/value?file=exports%2Fstock.csv&as_of=2023-01-15",
    "/consign?silhouette=Gannet+Hi&grade=8&as_of=2023-01-15",
    "/decisions",
    "/read/map?file=exports%2Fstock.csv",
    FIRST_RECORD := "/records/the first that is listed",
    "/records/add",
    "/records?price=cheap",
    "/nowhere",
)
ALL = (*PLACES, *ANSWERED)


@dataclass(frozen=True)
class Seen:
    """What was seen of one page: serious faults that axe finds, what Chromium complained of, whether it fits."""

    faults: list[tuple[str, str]]
    complaints: list[str]
    fits: bool


@dataclass
class Browsed:
    """A browser that has entered the desk; each page is looked at once."""

    page: Page
    home: str
    complaints: list[str] = field(default_factory=list)
    seen: dict[str, Seen] = field(default_factory=dict)

    def first_record(self) -> str:
        """Return the address of the record that is listed first."""
        self.page.goto(f"{self.home}/records")
        return (
            self.page.locator('td a[href^="/records/"], th a[href^="/records/"]').first.get_attribute("href")
            or ""
        )

    def look(self, path: str) -> Seen:
        """Return what is seen of a page of the desk once its answer is there."""
        if path not in self.seen:
            place = self.first_record() if path == FIRST_RECORD else path
            self.complaints.clear()
            self.page.goto(f"{self.home}{place}")
            self.page.wait_for_function("() => !document.querySelector('[data-work]')", timeout=60_000)
            self.seen[path] = Seen(
                serious_faults_of(self.page),
                [said for said in self.complaints if "status of 4" not in said],
                self.page.evaluate("document.documentElement.scrollWidth <= innerWidth"),
            )
        return self.seen[path]


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Return the address of a desk that runs."""
    folder: Path = write_fitted_shop(tmp_path_factory.mktemp("desk"))
    with running_desk(folder) as found:
        yield found


@pytest.fixture(scope="module")
def browsed(chromium: Browser, address: str) -> Iterator[Browsed]:
    """Return a browser on a phone that has entered the desk; it is dark, where contrast is hardest."""
    context = chromium.new_context(viewport={"width": 390, "height": 900}, color_scheme="dark")
    found = Browsed(context.new_page(), address.split("/enter")[0])
    found.page.on("console", lambda message: found.complaints.append(f"{message.type}: {message.text}"))
    found.page.on("pageerror", lambda error: found.complaints.append(f"error: {error}"))
    found.page.goto(address)
    yield found
    context.close()


@pytest.mark.parametrize("path", ALL)
def test_axe_finds_no_serious_fault_on_the_desk(browsed: Browsed, path: str) -> None:
    assert browsed.look(path).faults == []


@pytest.mark.parametrize("path", ALL)
def test_no_page_of_the_desk_is_wider_than_the_screen(browsed: Browsed, path: str) -> None:
    assert browsed.look(path).fits


@pytest.mark.parametrize("path", ALL)
def test_no_page_of_the_desk_breaks_its_own_policy(browsed: Browsed, path: str) -> None:
    assert browsed.look(path).complaints == []
