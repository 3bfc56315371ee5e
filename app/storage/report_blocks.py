"""Many new reports at once: the same rows as one by one, written with few statements."""

from collections.abc import Iterator, Sequence
from datetime import datetime
from typing import Any, NamedTuple

from sqlmodel import Session

from app.domain.device_reports import Origin
from app.domain.fleet import Column, Judgement, Verdicts
from app.domain.people import Person
from app.domain.reading_sets import BlockReport
from app.storage.deviations import DeviationRow
from app.storage.devices import LockedDevice
from app.storage.layouts import layout_for
from app.storage.many_rows import insert_many
from app.storage.report_inputs import SharedInputs
from app.storage.reports import ReportRow

AT_ONCE = 2000
_MOST_ALIKE = 5000
_Columns = tuple[Column, ...]


class JudgedReport(NamedTuple):
    """`revision`: row and number of the one that judged it; None: nothing was in force. `case`:
    reports of the same file with the same number differ in no more than their device, when they
    were read, and `lines`, which is where they stand in it."""

    report: BlockReport
    device: LockedDevice
    revision: tuple[int, int] | None
    judgement: Judgement
    verdicts: Verdicts
    case: int
    lines: str


class ReportBlock:
    """Of one file; handed over part by part."""

    def __init__(self, tx: Session, *, file_id: int, by: Person, now: datetime) -> None:
        self._tx = tx
        self._layouts = Layouts(tx, by.agency_id)
        self._inputs = SharedInputs(tx, by.agency_id)
        self._shared = by.agency_id, now, by.id, file_id
        self._alike: dict[int, tuple[Any, ...]] = {}

    def add(self, numbered: Sequence[tuple[int, JudgedReport]]) -> None:
        self._inputs.keep(one.report.found for _, one in numbered)
        rows = [self._row(number, one) for number, one in numbered]
        insert_many(self._tx, ReportRow, _COLUMNS, rows)
        found = [row for number, one in numbered for row in _deviations(number, one.verdicts)]
        insert_many(self._tx, DeviationRow, _OF_A_DEVIATION, found)

    def _row(self, number: int, one: JudgedReport) -> tuple[Any, ...]:
        """In the order of `_COLUMNS`."""
        alike = self._alike.get(one.case)
        if alike is None:
            if len(self._alike) >= _MOST_ALIKE:
                self._alike.clear()
            alike = self._alike[one.case] = self._of_many(one)
        report = one.report
        return (number, one.device.id, report.read_at, one.lines, report.key, *alike)

    def _of_many(self, one: JudgedReport) -> tuple[Any, ...]:
        report, found, told = one.report, one.report.found, one.report.told
        return (
            *self._shared,
            one.device.model,
            found.preset,
            report.state_read.value,
            told.software,
            told.trigger,
            told.minutes_off,
            None if one.revision is None else one.revision[0],
            self._layouts.number(found.columns),
            found.packed.vals,
            found.packed.extras,
            self._inputs.number(found),
            Origin.FILE.value,
            told.reader,
            told.device_clock,
        )


class Layouts:
    """The number of each layout, asked for once."""

    def __init__(self, tx: Session, agency_id: int) -> None:
        self._tx, self._agency_id = tx, agency_id
        self._known: dict[tuple[int, ...], tuple[Sequence[_Columns], int]] = {}

    def number(self, *parts: _Columns) -> int:
        """Of one after the other. Most are the very same, so they are told apart by identity."""
        key = tuple(map(id, parts))
        found = self._known.get(key)
        if found is None:
            columns = [column for part in parts for column in part]
            number = layout_for(self._tx, agency_id=self._agency_id, columns=columns)
            found = self._known[key] = parts, number  # kept, so that no other one gets its identity
        return found[1]


_COLUMNS = (
    "id",
    "device_id",
    "read_at",
    "file_lines",
    "idempotency_key",
    "agency_id",
    "received_at",
    "reader_id",
    "file_id",
    "model",
    "preset",
    "state_read",
    "software",
    "trigger",
    "minutes_off",
    "revision_id",
    "layout_id",
    "vals",
    "extras",
    "input_id",
    "origin",
    "reader_told",
    "device_clock",
)
_OF_A_DEVIATION = ("report_id", "alarm", "direction", "severity")


def _deviations(number: int, verdicts: Verdicts) -> Iterator[tuple[Any, ...]]:
    for alarm, (direction, severity) in verdicts.items():
        yield number, alarm, direction.value, severity.value
