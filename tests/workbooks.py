"""A workbook that somebody opens in another program, changes and saves."""

import io
from collections.abc import Callable
from datetime import date
from typing import Any

import openpyxl  # type: ignore[import-untyped]

Content = str | float | date | None


def opened(raw: bytes) -> Any:
    """As the other program sees it."""
    return openpyxl.load_workbook(io.BytesIO(raw))


def edited(raw: bytes, edit: Callable[[Any], None]) -> bytes:
    book = opened(raw)
    edit(book)
    written = io.BytesIO()
    book.save(written)
    return written.getvalue()


def with_cells(raw: bytes, cells: dict[str, Content]) -> bytes:
    """`Settings!D2` and what stands there instead; a sheet that is not there is added."""

    def edit(book: Any) -> None:
        for place, value in cells.items():
            sheet, cell = place.split("!")
            page = book[sheet] if sheet in book.sheetnames else book.create_sheet(sheet)
            page[cell].value = value

    return edited(raw, edit)
