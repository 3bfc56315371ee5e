"""The readings in the rows of a file: the same texts are read once, however often they stand."""

from collections.abc import Callable, Hashable
from typing import Any

from app.domain.device_reports import Reading
from app.domain.errors import Refused
from app.domain.options import OPTIONS
from app.domain.reading_sets import Cell, cell_of
from app.exchange.report_rows import too_long
from app.exchange.reports_csv import WrongCell, alarm_reading, needed, option_reading, printable

OF_A_READING = ("alarm", "reading", "unit", "priority", "delay_s", "latching")
"""Columns of the reading itself; the others are of its whole report."""
MOST_READINGS = 250_000
"""Different ones in a file: a bound of the memory that it can take, whatever is in it."""
Texts = tuple[str, ...]


class Cells(dict[Hashable, int]):
    """By the texts of a reading, or by these in one as they stand in the line: which of `good` it
    is, or, below zero, which of `wrong`."""

    def __init__(
        self,
        names: Texts,
        reading: Callable[[dict[str, str]], Reading],
        *,
        beside: int,
        wide: bool,
    ) -> None:
        super().__init__()
        self._names, self._reading = names, reading
        self._beside, self._wide = beside, wide
        self.good: list[Cell] = []
        self.wrong: list[WrongCell] = []

    def __missing__(self, written: Any) -> int:
        if len(self) >= MOST_READINGS:
            raise Refused.because(
                f"the file holds more than {MOST_READINGS} different readings: split it",
                column="file",
            )
        try:
            found = len(self.good)
            texts = tuple(written.decode().split(",")) if isinstance(written, bytes) else written
            self.good.append(self._cell(texts))
        except WrongCell as wrong:
            self.wrong.append(wrong)
            found = -len(self.wrong)
        self[written] = found
        return found

    def _cell(self, texts: Texts) -> Cell:
        if len(texts) != len(self._names):
            width = self._beside + len(self._names)
            told = f"has {self._beside + len(texts)} cells where the header has {width}"
            raise WrongCell("row", told, "")
        cells = _tidy(self._names, texts)
        alarm = needed(cells, "alarm")
        try:
            return cell_of(alarm, self._reading(cells))
        except WrongCell as wrong:
            if self._wide and wrong.column == "reading":
                raise WrongCell(alarm, str(wrong), wrong.value) from None
            raise


def an_alarm(cells: dict[str, str]) -> Reading:
    return alarm_reading(cells, cells["alarm"])


def an_option(cells: dict[str, str]) -> Reading:
    if cells["alarm"] not in OPTIONS:
        raise WrongCell("alarm", "is no option of a device", cells["alarm"])
    return option_reading(cells)


def _tidy(names: Texts, texts: Texts) -> dict[str, str]:
    if too_long(texts):
        raise WrongCell("row", "a cell is longer than 2000 characters", "")
    return {name: printable(name, text.strip()) for name, text in zip(names, texts, strict=True)}
