"""What was found on one preset at one time, shared by all reports that found just the same.

Fleets repeat themselves: thousands of reports hold the same few readings, so these are packed,
judged and written down once.
"""

import json
import struct
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from typing import Any, NamedTuple

from app.domain.device_reports import Reading, StateRead, Told
from app.domain.fleet import Column
from app.domain.packing import NO_EXTRAS, Packed, key_of, packed_reading


@dataclass(frozen=True, eq=False, slots=True)
class Cell:
    """One reading of one alarm, as it is packed; told apart by identity."""

    alarm: str
    reading: Reading
    code: int
    extra: Mapping[str, Any]


def cell_of(alarm: str, reading: Reading) -> Cell:
    return Cell(alarm, reading, *packed_reading(alarm, reading))


@dataclass(frozen=True, eq=False, slots=True)
class ReadingSet:
    """`columns` in the order of the alarms, all of one preset; a cell a column."""

    preset: str
    columns: tuple[Column, ...]
    cells: tuple[Cell, ...]
    packed: Packed

    @property
    def readings(self) -> dict[str, Reading]:
        return {cell.alarm: cell.reading for cell in self.cells}


def reading_set(preset: str, cells: Sequence[Cell]) -> ReadingSet:
    """Of cells whose alarms are all different."""
    ordered = tuple(sorted(cells, key=_alarm))
    columns = _columns(preset, tuple(cell.alarm for cell in ordered))
    vals = struct.pack(f"<{len(ordered)}h", *[cell.code for cell in ordered])
    extras = {key_of((preset, cell.alarm)): cell.extra for cell in ordered if cell.extra}
    text = json.dumps(extras, sort_keys=True, ensure_ascii=False) if extras else NO_EXTRAS
    return ReadingSet(preset, columns, ordered, Packed(vals, text))


@lru_cache(maxsize=1024)
def _columns(preset: str, alarms: tuple[str, ...]) -> tuple[Column, ...]:
    """Shared, too: thousands of different readings stand in the same few columns."""
    return tuple((preset, alarm) for alarm in alarms)


def _alarm(cell: Cell) -> str:
    return cell.alarm


in_full = lru_cache(maxsize=4096)(datetime.isoformat)
"""Of moments in UTC: the reports of a device share theirs, and it is written several times."""


class BlockReport(NamedTuple):
    """A new report as one of many. `rows`: the number of its first row, and how many, in turn."""

    device: str
    read_at: datetime
    state_read: StateRead
    told: Told
    found: ReadingSet
    key: str
    rows: tuple[int, ...]

    @property
    def preset(self) -> str:
        return self.found.preset

    @property
    def place(self) -> tuple[str, datetime, StateRead, str]:
        """What makes it one report."""
        return self.device, self.read_at, self.state_read, self.preset
