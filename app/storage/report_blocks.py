"""Many new reports at once: the same rows as one by one, written with few statements."""

import json
import zlib
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import insert
from sqlmodel import Session

from app.domain.device_reports import Origin, Told
from app.domain.devices import Device
from app.domain.fleet import Column, Judgement, Verdicts
from app.domain.people import Person
from app.domain.reading_sets import BlockReport, Cell
from app.storage.base import batches
from app.storage.deviations import DeviationRow
from app.storage.layouts import layout_for
from app.storage.numbering import new_numbers
from app.storage.reports import ReportRow

AT_ONCE = 2000
_QUICKLY = 1


@dataclass(frozen=True, eq=False, slots=True)
class JudgedReport:
    """`revision`: row and number of the one that judged it; None: nothing was in force."""

    report: BlockReport
    device: Device
    revision: tuple[int, int] | None
    judgement: Judgement
    verdicts: Verdicts


def add_reports(
    tx: Session, reports: Sequence[JudgedReport], *, by: Person, now: datetime
) -> list[int]:
    """Their numbers, in their order."""
    numbers = new_numbers(tx, ReportRow, len(reports))
    layouts = Layouts(tx, by.agency_id)
    raws = _Raws()
    numbered = list(zip(numbers, reports, strict=True))
    for some in batches(numbered, AT_ONCE):
        rows = [_row(number, one, layouts, raws, by, now) for number, one in some]
        tx.execute(insert(ReportRow.__table__), rows)  # type: ignore[attr-defined]
        found = [row for number, one in some for row in _deviations(number, one.verdicts)]
        if found:
            tx.execute(insert(DeviationRow.__table__), found)  # type: ignore[attr-defined]
    return numbers


class Layouts:
    """The number of each layout, asked for once."""

    def __init__(self, tx: Session, agency_id: int) -> None:
        self._tx, self._agency_id = tx, agency_id
        self._known: dict[tuple[Column, ...], int] = {}

    def number(self, columns: tuple[Column, ...]) -> int:
        found = self._known.get(columns)
        if found is None:
            found = layout_for(self._tx, agency_id=self._agency_id, columns=columns)
            self._known[columns] = found
        return found


def _row(
    number: int, one: JudgedReport, layouts: Layouts, raws: "_Raws", by: Person, now: datetime
) -> dict[str, Any]:
    report, found, told = one.report, one.report.found, one.report.told
    return {
        "id": number,
        "agency_id": by.agency_id,
        "device_id": one.device.id,
        "model": one.device.model,
        "preset": found.preset,
        "state_read": report.state_read.value,
        "read_at": report.read_at,
        "received_at": now,
        "reader_id": by.id,
        "software": told.software,
        "trigger": told.trigger,
        "minutes_off": told.minutes_off,
        "revision_id": None if one.revision is None else one.revision[0],
        "layout_id": layouts.number(found.columns),
        "vals": found.packed.vals,
        "extras": found.packed.extras,
        "raw": raws.raw(report),
        "idempotency_key": report.key,
        "origin": Origin.FILE.value,
        "reader_told": told.reader,
        "device_clock": told.device_clock,
    }


def _deviations(number: int, verdicts: Verdicts) -> Iterator[dict[str, Any]]:
    for alarm, (direction, severity) in verdicts.items():
        yield {
            "report_id": number,
            "alarm": alarm,
            "direction": direction.value,
            "severity": severity.value,
        }


class _Raws:
    """The input as `reports` keeps it, put together from parts that many reports share."""

    def __init__(self) -> None:
        self._cells: dict[Cell, str] = {}
        self._told: dict[Told, tuple[str, ...]] = {}

    def raw(self, report: BlockReport) -> bytes:
        told = self._told.get(report.told) or self._tell(report.told)
        clock, minutes, reader, software, trigger = told
        text = (
            f'{{"device": {json.dumps(report.device)}, "device_clock": {clock}, '
            f'"idempotency_key": {json.dumps(report.key)}, "minutes_off": {minutes}, '
            f'"origin": "{Origin.FILE.value}", "preset": {json.dumps(report.preset)}, '
            f'"read_at": "{report.read_at.isoformat()}", "reader": {reader}, '
            f'"readings": {{{", ".join(map(self._cell, report.found.cells))}}}, '
            f'"software": {software}, "state_read": "{report.state_read.value}", '
            f'"trigger": {trigger}}}'
        )
        return zlib.compress(text.encode(), _QUICKLY)

    def _tell(self, told: Told) -> tuple[str, ...]:
        parts = asdict(told)
        found = tuple(json.dumps(parts[name]) for name in sorted(parts))
        self._told[told] = found
        return found

    def _cell(self, cell: Cell) -> str:
        text = self._cells.get(cell)
        if text is None:
            reading = {"state": cell.reading.state, **asdict(cell.reading)}
            text = json.dumps({cell.alarm: reading}, sort_keys=True, default=str)[1:-1]
            self._cells[cell] = text
        return text
