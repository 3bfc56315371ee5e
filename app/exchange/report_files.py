"""A file of readings as the service takes it in: rows → reports of devices that it knows.

Each row is held against the policy that was in force when the device was read. What many rows
share, such as a reading or what is told of a report, is looked at once.
"""

import hashlib
from array import array
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from functools import cached_property
from typing import BinaryIO

from app.domain.device_reports import StateRead
from app.domain.errors import Fault
from app.domain.option_judgement import preset_words
from app.domain.reading_sets import BlockReport
from app.exchange.csv_text import MOST_FAULTS, Faults
from app.exchange.known_fleets import KnownFleet
from app.exchange.report_grouping import Grouping
from app.exchange.report_rows import Rows
from app.exchange.report_sources import rows_of

_PIECE = 2**20
MOST_IN_WORDS = 10_000
"""Of so many faults it is kept what they are; pages show fewer."""
Place = tuple[str, datetime, StateRead, str]
"""Device, time, state read and preset: what makes rows one report."""


@dataclass(frozen=True)
class ReportFile:
    """`faults` tells the first of the `refused` rows; `known` reports were sent before.

    `lines`: by row, where it stands in the file.
    """

    reports: tuple[BlockReport, ...]
    rows: Rows
    faults: tuple[Fault, ...] = ()
    refused: int = 0
    known: int = 0

    @cached_property
    def devices(self) -> list[str]:
        return sorted({one.device for one in self.reports})

    def oldest(self, now: datetime) -> datetime:
        return min((one.read_at for one in self.reports), default=now)

    @property
    def readings(self) -> int:
        return sum(len(one.found.cells) for one in self.reports)

    @property
    def told(self) -> tuple[Fault, ...]:
        more = self.refused - len(self.faults[:MOST_FAULTS])
        told = Fault(f"and {more} more rows are wrong")
        return (*self.faults[:MOST_FAULTS], told) if more else self.faults

    @property
    def takes(self) -> bool:
        """Whether anything in it could be taken, be it known already."""
        return bool(self.reports) or self.known > 0

    def beside(self, stored: Mapping[Place, str]) -> "ReportFile":
        """Without what is stored already: the same report is known, another one is refused."""
        faults = Faults(MOST_IN_WORDS - len(self.faults))
        new, known = [], 0
        for one in self.reports:
            key = stored.get(one.place)
            if key is None:
                new.append(one)
            elif key == one.key:
                known += 1
            else:
                for line in _lines_of(one, self.rows.lines):
                    faults.add(line, "read_at", _other_than_stored(one))
        told = [*self.faults, *map(self.rows.placed, faults.told)]
        return replace(
            self,
            reports=tuple(new),
            faults=tuple(sorted(told, key=_place)),
            refused=self.refused + faults.count,
            known=self.known + known,
        )


def _lines_of(report: BlockReport, lines: "array[int]") -> Iterator[int]:
    for first, count in zip(report.rows[::2], report.rows[1::2], strict=True):
        yield from lines[first : first + count]


def _other_than_stored(one: BlockReport) -> str:
    return f"{one.device} has another report of {preset_words(one.preset)} at that time already"


def _place(fault: Fault) -> int:
    return fault.line or 0


def fingerprint_of(content: BinaryIO) -> str:
    """Of all of it; it is at its beginning afterwards."""
    content.seek(0)
    whole = hashlib.sha256()
    while piece := content.read(_PIECE):
        whole.update(piece)
    content.seek(0)
    return whole.hexdigest()


def read_report_file(content: BinaryIO, known: KnownFleet, *, now: datetime) -> ReportFile:
    """Raises Refused where nothing can be read at all, such as text that is not UTF-8."""
    faults = Faults(MOST_IN_WORDS)
    rows = rows_of(content, known.maps, faults)
    grouping = Grouping(rows, known, now, faults)
    reports = grouping.reports()
    told = sorted(map(rows.placed, faults.told), key=_place)
    return ReportFile(tuple(reports), rows, tuple(told), faults.count)
