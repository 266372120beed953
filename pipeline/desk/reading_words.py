"""Give a word of a file its meaning in the map that reads it; every other line of the market file stays."""

from pathlib import Path
from typing import Any

import tomlkit

from pipeline.answers.market_file.draft import is_grade
from pipeline.answers.market_file.map_text import with_map
from pipeline.config import MOST_BYTES, parse_market
from pipeline.errors import MapError, MarketFileError
from pipeline.ingest.proposal import meanings_of
from pipeline.outfile import edit_market_file
from pipeline.plain_file import read_plain_file


def give_meaning(path: Path, map_name: str, field: str, word: str, meaning: str) -> Path:
    """Write what a word of a field's column means into a map; return where the earlier text of the market file is.

    Raises MapError where the meaning is none of the field's, and MarketFileError where the file would not be good.
    """
    if not word or not (is_grade(meaning) if field == "grade" else meaning in meanings_of(field)):
        raise MapError(f"{meaning!r} says nothing of {field}", f"one of {', '.join(meanings_of(field))}.")
    before = read_plain_file(path, "market file", MOST_BYTES, fault=MarketFileError)
    mark = b"\xef\xbb\xbf" if before.startswith(b"\xef\xbb\xbf") else b""
    text = before.decode("utf-8-sig")
    maps: Any = tomlkit.parse(text).get("maps", {})
    if map_name not in maps:
        raise MapError(f"the market file has no map {map_name!r}", "look at the file's map again.")
    table = maps[map_name]
    if field == "status":
        table.setdefault("status_words", tomlkit.table())[word] = meaning
    else:
        table.setdefault("words", tomlkit.table(is_super_table=True)).setdefault(field, tomlkit.table())[
            word
        ] = meaning.replace(",", ".")
    written = with_map(text, map_name, table, None, instead=map_name)
    parse_market(written, where=str(path))
    return edit_market_file(path, before, mark + written.encode())
