"""Consignment sheets of the demo in several languages, and what a reader sees of them."""

import re
from functools import cache
from html import unescape

from pipeline.phrases.languages import english_texts, phrases_of, placeholders
from pipeline.phrases.phrases import Phrases
from reports.consignment.page import consignment_page
from sample_data import scenario
from tests.upcoming import COMMON, demo_consignment

BUSINESS = "Tidewrack Pairs"
MADE_UP = "fr"
"""A language that does not come with pairband."""


@cache
def made_up() -> dict[str, str]:
    """Return phrases of which each is its key behind "zz-", with the placeholders that it must have."""
    return {
        key: " ".join(["", f"zz-{key}", *(f"{{{name}}}" for name in sorted(placeholders(text))), ""])
        for key, text in english_texts().items()
    }


def language(name: str) -> Phrases:
    """Return a language that comes with pairband, or the made-up one."""
    market = scenario.market()
    return phrases_of(name, market.model_copy(update={"phrases": {MADE_UP: made_up()}}))


@cache
def sheet_in(name: str, pair: object = COMMON, venue: str | None = None) -> str:
    """Return the sheet of a pair in a language."""
    return consignment_page(
        demo_consignment(pair),  # type: ignore[arg-type]
        business=BUSINESS,
        venue=venue,
        language=language(name),
    )


def seen(html: str) -> str:
    """Return the text of a page, its charts and the words for who cannot see them, a line a paragraph."""
    body = html.split("<body", 1)[1]
    said = re.findall(r' (?:alt|aria-label|title)="([^"]*)"', body)
    text = re.sub(r"</?(?:bdi|a|b|span|code)\b[^>]*>", "", body)
    lines = [" ".join(line.split()) for line in re.sub(r"<[^>]*>", "\n", f"<{text}").splitlines()]
    return unescape("\n".join(line for line in [*lines, *said] if line)) + "\n"
