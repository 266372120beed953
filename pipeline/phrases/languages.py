"""The languages of sheets and tickets: those that come with pairband, and those that the market file gives."""

import re
from collections.abc import Iterator, Mapping
from functools import cache
from string import Formatter
from typing import TYPE_CHECKING

from babel import Locale, UnknownLocaleError

from pipeline.answers.appraisal.sentences import SENTENCES, WEAKNESSES, phrase_key, weakness_key
from pipeline.errors import MarketFileError, UnknownName, suggest
from pipeline.glossary import meaning
from pipeline.limits import LIMITS
from pipeline.phrases.phrases import ENGLISH, ENGLISH_TAG, Phrases, shipped_texts

if TYPE_CHECKING:
    from pipeline.config import Market

SHIPPED = (ENGLISH_TAG, "de", "ja")
"""The languages that come with pairband."""

EXPLAINED = ("fair value", "band", "net at the median", "expected net", "grade")
"""The words of the glossary that a sheet uses; in other languages than ours they are explained on every one."""

OWN_TERMS = "terms"
"""The key of the owner's terms of consigning in a language; they are no phrase."""


@cache
def english_texts() -> Mapping[str, str]:
    """Return every phrase of sheets and tickets in English, by its key, in the order in which they are listed."""
    return {
        **ENGLISH.texts,
        **{phrase_key(key): text.removesuffix("{hint}") for key, text in SENTENCES.items()},
        **{weakness_key(weakness): weakness for weakness in WEAKNESSES.values()},
        **{limit_key(number): text for number, text in enumerate(LIMITS)},
        **{word_key(name): name for name in EXPLAINED},
        **{meaning_key(name): meaning(name) for name in EXPLAINED},
    }


def limit_key(number: int) -> str:
    """Return the key of the phrase that says a limit of what is said, by its place from 0."""
    return f"limit_{number + 1}"


def word_key(name: str) -> str:
    """Return the key of the phrase for a word of the glossary."""
    return f"word_{name.replace(' ', '_')}"


def meaning_key(name: str) -> str:
    """Return the key of the phrase that explains a word of the glossary."""
    return f"meaning_{name.replace(' ', '_')}"


def phrases_of(language: str, market: "Market") -> Phrases:
    """Return the phrases of a language: those of the market file before those that come with pairband.

    Raises UnknownName for one that neither has.
    """
    tag = language_tag(language)
    own = {language_tag(name): texts for name, texts in market.phrases.items()}
    if tag is None or (tag not in SHIPPED and tag not in own):
        raise UnknownName(*_no_phrases(language, market).split("; ", 1))
    if tag == ENGLISH_TAG:
        return ENGLISH
    return Phrases(tag, {**shipped_texts(tag), **own.get(tag, {})})


def _no_phrases(language: str, market: "Market") -> str:
    known = ", ".join((*SHIPPED, *market.phrases))
    return (
        f"there are no phrases in the language {language!r}; known are {known}, and `pairband phrases fr` prints "
        "what to translate for another"
    )


def language_tag(name: str) -> str | None:
    """Return the tag of a language as CLDR writes it ("pt-br" is pt_BR); None where there is no such language."""
    try:
        return str(Locale.parse(name.strip().replace("-", "_")))
    except (ValueError, UnknownLocaleError):
        return None


def faults_of_phrases(market: "Market") -> Iterator[str]:
    """Yield a sentence for each fault in the phrases and the language of a market file."""
    english, phrases = english_texts(), market.phrases
    tags = {language_tag(name) for name in (*SHIPPED, *phrases)}
    if language_tag(market.business.language) not in tags:
        yield f"business.language: {_no_phrases(market.business.language, market)}"
    for name, given in phrases.items():
        tag = language_tag(name)
        if tag is None:
            yield f"phrases.{name}: no language is called {name!r}; give a code such as fr, nl or pt-BR"
            continue
        texts = {key: text for key, text in given.items() if key != OWN_TERMS}
        if tag == ENGLISH_TAG:
            if texts:
                yield f"phrases.{name}: the words in English stand as they are; only `{OWN_TERMS}` may be given in it"
            continue
        for key in texts:
            if key not in english:
                yield f"phrases.{name}.{key}: there is no such phrase; {suggest(key, english, most=3)}"
        for key, text in texts.items():
            if key in english:
                yield from _faults_of_text(f"phrases.{name}.{key}", text, english[key])
        missing = [key for key in english if key not in texts and key not in shipped_texts(tag)]
        if missing:
            more = f" (and {len(missing) - 1} more)" if len(missing) > 1 else ""
            yield f'phrases.{name}.{missing[0]} is missing: "{english[missing[0]]}"{more}'


def _faults_of_text(where: str, text: str, english: str) -> Iterator[str]:
    if english.strip() and not text.strip():
        yield f'{where} is blank; in English it is "{english}"'
        return
    try:
        names = placeholders(text)
    except ValueError:
        yield f"{where} has a brace that stands alone; write {{{{ for a brace"
        return
    if names != placeholders(english):
        wanted = ", ".join(f"{{{name}}}" for name in sorted(placeholders(english))) or "nothing in braces"
        yield f'{where} must hold {wanted}, as the English has it: "{english}"'


def placeholders(text: str) -> set[str]:
    """Return the names in braces in a phrase; raises ValueError for a brace that stands alone."""
    return {
        f"{name}{'!' + turned if turned else ''}{':' + form if form else ''}"
        for _, name, form, turned in Formatter().parse(text)
        if name is not None
    }


def own_terms(market: "Market", language: Phrases) -> str | None:
    """Return the owner's terms of consigning in a language, None where they gave none in it."""
    if language_tag(market.business.language) == language.tag:
        return market.business.terms
    own = {language_tag(name): texts for name, texts in market.phrases.items()}
    return own.get(language.tag, {}).get(OWN_TERMS)


def phrases_toml(language: str, market: "Market") -> str:
    """Return the phrases of a language as a block of the market file: its own, or the English ones to translate.

    Raises MarketFileError for what is no language.
    """
    tag = language_tag(language)
    if tag is None:
        raise MarketFileError(f"no language is called {language!r}", "give a code such as fr, nl or pt-BR.")
    own = {language_tag(name): texts for name, texts in market.phrases.items()}
    texts = {**shipped_texts(tag), **own.get(tag, {})}
    lines = [f"[phrases.{tag}]", f'{OWN_TERMS} = """\n{_escaped(texts.get(OWN_TERMS, ""))}"""']
    for key, english in english_texts().items():
        lines += [f"# {english}", f'{key} = "{_escaped(texts.get(key, ""))}"']
    return "\n".join(lines) + "\n"


def _escaped(text: str) -> str:
    """Return a text as it stands between quotes of a TOML file."""
    return re.sub(r'(["\\])', r"\\\1", text)
