"""Which encoding bytes are in, by the letters that result: those of some language, about as often as it has them."""

import re
from collections import Counter
from math import log

_MARKS = "„“”’‘‚–—…€£§°½¼¾«»×·´®©™²³±¥№\u00a0"
"""Signs beside letters that exports of any language hold."""

_SHARES: dict[str, str] = {
    "French": "é1504 à486 è271 ê218 ç85 â51 î45 ô23 ù58 û60 ï5 ë8 œ18 æ1",
    "German": "ä578 ö443 ü995 ß307 é5",
    "Spanish": "á502 é433 í725 ñ311 ó827 ú168 ü12 ¿10 ¡10 º20 ª20",
    "Portuguese": "à72 á118 â562 ã733 ç530 é337 ê450 í132 ó296 ô635 õ40 ú207 º20 ª20",
    "Italian": "à635 è263 é30 ì30 ò20 ù166",
    "Dutch": "ë20 ï10 é20 ö5 ü5 è3",
    "Swedish, Finnish": "å1338 ä1797 ö1305 é20",
    "Danish, Norwegian": "å1190 æ872 ø939 é10",
    "Icelandic": "á1800 ð4400 é650 í1570 ó990 ú610 ý230 þ1450 æ870 ö780",
    "Polish": "ą1021 ć448 ę1131 ł1746 ń185 ó823 ś683 ź61 ż885",
    "Czech": "á867 č462 ď15 é633 ě1222 í1643 ň7 ó24 ř380 š688 ť6 ú45 ů204 ý995 ž721",
    "Slovak": "á900 ä30 č462 ď50 é600 í1000 ĺ5 ľ400 ň60 ó100 ô160 ŕ5 š600 ť200 ú300 ý600 ž600",
    "Hungarian": "á3371 é3857 í510 ó982 ö821 ő897 ú242 ü557 ű191",
    "Croatian, Slovene": "č1000 ć600 đ250 š1000 ž600",
    "Romanian": "ă1500 â300 î600 ş700 ţ600",
    "Turkish": "ç1156 ğ1125 ı5114 ö777 ş1780 ü1854 â20 î10 û5",
    "Baltic": "ā3000 č200 ē1500 ģ50 ī2000 ķ200 ļ300 ņ200 š500 ū800 ž300 ą700 ę200 ė1500 į600 ų1200",
    "Estonian": "õ970 ä1620 ö290 ü1050 š10 ž10",
    "Russian": "о1097 е845 а801 и735 н670 т626 с547 р473 в454 л440 к349 м321 д298 п281 у262 я201 ы190 ь174 г170 з165 "
    "б159 ч144 й121 х97 ж94 ш73 ю64 ц48 щ36 э32 ф26 ъ4 ё4",
    "Greek": "α1100 ο900 ι850 ε800 τ800 σ490 ς360 ν650 η500 υ430 ρ420 π400 κ400 μ330 λ290 ω180 δ170 γ170 χ120 θ120 "
    "φ90 β80 ξ50 ζ40 ψ20 ά250 έ250 ή250 ί350 ό300 ύ150 ώ120",
}
"""Languages: each letter beyond the first 128 with its share among all letters, per 100,000 (tables of letter
frequencies as published; where none was at hand, from memory, which decides nothing where encodings differ)."""

_ENCODINGS = {
    "cp1252": 0.0,
    "cp1250": 1.5,
    "iso8859_2": 2.0,
    "cp1254": 2.0,
    "cp1257": 2.0,
    "cp1251": 2.0,
    "cp1253": 2.0,
    "koi8_r": 4.0,
    "mac_roman": 4.0,
    "cp850": 5.0,
    "cp852": 5.0,
}
"""What exports come in, the most usual first, and how much evidence (log-probability) each needs to be taken."""

_RARE = 1e-4
_IN_MARKS = 0.03
_CAPITAL = 0.15
"""How often a letter is a capital, where the language is not known to write more of them."""

_BEYOND_ASCII = re.compile("[^\x00-\x7f]")
_CAPITAL_INSIDE = re.compile(r"[a-z\xdf-\xff\u0101-\u017f][\xc0-\xde\u0410-\u042f]")
_MARK_INSIDE = re.compile(r"[A-Za-zÀ-ž][£€§°½¼¾«»…±²³¥º™©®·¿¡ª÷×][A-Za-z]")
_CONTROL = re.compile("[\x80-\x9f\u2500-\u259f]")
LEAST_LIKELY = -4.6
"""Below so low a mean log-probability of a sign the bytes are in none of these encodings."""


def _language(shares: str) -> dict[str, float]:
    """Return the log-probability of each letter, small and capital, and of each mark, among signs beyond ASCII."""
    counts = {part[0]: int(part[1:]) for part in shares.split()}
    total = sum(counts.values())
    known = dict.fromkeys(_MARKS, log(_IN_MARKS))
    for letter, count in counts.items():
        known[letter] = log(max(count / total, _RARE))
        if len(letter.upper()) == 1 and letter.upper() != letter:
            known.setdefault(letter.upper(), log(max(_CAPITAL * count / total, _RARE)))
    return known


_LANGUAGES = {name: _language(shares) for name, shares in _SHARES.items()}


def likely_by_letters(sample: bytes) -> str | None:
    """Return the encoding of one byte a sign whose letters are the likeliest in any language.

    None where the letters of no encoding look like those of a language.
    """
    scores = {encoding: score for encoding in _ENCODINGS if (score := _score(sample, encoding)) is not None}
    best = max(scores, key=lambda encoding: scores[encoding][0], default=None)
    return best if best is not None and scores[best][1] >= LEAST_LIKELY else None


def _score(sample: bytes, encoding: str) -> tuple[float, float] | None:
    """Return how likely the letters are together, and the mean of a sign; None where a byte stands for no sign."""
    try:
        text = sample.decode(encoding)
    except UnicodeDecodeError:
        return None
    if re.search("[A-Z]", text) and text.isupper():
        text = text.lower()
    signs = Counter(_BEYOND_ASCII.findall(text))
    likeliest = max(
        sum(count * known.get(sign, log(_RARE)) for sign, count in signs.items())
        for known in _LANGUAGES.values()
    )
    odd = (
        len(_CAPITAL_INSIDE.findall(text)) + len(_MARK_INSIDE.findall(text)) + 2 * len(_CONTROL.findall(text))
    )
    likely = likeliest + odd * log(_RARE) / 2
    return round(likely - _ENCODINGS[encoding], 6), likely / max(signs.total(), 1)
