"""The phrases of one language, and sentences that can be said in any of them."""

import tomllib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Self

from markupsafe import Markup, escape

from pipeline import formats

_HERE = Path(__file__).parent
ENGLISH_TAG = "en"

Value = str | Callable[["Phrases"], str]
"""What stands in a sentence: a text that is the same in every language, or what makes it in one."""


@dataclass(frozen=True, eq=False)
class Phrases:
    """The phrases of a language by their keys; `tag` is its name as CLDR writes it: de, ja, pt_BR."""

    tag: str
    texts: Mapping[str, str]

    @property
    def is_english(self) -> bool:
        """Whether it is our own language, whose sentences are said as they stand."""
        return self.tag == ENGLISH_TAG

    @property
    def locale(self) -> str:
        """Return the locale in which numbers, money and days are written."""
        return formats.LANGUAGE if self.is_english else self.tag

    @property
    def html_tag(self) -> str:
        """Return the language as a page states it: pt-BR."""
        return self.tag.replace("_", "-")

    def say(self, key: str, **values: object) -> str:
        """Return a phrase with its values; where one of them is HTML, as HTML in which all else is escaped."""
        text = self.texts[key]
        if any(isinstance(value, Markup) for value in values.values()):
            return Markup(escape(text)).format(**values)
        return text.format(**values)

    def translate(self, sentence: str) -> str:
        """Return a sentence in this language; a text of the owner's, or of a file, stays as it is."""
        if self.is_english or not isinstance(sentence, Sentence):
            return str(sentence)
        made = {
            name: value if isinstance(value, str) else value(self) for name, value in sentence.values.items()
        }
        return self.say(sentence.key, **made)

    def listed(self, words: Sequence[str]) -> str:
        """Return words one after the other."""
        return self.texts["list_mark"].join(words)

    def counted(self, number: int, noun: str) -> str:
        """Return a count with its noun, which has a phrase for one and one for many."""
        key = f"{noun}_one" if number == 1 else f"{noun}_many"
        return self.say(key, count=formats.count(number, self.locale))

    def day(self, on: date) -> str:
        """Return a day as the language writes it."""
        return formats.day(on, self.locale)

    def estimate(self, value: float, currency: str) -> str:
        """Return an estimated amount (`formats.estimate`)."""
        return formats.estimate(value, currency, self.locale)

    def exact(self, value: Decimal, currency: str) -> str:
        """Return an amount that is charged or paid (`formats.exact`)."""
        return formats.exact(value, currency, self.locale)

    def level(self, share: float) -> str:
        """Return a share as a percentage (`formats.level`)."""
        return formats.level(share, self.locale)


class Sentence(str):
    """A sentence in English that can be said in other languages: `key` names its phrase, `values` what stands in it."""

    __slots__ = ("key", "values")
    key: str
    values: Mapping[str, Value]

    @classmethod
    def of(cls, text: str, key: str, **values: Value) -> Self:
        """Return the sentence whose English text is given."""
        made = cls(text)
        made.key, made.values = key, values
        return made

    @classmethod
    def saying(cls, key: str, **values: Value) -> Self:
        """Return the sentence whose English text is that of its phrase."""
        made = {name: value if isinstance(value, str) else value(ENGLISH) for name, value in values.items()}
        return cls.of(ENGLISH.say(key, **made), key, **values)


@cache
def shipped_texts(tag: str) -> Mapping[str, str]:
    """Return the phrases of a language that come with pairband; none where there are none."""
    file = _HERE / f"{tag}.toml"
    return tomllib.loads(file.read_text(encoding="utf-8")) if file.exists() else {}


ENGLISH = Phrases(ENGLISH_TAG, shipped_texts(ENGLISH_TAG))
"""Our own language."""
