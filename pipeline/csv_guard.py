"""CSV that leaves: safe to open in a spreadsheet, whatever that splits it at, and to print on a terminal.

A spreadsheet takes a cell that begins with a formula sign for a formula; one that splits at semicolons or tabs begins
a cell in the middle of a text, and some cut at a line's end inside quotes. So an apostrophe, which spreadsheets show
as text, stands before each formula sign with which a cell could begin. Every text is quoted. A control character,
with which a text could move a terminal's cursor or set its title, is written out (the escape as \\x1b).
"""

import polars as pl

_SIGNS = r"[=+\-@|%\x{ff1d}\x{ff0b}\x{ff0d}\x{ff20}]"
_UNSEEN = r"[\s\p{Cc}\p{Cf}\"]*"
"""What a spreadsheet may pass over before it looks at the first sign of a cell."""

_AFTER_SEPARATOR = rf"([,;|\t\r\n]{_UNSEEN})({_SIGNS})"
_AT_START = rf"^{_UNSEEN}{_SIGNS}|^[\t\r\n]"
_CONTROLS = {
    chr(point): f"\\x{point:02x}"
    for point in (*range(0x20), *range(0x7F, 0xA0))
    if chr(point) not in "\t\r\n"
}


def guarded(text: pl.Expr) -> pl.Expr:
    """Return texts of which no part can begin a cell as a formula, control characters written out."""
    shown = text.str.replace_many(_CONTROLS)
    for _ in range(2):  # a stroke is a sign and a separator: the second time it counts as the other
        shown = shown.str.replace_all(_AFTER_SEPARATOR, "$1'$2")
    return pl.when(shown.str.contains(_AT_START)).then(pl.lit("'") + shown).otherwise(shown)


def guarded_csv(rows: pl.DataFrame, *, line_end: str = "\n") -> str:
    """Return a table as CSV with its texts and headings guarded and quoted; numbers stay as they are."""
    headings = (
        pl.Series("heading", rows.columns, dtype=pl.String).to_frame().select(guarded(pl.col("heading")))
    )
    quoted = (f'"{heading.replace(chr(34), chr(34) * 2)}"' for heading in headings.to_series())
    body = rows.with_columns(guarded(pl.col(pl.String)).name.keep()).write_csv(
        include_header=False, quote_style="non_numeric", line_terminator=line_end
    )
    return ",".join(quoted) + line_end + body


def kept_apart(text: pl.Expr) -> pl.Expr:
    """Return texts in which every apostrophe is doubled, so that `unguarded` finds them again after `guarded`."""
    return text.str.replace_all("'", "''", literal=True)


def unguarded(text: pl.Expr) -> pl.Expr:
    """Return the texts that `kept_apart` and then `guarded` were given, without what these added."""
    begun = (
        pl.when(text.str.contains(rf"^'(?:{_UNSEEN}{_SIGNS}|[\t\r\n])"))
        .then(text.str.slice(1))
        .otherwise(text)
    )
    for _ in range(2):  # as many times as the guard was set
        begun = begun.str.replace_all(rf"([,;|\t\r\n]{_UNSEEN})'({_SIGNS})", "$1$2")
    return begun.str.replace_all("''", "'", literal=True)
