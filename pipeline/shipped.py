"""Find the files that travel with the package: the SQL statements and the sample data."""

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
    """Return the text of the SQL file `name`, such as "marts/sales" (no ending)."""
    path = shipped("sql") / f"{name}.sql"
    if not path.is_file():
        raise PairbandError(f"this installation has no SQL statement {name!r}", "install pairband again.")
    return path.read_text(encoding="utf-8")
