"""What is wrong with a value of the market file, in the owner's words."""

from collections.abc import Mapping
from typing import Any

_NUMBER, _WHOLE = "has to be a number", "has to be a whole number"
_TABLE, _LIST = "has to be a table", "has to be a list"
_TEXT, _YES_OR_NO = "has to be text", "has to be true or false"
_DAY = "has to be a day, such as 2026-01-31"
_EMPTY = "must not be empty"
_WORDS = {
    "missing": "is missing",
    "extra_forbidden": "is no key that is known here",
    "literal_error": "has to be one of {expected}",
    "greater_than": "has to be more than {gt}",
    "greater_than_equal": "has to be {ge} or more",
    "less_than": "has to be less than {lt}",
    "less_than_equal": "has to be {le} or less",
    "string_too_short": "has to have at least {min_length} characters",
    "string_too_long": "can have at most {max_length} characters",
    "too_short": "has to have at least {min_length} entries, and has {actual_length}",
    "too_long": "can have at most {max_length} entries, and has {actual_length}",
    "string_type": _TEXT,
    "bool_type": _YES_OR_NO,
    "bool_parsing": _YES_OR_NO,
    "int_type": _WHOLE,
    "int_parsing": _WHOLE,
    "int_from_float": _WHOLE,
    "float_type": _NUMBER,
    "float_parsing": _NUMBER,
    "decimal_type": _NUMBER,
    "decimal_parsing": _NUMBER,
    "finite_number": _NUMBER,
    "date_type": _DAY,
    "date_parsing": _DAY,
    "date_from_datetime_parsing": _DAY,
    "date_from_datetime_inexact": _DAY,
    "dict_type": _TABLE,
    "model_type": _TABLE,
    "model_attributes_type": _TABLE,
    "tuple_type": _LIST,
    "list_type": _LIST,
}
"""What a fault of each type of pydantic's says; braces stand for what the type says of the value."""


def explain_value(fault: Mapping[str, Any]) -> str:
    """Return what one of the errors of a pydantic ValidationError says, without the place and the value."""
    words, of = _WORDS.get(fault["type"]), fault.get("ctx", {})
    if words is None:
        return str(fault["msg"]).removeprefix("Value error, ")
    return _EMPTY if of.get("min_length") == 1 else words.format_map(of)
