"""CSV for spreadsheets: no cell of it is ever taken for a formula."""

import csv
import io
from collections.abc import Iterable, Sequence

_STARTS_A_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n")


def written(header: Sequence[str], rows: Iterable[Sequence[object]]) -> bytes:
    """UTF-8 with a byte order mark, as spreadsheets expect it; None is an empty cell."""
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow(header)
    writer.writerows([_safe(value) for value in row] for row in rows)
    return text.getvalue().encode("utf-8-sig")


def _safe(value: object) -> str:
    """An apostrophe in front, which spreadsheets hide; numbers are no text and stay as they are."""
    text = "" if value is None else str(value)
    is_text = isinstance(value, str)
    return f"'{text}" if is_text and text.startswith(_STARTS_A_FORMULA) else text
