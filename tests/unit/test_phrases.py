"""Sheets and tickets in the customer's language: every word of them, and the same figures in all."""

import re
import tomllib
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest
from click.testing import CliRunner

from pipeline import formats
from pipeline.cli import app
from pipeline.config import Market, Tickets, load_market, parse_market
from pipeline.errors import MarketFileError, UnknownName
from pipeline.market.pair import Pair
from pipeline.phrases.languages import (
    SHIPPED,
    english_texts,
    own_terms,
    phrases_of,
    phrases_toml,
    placeholders,
)
from pipeline.phrases.phrases import shipped_texts
from reports.consignment.tickets import tickets_page
from tests.sheets import BUSINESS, MADE_UP, language, made_up, seen, sheet_in
from tests.unit.test_tickets import ticket

MARKET_FILE = Path(__file__).parents[1] / "market.toml"
TEXT = MARKET_FILE.read_text(encoding="utf-8")
OTHERS = [name for name in SHIPPED if name != "en"]
DOUBTFUL = Pair("Great Auk Hi", treatments=("reglue",), size_label="wide", label="Stock 0418", tags="unknown")
"""A pair of which the records know little, so that much is to be said of its value."""

OWNERS = re.compile(
    "Tidewrack (?:Pairs|Counter)|Lantern Dock|Holm Sound Auctions|Umikaze Lots|Ostrel|Gannet Hi|Great Auk Hi|Buoy Red|"
    "First run|Very good|reglue|wide|Stock|UK|EUR|GBP|JPY|A4|£GB|octobre|septembre"
)
"""What stands on a sheet and is no word of ours: names, the owner's words, currencies, months."""


def with_phrases(**texts: str) -> str:
    lines = [f"{key} = {text!r}" for key, text in texts.items()]
    return TEXT + f"\n[phrases.{MADE_UP}]\n" + "\n".join(lines) + "\n"


def parsed(text: str) -> Market:
    return parse_market(text, where="market.toml")


@pytest.mark.parametrize("name", OTHERS)
def test_a_language_that_comes_with_pairband_has_every_phrase(name: str) -> None:
    assert set(shipped_texts(name)) == set(english_texts())


@pytest.mark.parametrize("name", OTHERS)
def test_every_phrase_of_a_language_holds_what_the_english_holds(name: str) -> None:
    texts = shipped_texts(name)
    assert [
        key for key, text in english_texts().items() if placeholders(texts[key]) != placeholders(text)
    ] == []


@pytest.mark.parametrize("name", OTHERS)
def test_no_sentence_of_another_language_was_left_in_english(name: str) -> None:
    same = [
        key for key, text in english_texts().items() if len(text) > 20 and shipped_texts(name)[key] == text
    ]
    assert same == []


@pytest.mark.parametrize(
    ("pair", "venue"),
    [(None, None), (None, "Umikaze Lots"), (DOUBTFUL, None)],
    ids=["in the shop", "at an auction abroad", "a doubtful pair"],
)
def test_a_sheet_in_a_new_language_holds_no_word_of_another(pair: Pair | None, venue: str | None) -> None:
    html = sheet_in(MADE_UP, venue=venue) if pair is None else sheet_in(MADE_UP, pair, venue)
    left = OWNERS.sub("", re.sub(r"zz-\w+", "", seen(html)))
    assert re.findall(r"[^\W\d_]{2,}", left) == []


def test_tickets_in_a_new_language_hold_no_word_of_another() -> None:
    html = tickets_page([ticket()], Tickets(), business=BUSINESS, language=language(MADE_UP))
    left = OWNERS.sub("", re.sub(r"zz-\w+", "", seen(html)))
    assert re.findall(r"[^\W\d_]{2,}", left) == []


def test_the_title_and_the_foot_of_a_sheet_are_in_its_language() -> None:
    html = sheet_in(MADE_UP)
    assert "zz-consignment_sheet" in html.split("</title>")[0]
    assert r"zz\2d page\5f of" in html.split("</style>")[0]


@pytest.mark.parametrize(("name", "tag"), [("en", "en"), ("de", "de"), ("ja", "ja"), (MADE_UP, "fr")])
def test_a_page_states_its_language(name: str, tag: str) -> None:
    assert f'<html lang="{tag}">' in sheet_in(name)


def figures_of(name: str, venue: str) -> list[str]:
    """Return the digits of each amount in the settlement of a sheet."""
    html = sheet_in(name, venue=venue)
    settled = html[html.index('<table class="settled">') : html.index("</table>")]
    cells = re.findall(r'<td class="figure">(.*?)</td>', settled)
    return [re.sub(r"\D", "", cell) for cell in cells]


@pytest.mark.parametrize("venue", ["Tidewrack Counter", "Lantern Dock", "Umikaze Lots"])
@pytest.mark.parametrize("name", [*OTHERS, MADE_UP])
def test_the_figures_of_a_sheet_are_the_same_in_every_language(name: str, venue: str) -> None:
    assert figures_of(name, venue) == figures_of("en", venue) != []


@pytest.mark.parametrize(
    ("locale", "amount", "yen", "day", "rate"),
    [
        ("de", "1.234,50\u00a0€", "12.345\u00a0¥", "26. November 2026", "12,5\u00a0%"),
        ("ja", "€1,234.50", "¥12,345", "2026年11月26日", "12.5%"),
        ("pt_BR", "€\u00a01.234,50", "JP¥\u00a012.345", "26 de novembro de 2026", "12,5%"),
    ],
)
def test_money_days_and_rates_are_written_as_a_language_writes_them(
    locale: str, amount: str, yen: str, day: str, rate: str
) -> None:
    assert (
        formats.exact(Decimal("1234.5"), "EUR", locale),
        formats.exact(Decimal(12345), "JPY", locale),
        formats.day(date(2026, 11, 26), locale),
        formats.rate(Decimal("0.125"), locale),
    ) == (amount, yen, day, rate)


def test_a_phrase_that_is_missing_is_refused_with_its_english() -> None:
    texts = {key: text for key, text in made_up().items() if key != "to_you"}
    with pytest.raises(MarketFileError, match=r'phrases.fr.to_you is missing: "To you"'):
        parsed(with_phrases(**texts))


def test_a_language_with_every_phrase_is_accepted() -> None:
    assert phrases_of(MADE_UP, parsed(with_phrases(**made_up()))).say("to_you") == " zz-to_you "


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"to_yuo": "x"}, r"phrases.fr.to_yuo: there is no such phrase; did you mean 'to_you'"),
        ({"reserve_kept": "x"}, r"phrases.fr.reserve_kept must hold \{amount\}, as the English has it"),
        ({"to_you": "{net}"}, "phrases.fr.to_you must hold nothing in braces"),
        ({"to_you": "{"}, "phrases.fr.to_you has a brace that stands alone"),
        ({"to_you": " "}, 'phrases.fr.to_you is blank; in English it is "To you"'),
        ({"reserve_kept": "{amount.real}"}, r"phrases.fr.reserve_kept must hold \{amount\}"),
        ({"reserve_kept": "{amount:>999}"}, r"phrases.fr.reserve_kept must hold \{amount\}"),
    ],
)
def test_a_phrase_that_does_not_fit_is_refused(changed: dict[str, str], said: str) -> None:
    with pytest.raises(MarketFileError, match=said):
        parsed(with_phrases(**(made_up() | changed)))


def test_phrases_of_what_is_no_language_are_refused() -> None:
    with pytest.raises(MarketFileError, match=r"phrases\.qqq: no language is called 'qqq'"):
        parsed(TEXT + '\n[phrases.qqq]\nto_you = "x"\n')


def test_an_owners_language_without_phrases_is_refused() -> None:
    text = TEXT.replace("[business]\n", '[business]\nlanguage = "fr"\n', 1)
    with pytest.raises(
        MarketFileError, match=r"business\.language: there are no phrases in the language 'fr'"
    ):
        parsed(text)


def test_a_language_that_nobody_gave_is_refused_for_a_sheet(market: Market) -> None:
    with pytest.raises(UnknownName, match="there are no phrases in the language 'fr'"):
        phrases_of("fr", market)


def test_one_phrase_of_a_language_that_comes_with_pairband_may_be_changed() -> None:
    changed = phrases_of("de", parsed(TEXT + '\n[phrases.de]\nfact_box = "Schachtel"\n'))
    assert (changed.say("fact_box"), changed.say("fact_size")) == ("Schachtel", "Größe")


def test_the_terms_in_a_language_stand_in_the_place_of_the_owners_own() -> None:
    read = parsed(TEXT + '\n[phrases.de]\nterms = "Das Haus versichert das Paar."\n')
    assert own_terms(read, phrases_of("de", read)) == "Das Haus versichert das Paar."


def test_terms_that_nobody_gave_in_a_language_are_none(market: Market) -> None:
    assert own_terms(market, phrases_of("ja", market)) is None


def test_the_owners_own_terms_are_those_of_the_owners_language() -> None:
    read = parsed(TEXT.replace("[business]\n", '[business]\nlanguage = "de"\nterms = "Wie besprochen."\n', 1))
    assert own_terms(read, phrases_of("de", read)) == "Wie besprochen."


def test_the_printed_block_holds_every_phrase_to_translate(market: Market) -> None:
    block = tomllib.loads(phrases_toml("fr", market))["phrases"]["fr"]
    assert set(block) == {*english_texts(), "terms"}
    assert set(block.values()) == {""}


def test_the_printed_block_of_a_language_that_is_there_is_accepted_as_it_is(market: Market) -> None:
    read = parsed(TEXT + "\n" + phrases_toml("de", market))
    assert phrases_of("de", read).texts == {**shipped_texts("de"), "terms": ""}


def test_the_command_prints_the_block() -> None:
    ran = CliRunner().invoke(app, ["phrases", "nl", "--market", str(MARKET_FILE)], catch_exceptions=False)
    assert '# To you\nto_you = ""' in ran.output


def test_what_is_no_language_has_no_phrases_to_print(market: Market) -> None:
    with pytest.raises(MarketFileError, match="no language is called 'klingon'"):
        phrases_toml("klingon", market)


def test_a_language_is_of_the_sheet_or_the_tickets() -> None:
    ran = CliRunner().invoke(app, ["consign", "--silhouette", "Gannet Hi", "--language", "de"])
    assert "it is of the sheet or the tickets: name a --page or --tickets" in " ".join(ran.output.split())


def test_a_market_file_without_phrases_speaks_english() -> None:
    assert load_market(MARKET_FILE).business.language == "en"


def test_words_that_a_language_gives_cannot_write_html() -> None:
    hostile = phrases_of(MADE_UP, parsed(with_phrases(**(made_up() | {"tickets": "<b>x</b>"}))))
    assert "&lt;b&gt;x&lt;/b&gt;" in tickets_page([ticket()], Tickets(), business=BUSINESS, language=hostile)
