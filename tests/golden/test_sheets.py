"""The consignment sheet in German and Japanese as text: what a consignor reads, without the figures of its chart.

`python -m tests.golden.test_sheets` writes them anew, to be read before they are committed.
"""

import re
from pathlib import Path

import pytest

from tests.sheets import seen, sheet_in

HERE = Path(__file__).parent / "sheets"
SHEETS = {
    "de_shop": ("de", "Tidewrack Counter"),
    "de_auction": ("de", "Umikaze Lots"),
    "ja_shop": ("ja", "Tidewrack Counter"),
    "ja_auction": ("ja", "Umikaze Lots"),
}


def written(name: str) -> str:
    language, venue = SHEETS[name]
    html = re.sub(r"<(svg|details)\b.*?</\1>", "", sheet_in(language, venue=venue), flags=re.DOTALL)
    return seen(html)


@pytest.mark.parametrize("name", sorted(SHEETS))
def test_a_sheet_says_what_was_agreed(name: str) -> None:
    assert written(name) == (HERE / f"{name}.txt").read_text(encoding="utf-8")


if __name__ == "__main__":
    for sheet in SHEETS:
        (HERE / f"{sheet}.txt").write_text(written(sheet), encoding="utf-8")
