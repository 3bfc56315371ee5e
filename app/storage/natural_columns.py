"""The order in which people count, Boat 2 before Boat 10, worked out by the database itself."""

from string import ascii_letters, digits
from typing import Any

from sqlalchemy import func

_NO_DIGITS = ascii_letters + "-_ ./#"


def natural_columns(column: Any) -> tuple[Any, ...]:
    """To order by. Of a name its first number counts as one: what stands before it, the number,
    what comes after."""
    from_number = func.ltrim(column, _NO_DIGITS)
    after = func.ltrim(from_number, digits)
    before = func.substr(column, 1, func.length(column) - func.length(from_number))
    number = func.ltrim(
        func.substr(from_number, 1, func.length(from_number) - func.length(after)), "0"
    )
    return func.lower(before), func.length(number), number, func.lower(after), column
