"""One value of a profile ⇄ one cell, so that nothing changes on the way there and back.

A text stands as it is, unless a cell could not hold it or would mistake it for a mark: then as
JSON in double quotes. The marks tell what is said to be nothing from what is left out.
"""

import json
import re
from collections.abc import Mapping
from typing import Any, Final, NamedTuple

from app.domain.settings_of_alarms import as_number
from app.exchange.numbers import plain_number
from app.exchange.profile_xlsx_columns import Kind

NONE, EMPTY = "(none)", "(empty)"
Cell = str | int | float | bool | None
_MARKS = (NONE, EMPTY)
# Beyond these a cell of XML holds nothing, or another text than was written.
_UNSAFE = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\ud800-\udfff\ufffe\uffff]|_x[0-9A-Fa-f]{4}_")


class Left(NamedTuple):
    """No value at all; None is one."""


LEFT: Final = Left()
Value = Any
"""A JSON value, or LEFT."""


def to_cell(value: Value, kind: Kind) -> Cell:
    if isinstance(value, Left):
        return None
    if kind == "yes-no" and isinstance(value, bool):
        return "yes" if value else "no"
    if value is None:
        return NONE
    if isinstance(value, list):
        return ", ".join(value) if value else EMPTY
    if isinstance(value, Mapping):
        return EMPTY
    return written_text(value) if isinstance(value, str) else value


def written_text(text: str) -> str:
    plain = text and text == text.strip() and text not in _MARKS and text[0] != '"'
    if plain and not _UNSAFE.search(text):
        return text
    return _UNSAFE.sub(_escaped, json.dumps(text, ensure_ascii=False))


def _escaped(found: "re.Match[str]") -> str:
    """Its first character as JSON escapes it, which is enough for `_x0041_`."""
    return f"\\u{ord(found[0][0]):04x}{found[0][1:]}"


def from_cell(cell: object, kind: Kind) -> Value:
    """What is no such value comes back as it is: the profile's own rules then name the fault."""
    if cell is None or cell == "":
        return LEFT
    if isinstance(cell, bool):
        return cell
    if isinstance(cell, int | float):
        return _from_number(cell, kind)
    if not isinstance(cell, str):
        raise ValueError("is a date or a time: write it as text")
    return _from_text(cell, kind)


def _from_number(cell: float, kind: Kind) -> Value:
    whole = float(cell).is_integer()
    if whole and abs(cell) > 2**53 - 1:
        raise ValueError("is too large a number")
    number = int(cell) if whole else cell
    return str(number) if kind in ("text", "list") else number


def _from_text(cell: str, kind: Kind) -> Value:
    text = cell.strip()
    if not text:
        return LEFT
    if text == NONE:
        return None
    if text == EMPTY:
        return [] if kind == "list" else {}
    if text.startswith('"'):
        return _quoted(text)
    if kind == "list":
        return [part.strip() for part in text.split(",")]
    if kind == "yes-no":
        return {"yes": True, "no": False}.get(text.lower(), text)
    return _number(text) if kind == "number" else text


def _quoted(text: str) -> str:
    try:
        found = json.loads(text)
    except ValueError:
        raise ValueError("begins with a double quote, but is no JSON text") from None
    if not isinstance(found, str):
        raise ValueError("begins with a double quote, but is no JSON text")
    if any("\ud800" <= character <= "\udfff" for character in found):
        raise ValueError("holds half of a surrogate pair, which is no text")
    return found


def _number(text: str) -> Value:
    """A number that a program wrote as text is still what was typed; `37,5` is none."""
    found = plain_number(text)
    if found is not None:
        return as_number(found)
    if re.fullmatch(r"-?\d+,\d+", text):
        raise ValueError("must be a number with a point, not a comma")
    return text
