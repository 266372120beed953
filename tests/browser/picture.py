"""Take the README's picture: the top of the demo's appraisal page. `python -m tests.browser.picture DEMO`."""

import sys
from pathlib import Path

from playwright.sync_api import sync_playwright

from tests.browser.conftest import DRAWN, QUIET, chromium_path

ROOT = Path(__file__).parents[2]


def main() -> None:
    """Write reports/pictures/appraisal.png from DEMO/pages/common.html."""
    page_file = Path(sys.argv[1]).resolve() / "pages" / "common.html"
    picture = ROOT / "reports" / "pictures" / "appraisal.png"
    picture.parent.mkdir(exist_ok=True)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium_path(), args=QUIET)
        page = browser.new_page(viewport={"width": 860, "height": 1560})
        page.goto(page_file.as_uri())
        page.wait_for_function(DRAWN)
        page.screenshot(path=picture)
        browser.close()


if __name__ == "__main__":
    main()
