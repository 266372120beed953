"""E-mail addresses and telephone numbers in free text: found and masked before a text is kept.

What a title says of the pair is read before this. A number is taken for a telephone number only in the forms in
which people write one: with a country's code, after a word such as "call", or as a national number in groups. A
number after a word such as "lot" or "style" is not, nor is a window of production months.
"""

import re
from dataclasses import dataclass

import polars as pl

EMAIL_MARK, TELEPHONE_MARK = "[e-mail]", "[telephone]"

_BETWEEN = r"[ \u00a0\u2009\u202f./()\u2010-\u2015-]"
_AT = r"(?:[@\uff20]|\s?[(\[{]\s?at\s?[)\]}]\s?)"
_WORD = (
    r"(?:telephone|telefon[eo]?|telefoon|téléphone|teléfono|tel|tél|tlf|phone|fon|mobile|mobil|mob|handy|cell|fax|"
    r"whats ?app|call|text|ring|contact|тел)"
)
_EMAIL = re.compile(rf"(?i)[\w.+-]{{1,64}}{_AT}(?:[\w-]{{1,63}}\.){{1,6}}[^\W\d_]{{2,24}}(?![\w-])")
_NOT_A_GRADE = rf"(?!{_BETWEEN}{{1,3}}\d{{1,2}}(?:[.,]5)? ?/ ?10(?!\d))"
_NEXT = rf"{_NOT_A_GRADE}{_BETWEEN}{{0,2}}\d"
_TELEPHONE = re.compile(
    rf"(?i)(?P<word>\b{_WORD}\b[ .:#]{{0,3}}(?:(?:me|us|on|at|no|nr|number|under)\b[ .:#]{{0,3}}){{0,2}})"
    rf"(?P<said>[+(]{{0,2}}\d(?:{_NEXT}){{6,14}})(?!\d)"
    rf"|(?<![\w+])\+\(?[1-9](?:{_NEXT}){{8,14}}(?!\d)"
    rf"|(?<![\w.,/+-])00{_BETWEEN}?[1-9]\d{{0,2}}{_BETWEEN}{{1,2}}\d(?:{_NEXT}){{6,11}}(?!\d)"
    rf"|\(0\d{{1,5}}\){_BETWEEN}{{0,2}}\d(?:{_NEXT}){{4,8}}(?![\d/])"
    r"|\([2-9]\d\d\) ?[2-9]\d\d[-. ]\d{4}(?![\d/-])"
    r"|(?<![\w.,/+-])(?:0\d{2,4} \d{3,4} \d{3,4}|0\d{4} \d{6}|0\d{3,4}[/-]\d{6,8}|0[1-9](?:[ .]\d\d){4}"
    r"|[2-9]\d\d[.-][2-9]\d\d[.-]\d{4})(?![\d/-]|[.,]\d)"
)
_NUMBER_OF_A_THING = re.compile(
    r"(?i)(?:\b(?:lots?|los|style|sku|item|art|artikel|article|ref|reference|code|model|serial|stamp(?:ed)?|label|"
    r"dated?|production|reads|stock|order|no|nr|num|number|ean|upc|barcode|size|sz|uk|us|eu|jp)\b|[#№º°])[ .:#°-]*$"
)
_MONTHS = re.compile(
    r"\d{1,2}[ ./-]\d{2}(?:\d\d)? ?[ ./\u2010-\u2015-] ?\d{1,2}[ ./-]\d{2}(?:\d\d)?"
    r"|\d{1,2}[/.]\d{2}(?:\d\d)? ?[ \u2010-\u2015-] ?\d{1,2}[/.]\d{2}(?:\d\d)?(?!\d).*"
    r"|\d{1,2}[-\u2010-\u2015]\d{1,2}/\d{4}(?!\d).*"
    r"|(?:0[1-9]|1[0-2])\d\d ?[ \u2010-\u2015-] ?(?:0[1-9]|1[0-2])\d\d(?!\d).*"
    r"|(?:19|20)\d\d ?[ ./\u2010-\u2015-] ?(?:19|20)\d\d|\d{1,4}[./-]\d{1,2}[./-]\d{1,4}(?: .*)?"
)
"""What looks like a number in groups and is a window of months, a span of years or a day."""

_MAYBE = (
    r"[@\x{ff20}]|(?i)[(\[{]\s?at\s?[)\]}]|\+\(?[1-9]|(?:^|\D)00.?[1-9]|\(0?\d{2,6}\)"
    rf"|\b{_WORD}\b\D{{0,16}}\d"
    r"|0\d{2,4}[ /-]\d{3}|0[1-9](?:[ .]\d\d){4}|[2-9]\d\d[.-]\d{3}[.-]\d{4}"
)
"""What no text with an address or a telephone number is without; a text with it may be free of both."""


@dataclass(frozen=True)
class Masked:
    """How many e-mail addresses and telephone numbers were masked."""

    emails: int = 0
    telephones: int = 0

    def __add__(self, other: "Masked") -> "Masked":
        """Return the sums."""
        return Masked(self.emails + other.emails, self.telephones + other.telephones)


def mask_text(text: str) -> tuple[str, Masked]:
    """Return a text with its e-mail addresses and telephone numbers masked, and how many there were."""
    without, emails = _EMAIL.subn(EMAIL_MARK, text)
    telephones = 0

    def mask(found: re.Match[str]) -> str:
        nonlocal telephones
        number = found["said"] or found[0]
        word = found["word"] or ""
        before = without[max(0, found.start() - 40) : found.start()]
        if _MONTHS.fullmatch(number.strip("()+ ")) or (not word and _NUMBER_OF_A_THING.search(before)):
            return found[0]
        telephones += 1
        return f"{word}{TELEPHONE_MARK}"

    masked = _TELEPHONE.sub(mask, without)
    return masked, Masked(emails, telephones)


def mask_contacts(texts: pl.DataFrame) -> tuple[pl.DataFrame, Masked]:
    """Return the columns of text with every e-mail address and telephone number masked, and how many there were."""
    total = Masked()
    columns = {}
    for name in texts.columns:
        column = texts[name]
        counts = column.filter(column.str.contains(_MAYBE)).value_counts(name="rows")
        replaced: dict[str, str] = {}
        for text, rows in counts.iter_rows():
            masked, found = mask_text(text)
            if masked != text:
                replaced[text] = masked
                total += Masked(found.emails * rows, found.telephones * rows)
        columns[name] = column.replace(replaced) if replaced else column
    return texts.with_columns(**columns), total
