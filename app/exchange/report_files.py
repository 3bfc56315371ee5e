"""A file of readings as the service takes it in: rows → reports of devices that it knows.

Each row is held against the policy that was in force when the device was read. What many rows
share, such as a reading or what is told of a report, is looked at once.
"""

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import BinaryIO

from app.domain.block_reports import BlockReports, moment_of
from app.domain.device_reports import StateRead
from app.domain.errors import Fault
from app.domain.file_lines import each_row
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
    """`faults` tells the first of the `refused` rows; `known` reports were sent before."""

    reports: BlockReports
    rows: Rows
    faults: tuple[Fault, ...] = ()
    refused: int = 0
    known: int = 0

    @property
    def devices(self) -> list[str]:
        return self.reports.tags

    def oldest(self, now: datetime) -> datetime:
        return moment_of(min(self.reports.at)) if len(self.reports) else now

    @property
    def readings(self) -> int:
        return self.reports.readings

    @property
    def told(self) -> tuple[Fault, ...]:
        more = self.refused - len(self.faults[:MOST_FAULTS])
        told = Fault(f"and {more} more rows are wrong")
        return (*self.faults[:MOST_FAULTS], told) if more else self.faults

    @property
    def takes(self) -> bool:
        """Whether anything in it could be taken, be it known already."""
        return len(self.reports) > 0 or self.known > 0

    def beside(self, stored: Mapping[Place, str]) -> "ReportFile":
        """Without what is stored already: the same report is known, another one is refused."""
        faults = Faults(MOST_IN_WORDS - len(self.faults))
        new, known, lines = [], 0, self.rows.lines
        for number, one in enumerate(self.reports):
            key = stored.get(one.place)
            if key is None:
                new.append(number)
            elif key == one.key:
                known += 1
            else:
                for row in each_row(one.rows):
                    faults.add(lines[row], "read_at", _other_than_stored(one))
        told = [*self.faults, *map(self.rows.placed, faults.told)]
        return replace(
            self,
            reports=self.reports.kept(new),
            faults=tuple(sorted(told, key=_place)),
            refused=self.refused + faults.count,
            known=self.known + known,
        )


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
    return ReportFile(reports, rows, tuple(told), faults.count)
