"""One self-contained page: it opens from disk, and its security policy forbids it the network."""

import base64
import hashlib
import html
import json
import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, Self

import polars as pl
from jinja2 import Environment, FileSystemLoader, StrictUndefined, Template
from markupsafe import Markup, escape

from pipeline import formats, glossary
from pipeline.answers import sheet
from pipeline.captured import takes_pages
from pipeline.glossary import Term
from pipeline.limits import LIMITS
from pipeline.outfile import write_file
from pipeline.phrases.phrases import ENGLISH, Phrases
from pipeline.untrusted import show_sentences, show_words
from reports.links import Link
from reports.photographs import Shown
from reports.theme import DARK, JAPANESE_SANS, JAPANESE_SERIF, LIGHT, SANS, SERIF, css_variables

if TYPE_CHECKING:
    import altair as alt

_HERE = Path(__file__).parent
_TURNING = (*range(0x202A, 0x202F), *range(0x2066, 0x206A))
_MONTHS = "Jan|Feb|Mar|Apr|May|June|July|Aug|Sept|Oct|Nov|Dec"
_TOGETHER = re.compile(
    rf"(?<=\d) (?=%|mm\b|± |(?:{_MONTHS})\b)|(?<=[±×]) (?=\S)"
    r"|(?<=\bJan|\bFeb|\bMar|\bApr|\bMay|\bAug|\bOct|\bNov|\bDec) (?=\d{4}\b)|(?<=\bJune|\bJuly|\bSept) (?=\d{4}\b)"
)
"""The spaces at which a sign, a figure and its unit, or a day, must not be parted."""

_UNSAFE_IN_SCRIPT = {
    sign: f"\\u{ord(sign):04x}" for sign in ("<>&\u2028\u2029" + "".join(map(chr, _TURNING)))
}


JAPANESE_LETTERS = f":root {{ --sans: {JAPANESE_SANS}; --serif: {JAPANESE_SERIF}; }}\n"
"""The style that sets a page in Japanese."""

_SCRIPT = re.compile(r"<(script|style)\b.*?</\1>|<[^>]*>", re.DOTALL)
"""What of a page's HTML nobody reads: scripts, styles, tags."""


@dataclass(frozen=True)
class Column:
    """One column of a table: its heading, and whether it holds figures (set flush right)."""

    heading: str
    figures: bool = False


@dataclass(frozen=True)
class Table:
    """A table of texts as the page shows it, with what stands under it; the first column heads each row.

    Where there are `pictures`, each row has one, or None; it stands before the row's heading.
    """

    caption: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[str, ...], ...]
    notes: tuple[str, ...] = ()
    pictures: tuple[Shown | None, ...] = ()

    @classmethod
    def of(cls, table: sheet.Table, pictures: Sequence[Shown | None] = ()) -> Self:
        """Return a sheet's table as a page shows it, with a picture for each row where there are any.

        Texts from exports are made fit to show.
        """
        return cls(
            table.title,
            tuple(Column(column.heading, figures=column.number) for column in table.columns),
            tuple(tuple(show_words(text) for text in row) for row in table.texts()),
            tuple(show_sentences(line) for line in table.note.splitlines()),
            tuple(pictures),
        )


@dataclass(frozen=True)
class Figure:
    """A chart with what makes it readable without seeing it: an alternative text and its tables.

    `key` is unique on the page, and the figure's name elsewhere; `note` stands under the chart; `rows` are its
    numbers, for a spreadsheet. `source` says where they come from where the figure leaves the page, whose foot says it.
    """

    key: str
    chart: "alt.LayerChart"
    alternative: str
    note: str
    tables: tuple[sheet.Table, ...]
    rows: pl.DataFrame
    source: str = ""

    @property
    def shown(self) -> list[Table]:
        """Return the tables as the page shows them."""
        return [Table.of(table) for table in self.tables]

    @property
    def drawing(self) -> Markup:
        """Return the chart as SVG, without its title, in the colours of the page."""
        from reports.drawing import draw_chart

        return draw_chart(self.chart)


def spoken(rows: pl.DataFrame, form: str) -> str:
    """Return the rows of a chart in words, each by `form`, in which {names} stand for its columns."""
    return "; ".join(form.format_map(row) for row in rows.iter_rows(named=True))


def embed_json(value: object) -> Markup:
    """Return JSON in which no sign can end a script element or a line of script, or turn the words around it."""
    text = json.dumps(value, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    for sign, code in _UNSAFE_IN_SCRIPT.items():
        text = text.replace(sign, code)
    return Markup(text)


def render_page(
    template: str,
    *,
    scripts: Sequence[str] = (),
    own_style: str = "",
    rules: str = "",
    links: Sequence[Link] = (),
    shown_later: str = "",
    language: Phrases = ENGLISH,
    meanings: Sequence[Term] | None = None,
    business: str,
    **values: object,
) -> str:
    """Return the HTML of a template of reports (FOLDER/page.html.j2), with style, scripts and policy filled in.

    `scripts` names the scripts of the page in the same way (FOLDER/page.js), `own_style` a style sheet besides that of
    every page, `rules` more of it that the page itself makes, `links` the other pages of its folder, `business` the
    owner's name, `shown_later` the words that only its scripts show; the terms of the glossary in them and in the page
    are explained at its foot, or `meanings` in their stead. `language` is that of all words that every page has. The
    page's title is its running title on paper.
    """
    texts = [template_text(name) for name in scripts]
    page = _environment().get_template(template)
    values |= {"say": language.say, "language": language, "meanings": meanings}
    title = _title(page, values)
    own = template_text(own_style) if own_style else ""
    letters = JAPANESE_LETTERS if language.tag.startswith("ja") else ""
    style = page_style() + letters + running_foot(business, title, language) + own + rules
    return page.render(
        **values,
        business=business,
        limits=LIMITS,
        links=links,
        shown_later=shown_later,
        style=Markup(style),
        scripts=[Markup(text) for text in texts],
        policy=security_policy(style, texts),
    )


def _title(page: Template, values: dict[str, object]) -> str:
    """Return a page's title as text: that of its template, or of `values` where a template above it has it."""
    if "title" not in page.blocks:
        return str(values["title"])
    return html.unescape("".join(page.blocks["title"](page.new_context(values))))


def render_fragment(template: str, **values: object) -> Markup:
    """Return the HTML of a template that is a part of a page."""
    return Markup(_environment().get_template(template).render(**values))


def running_foot(business: str, title: str, language: Phrases = ENGLISH) -> str:
    """Return the style that puts who, what and "Page 1 of 3" at the foot of every printed page."""
    words = " · ".join(part for part in (show_words(business, 60), show_words(title, 90)) if part)
    page, total = "\ue000", "\ue001"  # signs that no phrase has
    counted = _in_style(language.say("page_of", page=page, pages=total))
    for sign, name in ((page, "page"), (total, "pages")):
        counted = counted.replace(_in_style(sign), f'" counter({name}) "')
    return f'@page {{ @bottom-left {{ content: "{_in_style(words)}"; }} @bottom-right {{ content: "{counted}"; }} }}\n'


def _in_style(words: str) -> str:
    """Return words as they stand between the quotes of a style sheet."""
    return "".join(sign if sign.isalnum() and sign.isascii() else f"\\{ord(sign):x} " for sign in words)


def keep_together(value: object) -> object:
    """Return a text in which no line ends between a sign, figure and unit, or within a day; else the value itself."""
    if isinstance(value, Markup) or not isinstance(value, str):
        return value
    return _TOGETHER.sub("\u00a0", value)


def mark_commands(sentence: str) -> Markup:
    """Return a sentence as HTML, what stands between backticks set as code; everything in it is escaped."""
    parts = str(keep_together(sentence)).split("`")
    if len(parts) % 2 == 0:
        return escape(sentence)
    marked = [
        Markup("<code>{}</code>").format(part) if at % 2 else escape(part) for at, part in enumerate(parts)
    ]
    return Markup("").join(marked)


def write_page(html: str, path: Path) -> Path:
    """Write a page; returns its path. Raises ReportError where it cannot be written."""
    if (kept := takes_pages()) is not None:
        kept.pages[path.stem] = html
        return path
    return write_file(html.encode(), path)


def security_policy(style: str, scripts: Sequence[str]) -> str:
    """Return the Content-Security-Policy that allows this style and these scripts, and no network."""
    allowed = " ".join(_hash(script) for script in scripts) or "'none'"
    return (
        f"default-src 'none'; script-src {allowed}; style-src {_hash(style)}; img-src data:; "
        "base-uri 'none'; form-action 'none'"
    )


@cache
def page_style() -> str:
    """Return the style sheet of every page, its colours and letters filled in from the theme."""
    return (
        f":root {{ color-scheme: light dark; --sans: {SANS}; --serif: {SERIF}; {css_variables(LIGHT)} }}\n"
        f"@media screen and (prefers-color-scheme: dark) {{ :root {{ {css_variables(DARK)} }} }}\n"
        + template_text("page.css")
    )


def _terms_in(html: Markup, shown_later: str) -> tuple[glossary.Term, ...]:
    """Return the terms of the glossary that a page shows: in its text, or in what its scripts write."""
    return glossary.terms_in(f"{_SCRIPT.sub(' ', html)} . {shown_later}")


def _explained(heading: str) -> str:
    """Return the heading of a column; where it names a term of the glossary, as a link to what that means."""
    term = glossary.term_of(heading)
    if term is None:
        return heading
    link = Markup('<a class="term" href="#{}" title="{}">{}</a>')
    return link.format(term.anchor, term.meaning, heading)


def _hash(text: str) -> str:
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"


def _template_path(name: str) -> Path:
    """Return where a style sheet or script lies: with its question, or among what every page shares."""
    own = _HERE / name
    return own if own.exists() else _HERE / "templates" / name


def template_text(name: str) -> str:
    """Return a style sheet or script by its name (FOLDER/page.js)."""
    return _template_path(name).read_text(encoding="utf-8")


@cache
def _environment() -> Environment:
    environment = Environment(
        finalize=keep_together,
        loader=FileSystemLoader([_HERE, _HERE / "templates"]),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    filters: dict[str, Any] = {
        "words": show_words,
        "terms": _terms_in,
        "explained": _explained,
        "marked": mark_commands,
        "day": formats.day,
        "count": formats.count,
        "counted": formats.counted,
    }
    environment.filters.update(filters)
    environment.globals |= {"say": ENGLISH.say, "language": ENGLISH, "bdi": Markup("<bdi>{}</bdi>").format}
    return environment
