"""Each word of an answer is explained once, and wherever it is used."""

import re
from html import unescape
from pathlib import Path

import pytest

from pipeline.answers.sheet import Sheet, table, words
from pipeline.glossary import GLOSSARY, meaning, term_of, terms_in
from pipeline.terminal.sheet import show_sheet
from reports.appraisal.page import appraisal_page
from reports.consignment.page import consignment_page
from reports.lots.page import lots_page
from tests.appraisals import common_pair
from tests.upcoming import demo_consignment, demo_lots

ROOT = Path(__file__).parents[2]
SECTION = re.compile(r'<h2 id="words">.*?</dl>', re.DOTALL)
PAGES = {
    "appraisal": lambda: appraisal_page(common_pair(), business="Tidewrack Pairs"),
    "consignment": lambda: consignment_page(demo_consignment(), business="Tidewrack Pairs"),
    "lots": lambda: lots_page(demo_lots(), business="Tidewrack Pairs"),
}


def names_in(text: str) -> list[str]:
    return [term.name for term in terms_in(text)]


def explained_on(html: str) -> dict[str, str]:
    """Return the words that a page explains at its foot, with what it says of each."""
    [section] = SECTION.findall(html)
    return {
        unescape(name): unescape(said).replace("\u00a0", " ")
        for name, said in re.findall(r"<dt>(.*?)</dt><dd>(.*?)</dd>", section)
    }


def test_every_term_is_defined_once() -> None:
    spellings = [spelling for term in GLOSSARY for spelling in (term.name, *term.also)]
    assert sorted(spellings) == sorted(set(spellings))


@pytest.mark.parametrize("term", GLOSSARY, ids=lambda term: term.name)
def test_a_meaning_is_one_sentence(term: object) -> None:
    assert re.fullmatch(r"[A-Z][^.]*(?:\d\.\d[^.]*)*\.", meaning(term.name))  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    ("text", "names"),
    [
        ("What it should fetch, all-in, and its Fair Value", ["fair value", "all-in"]),
        ("80 % band", ["band"]),
        ("Net at the median", ["net at the median"]),
        ("Expected net, and the net", ["net", "expected net"]),
        ("± s.e., points", ["standard error"]),
        ("a margin of 20 %", ["margin"]),
        ("most to pay €250", ["maximum bid"]),
    ],
)
def test_a_term_is_found_where_a_text_uses_it(text: str, names: list[str]) -> None:
    assert names_in(text) == names


@pytest.mark.parametrize("text", ["a planet, an internet, a husband", "marginal", "overall-in", "degraded"])
def test_a_word_that_only_contains_a_term_is_none(text: str) -> None:
    assert names_in(text) == []


def test_a_heading_is_explained_by_the_longest_term_in_it() -> None:
    found = term_of("Net at the median, best venue")
    assert found is not None
    assert found.name == "net at the median"


@pytest.mark.parametrize("page", PAGES)
def test_a_page_explains_every_term_that_it_uses(page: str) -> None:
    html = PAGES[page]()
    shown = re.sub(r"<[^>]*>", " ", html[html.index("<main") : html.index("</main>")])
    assert list(explained_on(html)) == names_in(shown)


@pytest.mark.parametrize("page", PAGES)
def test_a_page_explains_a_term_in_the_words_of_the_glossary(page: str) -> None:
    assert [name for name, said in explained_on(PAGES[page]()).items() if said != meaning(name)] == []


@pytest.mark.parametrize("page", PAGES)
def test_every_heading_that_is_a_link_leads_to_a_term_on_its_page(page: str) -> None:
    html = PAGES[page]()
    links = set(re.findall(r'<a class="term" href="#([^"]+)"', html))
    assert links - set(re.findall(r'<div id="([^"]+)">', html)) == set()


def test_the_terminal_explains_all_in_under_an_answer_that_uses_it(
    capsys: pytest.CaptureFixture[str],
) -> None:
    show_sheet(Sheet("A pair", figures=(("Fair value, all-in", "€239"),)), limits=False)
    assert f"All-in: {meaning('all-in')}" in " ".join(capsys.readouterr().out.split())


def test_the_terminal_explains_nothing_that_an_answer_does_not_use(
    capsys: pytest.CaptureFixture[str],
) -> None:
    show_sheet(
        Sheet("A pair", tables=(table("t", "", (words("a", "All"),), [{"a": "all-in"}]),)), limits=False
    )
    assert "All-in:" not in capsys.readouterr().out


def test_the_readme_explains_every_term_in_the_words_of_the_glossary() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    assert [term.name for term in GLOSSARY if f"* **{term.name}**: {term.meaning}\n" not in readme] == []
