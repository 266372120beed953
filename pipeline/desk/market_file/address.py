"""Where the desk shows what stands in the market file."""

from urllib.parse import urlencode

from pipeline.desk.market_file.fields import shape_at
from pipeline.desk.market_file.layout import KeyPath

HOME = "/market-file"


def address_of(path: KeyPath, page: str = "") -> str:
    """Return the address of the page of what stands at a path of the market file."""
    if not path:
        return HOME
    shape = shape_at(path)
    is_list = shape.kind == "rows" or (shape.kind == "by name" and not shape.is_inline)
    return f"{HOME}/{page or ('list' if is_list else 'table')}?{urlencode([('at', step) for step in path])}"
