"""CSV for spreadsheets: no cell of it is ever taken for a formula."""

import csv
import io
from collections.abc import Iterable, Sequence

from app.exchange.formula_safe import safe_cell


def written(header: Sequence[str], rows: Iterable[Sequence[object]]) -> bytes:
    """UTF-8 with a byte order mark, as spreadsheets expect it; None is an empty cell."""
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow(header)
    writer.writerows([_safe(value) for value in row] for row in rows)
    return text.getvalue().encode("utf-8-sig")


def _safe(value: object) -> str:
    """Numbers are no text and stay as they are."""
    return safe_cell(value) if isinstance(value, str) else "" if value is None else str(value)
