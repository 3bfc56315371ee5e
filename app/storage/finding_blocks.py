"""Findings that many reports open or find again, written with few statements."""

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

import sqlalchemy as sa
from sqlmodel import Session, col, select

from app.domain.agency_choices import AgencyChoices
from app.domain.comparison import Direction
from app.domain.device_reports import NotRead
from app.domain.finding_events import EventKind
from app.domain.finding_life import (
    RECURS_WITHIN,
    FindingKind,
    FindingStatus,
    StoredFinding,
    due_times,
    is_recurrence,
)
from app.domain.findings import Severity
from app.domain.fleet import StoredReport, was_read
from app.domain.people import Person
from app.storage.agencies import agency_by_id
from app.storage.base import Row, batches
from app.storage.finding_events import FindingEventRow
from app.storage.finding_rows import FindingRow, findings_where
from app.storage.findings import finding_by_id, refresh_finding
from app.storage.many_rows import insert_many
from app.storage.numbering import new_numbers
from app.storage.report_blocks import AT_ONCE, JudgedReport
from app.storage.reports import report_by_id

_Place = tuple[int, str, str, FindingKind]
"""Device, preset, alarm and kind."""
Verdict = tuple[Direction, Severity]


@dataclass(eq=False, slots=True)
class _Opened:
    """Not written yet; the latest report tells how it is."""

    first: int
    verdict: Verdict
    due_for: Verdict
    latest: int
    again: list[int] = field(default_factory=list)


class FindingBlock:
    def __init__(
        self, tx: Session, device_ids: Sequence[int], *, by: Person, now: datetime
    ) -> None:
        self._tx, self._by, self._now = tx, by, now
        self._known = _not_closed(tx, device_ids)
        self._closed = _closed_lately(tx, device_ids, now)
        self._choices: AgencyChoices = agency_by_id(tx, by.agency_id).choices
        self._opened: dict[_Place, _Opened] = {}
        self._held: dict[tuple[int, str], set[str]] = defaultdict(set)
        for (device, preset, alarm, kind), found in self._known.items():
            if kind is FindingKind.HELD and found.status is not FindingStatus.VERIFIED:
                self._held[device, preset].add(alarm)
        self._found_again: list[tuple[int, int]] = []
        self._latest: dict[int, tuple[Verdict, int]] = {}

    def unread(self, one: JudgedReport) -> list[str]:
        """Alarms of its preset with a finding that nobody has verified, which it did not read."""
        alarms = self.not_verified(one) if self._held else ()
        if not alarms:
            return []
        readings = one.report.found.readings
        return [alarm for alarm in alarms if not was_read(readings.get(alarm, NotRead()))]

    def not_verified(self, one: JudgedReport) -> set[str]:
        """Alarms of its preset with a finding that somebody must still act on."""
        return self._held.get((one.device.id, one.report.preset), set())

    def take(
        self,
        number: int,
        one: JudgedReport,
        kind: FindingKind,
        only: Collection[str] | None = None,
    ) -> None:
        """Notes open none; how a crew used a device is no more than a note."""
        if not one.verdicts:
            return
        for alarm, (direction, severity) in sorted(one.verdicts.items()):
            if severity is Severity.NOTE or (only is not None and alarm not in only):
                continue
            grade = Severity.NOTE if kind is FindingKind.USE else severity
            verdict = direction, grade
            place = one.device.id, one.report.preset, alarm, kind
            known, opened = self._known.get(place), self._opened.get(place)
            if kind is FindingKind.HELD:
                self._held[one.device.id, one.report.preset].add(alarm)
            if known is not None:
                self._find_again(place, known, number, one, verdict)
            elif opened is None:
                self._opened[place] = _Opened(number, verdict, verdict, number)
            else:
                _find_opened_again(opened, number, verdict)

    def _find_again(
        self,
        place: _Place,
        known: StoredFinding,
        number: int,
        one: JudgedReport,
        verdict: Verdict,
    ) -> None:
        reopen = is_recurrence(known, one.report.read_at)
        before = self._latest.get(known.id, ((known.direction, known.severity), 0))[0]
        if reopen or verdict[1].weight < before[1].weight:
            self._save_found_again()
            report: StoredReport = report_by_id(self._tx, number)
            refresh_finding(
                self._tx, finding_by_id(self._tx, known.id), report=report, reopen=reopen
            )
            self._known[place] = finding_by_id(self._tx, known.id)
            return
        self._latest[known.id] = verdict, number
        self._found_again.append((known.id, number))

    def save(self) -> None:
        self._save_found_again()
        self._save_opened()

    def _save_found_again(self) -> None:
        if not self._latest:
            return
        row = FindingRow
        change = (
            sa.update(FindingRow.__table__)  # type: ignore[attr-defined]
            .where(col(row.id) == sa.bindparam("of"))
            .values(
                direction=sa.bindparam("way"),
                severity=sa.bindparam("grade"),
                report_id=sa.bindparam("report"),
            )
        )
        rows = [
            {"of": number, "way": way.value, "grade": grade.value, "report": report}
            for number, ((way, grade), report) in self._latest.items()
        ]
        self._tx.connection().execute(change, rows)
        events = [
            self._event(EventKind.FOUND_AGAIN, number, report)
            for number, report in self._found_again
        ]
        _insert(self._tx, FindingEventRow, events)
        self._latest, self._found_again = {}, []

    def _save_opened(self) -> None:
        numbers = new_numbers(self._tx, FindingRow, len(self._opened))
        numbered = list(zip(numbers, self._opened.items(), strict=True))
        for some in batches(numbered, AT_ONCE):
            rows = [self._row(number, place, one) for number, (place, one) in some]
            _insert(self._tx, FindingRow, rows)
            events = [event for number, (_, one) in some for event in self._events(number, one)]
            _insert(self._tx, FindingEventRow, events)
        self._opened = {}

    def _row(self, number: int, place: _Place, one: _Opened) -> dict[str, Any]:
        device_id, preset, alarm, kind = place
        direction, severity = one.verdict
        due = due_times(one.due_for[1], one.due_for[0], self._choices)
        return {
            "id": number,
            "agency_id": self._by.agency_id,
            "device_id": device_id,
            "kind": kind.value,
            "preset": preset,
            "alarm": alarm,
            "direction": direction.value,
            "severity": severity.value,
            "status": FindingStatus.OPEN.value,
            "opened_at": self._now,
            "opened_report_id": one.first,
            "report_id": one.latest,
            "note": "",
            "contain_due_at": self._now + due.contain,
            "verify_due_at": self._now + due.verify,
            "recurrences": 0,
            "recurred_from_id": self._closed.get(place),
        }

    def _events(self, number: int, one: _Opened) -> list[dict[str, Any]]:
        again = [self._event(EventKind.FOUND_AGAIN, number, report) for report in one.again]
        return [self._event(EventKind.OPENED, number, one.first), *again]

    def _event(self, kind: EventKind, finding: int, report: int) -> dict[str, Any]:
        return {
            "finding_id": finding,
            "kind": kind.value,
            "at": self._now,
            "person_id": self._by.id,
            "name": self._by.name,
            "note": "",
            "about": "",
            "report_id": report,
        }


def _find_opened_again(opened: _Opened, number: int, verdict: Verdict) -> None:
    if verdict[1].weight < opened.verdict[1].weight:
        opened.due_for = verdict
    opened.verdict, opened.latest = verdict, number
    opened.again.append(number)


def _insert(tx: Session, table: type[Row], rows: Sequence[Mapping[str, Any]]) -> None:
    if rows:
        insert_many(tx, table, list(rows[0]), [list(row.values()) for row in rows])


def _not_closed(tx: Session, device_ids: Sequence[int]) -> dict[_Place, StoredFinding]:
    row = FindingRow
    standing: dict[_Place, StoredFinding] = {}
    for some in batches(device_ids):
        wanted = col(row.device_id).in_(some), row.status != FindingStatus.CLOSED.value
        devices = dict(tx.exec(select(row.id, row.device_id).where(*wanted)).all())
        for found in findings_where(tx, *wanted) if devices else ():
            standing[devices[found.id], found.preset, found.alarm, found.kind] = found
    return standing


def _closed_lately(tx: Session, device_ids: Sequence[int], now: datetime) -> dict[_Place, int]:
    """The last of each place."""
    row = FindingRow
    columns: tuple[Any, ...] = (row.device_id, row.preset, row.alarm, row.kind, row.id)
    lately: dict[_Place, int] = {}
    for some in batches(device_ids):
        wanted = (
            sa.select(*columns)
            .where(col(row.device_id).in_(some), col(row.closed_at) >= now - RECURS_WITHIN)
            .order_by(col(row.closed_at), col(row.id))
        )
        for device, preset, alarm, kind, number in tx.execute(wanted):
            lately[device, preset, alarm, FindingKind(kind)] = number
    return lately
