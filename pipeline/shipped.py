"""Find the files that travel with the package: the SQL statements and the sample data.

A statement that treats the columns of a sale record by their list is a template over `pipeline.schema`: what stands
between its braces are names of that list and nothing else.
"""

from functools import cache
from pathlib import Path

from pipeline.errors import PairbandError


@cache
def shipped(folder: str) -> Path:
    """Return the folder `sql` or `sample_data`, from a wheel and from a checkout alike.

    A wheel carries them inside the package; a checkout has them beside it.
    Raises PairbandError when neither is there (a damaged installation).
    """
    package = Path(__file__).parent
    for place in (package / "_files" / folder, package.parent / folder):
        if place.is_dir():
            return place
    raise PairbandError(f"this installation has no folder {folder!r}", "install pairband again.")


@cache
def statement(name: str) -> str:
    """Return the text of the SQL file `name`, such as "marts/sales" (no ending), its templates filled in."""
    path = shipped("sql") / f"{name}.sql"
    if not path.is_file():
        raise PairbandError(f"this installation has no SQL statement {name!r}", "install pairband again.")
    text = path.read_text(encoding="utf-8")
    return _with_columns(text) if "{%" in text else text


def _with_columns(template: str) -> str:
    """Return the SQL that a template makes of the columns of a sale record."""
    from jinja2 import (
        Environment,
        FileSystemLoader,
        StrictUndefined,
    )  # 35 ms, which most statements do without

    from pipeline.schema import ALL_FACTORS, ORIGINS, SALE_RECORD, STOCK_LISTING, UNKNOWN, record_schema

    engine = Environment(
        loader=FileSystemLoader(shipped("sql")),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        autoescape=False,
    )
    engine.globals.update(
        columns=SALE_RECORD,
        names=tuple(record_schema()),
        stock_columns=STOCK_LISTING,
        origins=list(ORIGINS),
        all_factors=ALL_FACTORS,
        unknown=UNKNOWN,
    )
    return engine.from_string(template).render()
