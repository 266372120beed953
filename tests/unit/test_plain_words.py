"""What pairband says, in messages, docs and code alike, is plain modern English."""

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]

CLEANED: tuple[str, ...] = (
    "pipeline/starter.toml",
    "pipeline/**/*.py",
    "reports/**/*.py",
    "reports/**/*.j2",
    "reports/**/*.js",
    "sql/**/*.sql",
    "sample_data/*.py",
    "sample_data/*.toml",
    "sample_data/README.md",
    "README.md",
    "DEVELOPERS.md",
)
"""The shipped files whose words are checked; the aim is all of pipeline, reports, sql, sample_data and the docs."""

PLAIN: dict[str, str] = {
    r"noughts?|naught": "zero",
    r"mend(s|ed|ing)?": "fix, correct",
    r"programmes?": "program",
    r"oftener|oftenest": "more often",
    r"dear(er|est)?": "expensive",
    r"kin": "similar models",
    r"thereof|whereof|therein|wherein|thereby|whereby|thereupon": "say what of, in or by",
    r"whilst|amidst|amongst": "while, amid, among",
    r"hence(forth)?|whence|thence|hither(to)?|thither|hereto(fore)?": "so, from where, until now",
    r"thrice|unto|betwixt|ere|yonder|afore(said)?|anew|asunder": "three times, to, between, before, again",
    r"shall|ought|wont": "must, should, used to",
    r"reckon(s|ed|ing)?": "compute, work out",
    r"witness(es)?": "check",
    r"ailments?": "problem",
    r"carriage": "shipping",
    r"haggl(ed?|es|ing)": "sold below the ask",
    r"slips?": "error",
    r"at fault": "wrong, has an error",
    r"tell(s|ing)? of|told": "says, records, reports",
    r"tell(s|ing)? (\w+ )?apart|told apart": "distinguish",
    r"held[ -]out|holds? out": "excluded pending review",
    r"kept (its|their) word|keeps? (its|their) word": "held up",
    r"in moving air": "well ventilated",
    r"landed at it": "cost if won now",
    r"worths": "values",
    r"nothing speaks against": "no warnings",
    r"bids? that (a|the) house takes?": "a valid bid step",
    r"more than chance would have it": "more than chance explains",
    r"drawn towards": "shrunk towards",
}
"""The old-fashioned words, as regular expressions, and what is said instead."""

ALLOWED: dict[tuple[str, str], str] = {
    (
        "sql/marts/records_digest.sql",
        "'held out'",
    ): "part of what is digested: another word would make old fits stale",
}
"""By file and phrase, why an old word stays."""

MIGRATION = re.compile(r"\d{4}_\w+\.sql")
"""Migrations that ledgers have had never change, nor do their words."""

OLD = re.compile(rf"(?<![a-z])({'|'.join(PLAIN)})(?![a-z])", re.IGNORECASE)


def shipped_files() -> list[str]:
    """Return the files of CLEANED, by their path in the repository."""
    found = {path for pattern in CLEANED for path in ROOT.glob(pattern) if not MIGRATION.fullmatch(path.name)}
    return sorted(path.relative_to(ROOT).as_posix() for path in found)


def old_words(text: str, name: str = "") -> list[str]:
    """Return the lines of a file's text that hold an old word, with their numbers."""
    lines = []
    for number, line in enumerate(text.splitlines(), start=1):
        for file, phrase in ALLOWED:
            if file == name:
                line = line.replace(phrase, "")
        if OLD.search(line):
            lines.append(f"{number}: {line.strip()}")
    return lines


@pytest.mark.parametrize("name", shipped_files())
def test_a_shipped_file_uses_plain_modern_words(name: str) -> None:
    assert old_words((ROOT / name).read_text(encoding="utf-8"), name) == []


@pytest.mark.parametrize("pattern", CLEANED)
def test_every_pattern_of_cleaned_files_finds_some(pattern: str) -> None:
    assert list(ROOT.glob(pattern))


@pytest.mark.parametrize(
    "text",
    [
        "a price below nought",
        "Mend `rates.file` in the market file.",
        "with_slips_mended(tokens)",
        "The band rests on its kin.",
        "rows at fault",
        "HAGGLED = 0.3",
    ],
)
def test_an_old_word_is_found_in_prose_and_in_names(text: str) -> None:
    assert old_words(text) == [f"1: {text}"]


@pytest.mark.parametrize(
    "text", ["we recommend", "a kind of skin", "a default", "there is one", "slipped", "appearance"]
)
def test_a_word_that_only_contains_an_old_one_is_let_through(text: str) -> None:
    assert old_words(text) == []


@pytest.mark.parametrize(("name", "phrase"), sorted(ALLOWED))
def test_an_exception_that_nothing_needs_any_longer_is_dropped(name: str, phrase: str) -> None:
    text = (ROOT / name).read_text(encoding="utf-8")
    assert phrase in text
    assert OLD.search(phrase)
