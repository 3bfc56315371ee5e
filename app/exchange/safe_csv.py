"""CSV for spreadsheets: no cell of it is ever taken for a formula."""

import csv
import io
from collections.abc import Iterable, Iterator, Sequence
from itertools import chain, islice

from app.exchange.formula_safe import safe_cell

_AT_ONCE = 5000


def written(header: Sequence[str], rows: Iterable[Sequence[object]]) -> bytes:
    """UTF-8 with a byte order mark, as spreadsheets expect it; None is an empty cell."""
    return b"".join(written_in_pieces(header, rows))


def written_in_pieces(header: Sequence[str], rows: Iterable[Sequence[object]]) -> Iterator[bytes]:
    """The same, without all of it in memory at once."""
    lines = chain([header], rows)
    coding = "utf-8-sig"
    while some := list(islice(lines, _AT_ONCE)):
        text = io.StringIO()
        csv.writer(text).writerows([_safe(value) for value in row] for row in some)
        yield text.getvalue().encode(coding)
        coding = "utf-8"


def _safe(value: object) -> str:
    """Numbers are no text and stay as they are."""
    return safe_cell(value) if isinstance(value, str) else "" if value is None else str(value)
