"""What many devices are known to hold, after many reports: each device is read and saved once."""

import json
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby
from typing import Any, NamedTuple, cast

import sqlalchemy as sa
from sqlmodel import Session, col, select

from app.domain.comparison import Direction
from app.domain.device_reports import Reading, StateRead
from app.domain.findings import Severity
from app.domain.fleet import Column
from app.domain.known_devices import DeviceNow, PresetNow, is_late, known_after, known_first
from app.domain.packing import NO_EXTRAS, Packed, key_of
from app.domain.people import Person
from app.domain.reading_sets import ReadingSet
from app.storage.base import batches
from app.storage.device_presets import DevicePresetsRow
from app.storage.devices_now import DeviceNowRow, preset_from, presets_kept
from app.storage.layouts import LayoutRow, columns_from
from app.storage.many_rows import insert_many
from app.storage.report_blocks import JudgedReport, Layouts
from app.storage.reports import ReportRow
from app.storage.revisions import RevisionRow, revision_id_of
from app.storage.settled_readings import firm_readings, waiting_reports
from app.storage.standing_verdicts import (
    known_after_late,
    not_looked_at_since,
    standing_verdicts,
)


@dataclass(frozen=True, eq=False, slots=True)
class _Piece:
    """All readings of one preset, packed: `known_after` only moves them about."""

    columns: tuple[Column, ...]
    packed: Packed


class _Latest(NamedTuple):
    id: int
    preset: str
    state_read: StateRead
    read_at: datetime
    revision: int | None
    readings: Mapping[str, Reading]


_WHOLE = ""
"""In place of an alarm, for the readings of a whole preset."""


class DeviceBlock:
    def __init__(self, tx: Session, device_ids: Sequence[int], *, by: Person) -> None:
        self._tx, self._by = tx, by
        self._known = _known(tx, device_ids)
        self._stored = frozenset(self._known)
        self._layouts = Layouts(tx, by.agency_id)
        self._revisions: dict[int | None, int | None] = {}
        self._here: dict[int, Mapping[str, Reading]] = {}
        self._found: dict[ReadingSet, Mapping[str, Reading]] = {}
        self._held: dict[tuple[_Piece, ...], tuple[int, bytes, str]] = {}
        self._changed: set[int] = set()
        self._models: dict[int, str] = {}

    def take_first(self, some: Sequence[tuple[int, JudgedReport]]) -> bool:
        """All reports of a device in the order in which they were read, none of whose findings
        waits for anybody. False: none is taken, since something is known of it or they hang on
        each other."""
        device = some[0][1].device
        if device.id in self._known:
            return False
        told = [(self._latest(number, one), one.judgement) for number, one in some]
        found = known_first(told)
        if found is None:
            return False
        self._known[device.id] = found
        self._changed.add(device.id)
        return True

    def take(self, number: int, one: JudgedReport, unread: Collection[str]) -> bool:
        """False: it tells nothing new of what the device holds. `unread`: alarms that it did not
        look at, of findings that nobody has verified."""
        report = self._latest(number, one)
        known = self._known.get(one.device.id)
        standing = self._standing(one.device.id, report, unread) if unread else ()
        after = known_after(known, report, one.judgement, self._readings_of, standing=standing)
        if after is None:
            return False
        self._known[one.device.id] = after
        self._changed.add(one.device.id)
        return True

    def _standing(
        self, device_id: int, report: _Latest, alarms: Collection[str]
    ) -> list[tuple[Direction, Severity]]:
        return standing_verdicts(
            self._tx,
            device_id,
            preset=report.preset,
            state_read=report.state_read,
            before=report.read_at,
            alarms=alarms,
        )

    def astray_since(self, number: int, one: JudgedReport) -> list[str]:
        """Of a report that comes late what no later one looked at."""
        report, known = self._latest(number, one), self._known.get(one.device.id)
        if not is_late(known, report, one.judgement):
            return []
        return not_looked_at_since(self._tx, one.device.id, report, one.verdicts)

    def take_late(self, number: int, one: JudgedReport, alarms: Collection[str]) -> None:
        """`alarms`: of its preset, with findings that nobody has verified."""
        report, known = self._latest(number, one), self._known.get(one.device.id)
        if known is not None and is_late(known, report, one.judgement) and alarms:
            self._known[one.device.id] = known_after_late(
                self._tx,
                one.device.id,
                known,
                report,
                alarms=alarms,
                readings_of=self._readings_of,
            )
            self._changed.add(one.device.id)

    def _latest(self, number: int, one: JudgedReport) -> "_Latest":
        report = one.report
        readings = self._found.get(report.found)
        if readings is None:
            readings = _whole(_Piece(report.found.columns, report.found.packed))
            self._found[report.found] = readings
        self._here[number] = readings
        self._models[one.device.id] = one.device.model
        revision = None if one.revision is None else one.revision[1]
        return _Latest(number, report.preset, report.state_read, report.read_at, revision, readings)

    def _readings_of(self, number: int) -> Mapping[str, Reading]:
        if number in self._here:
            return self._here[number]
        if waiting_reports(self._tx, [number]):
            return firm_readings(self._tx, number)
        wanted = (
            select(LayoutRow.columns, ReportRow.vals, ReportRow.extras)
            .join(LayoutRow, col(ReportRow.layout_id) == col(LayoutRow.id))
            .where(ReportRow.id == number)
        )
        columns, vals, extras = self._tx.exec(wanted).one()
        return _whole(_Piece(tuple(columns_from(columns)), Packed(vals, extras)))

    def save(self) -> None:
        changed = sorted(self._changed)
        for some in batches(changed):
            if not self._stored.isdisjoint(some):
                for table in (DevicePresetsRow, DeviceNowRow):
                    gone = sa.delete(table).where(col(table.device_id).in_(some))
                    self._tx.execute(gone)
            rows = [self._row(number, self._known[number]) for number in some]
            insert_many(self._tx, DeviceNowRow, list(rows[0]), [list(row.values()) for row in rows])
            told = [(number, presets_kept(self._known[number].presets)) for number in some]
            insert_many(self._tx, DevicePresetsRow, ("device_id", "presets"), told)

    def _row(self, device_id: int, now: DeviceNow) -> dict[str, Any]:
        pieces = tuple([_piece(now.readings[preset, _WHOLE]) for preset in sorted(now.presets)])
        layout, vals, extras = self._held.get(pieces) or self._holds(pieces)
        tally = now.tally
        return {
            "device_id": device_id,
            "model": self._models[device_id],
            "layout_id": layout,
            "vals": vals,
            "extras": extras,
            "presets_read": now.presets_read,
            "presets_offered": now.offered,
            "worst": None if tally.worst is None else tally.worst.value,
            "looser": tally.looser,
            "tighter": tally.tighter,
            "other": tally.other,
            "missing": tally.missing,
            "oldest_read_at": now.oldest_read_at,
            "latest_read_at": now.latest_read_at,
            "revision_id": self._revision_id(now.revision),
        }

    def _holds(self, pieces: tuple[_Piece, ...]) -> tuple[int, bytes, str]:
        """Most devices of a fleet hold alike."""
        layout = self._layouts.number(*(piece.columns for piece in pieces))
        vals = b"".join(piece.packed.vals for piece in pieces)
        found = self._held[pieces] = layout, vals, _extras(pieces)
        return found

    def _revision_id(self, number: int | None) -> int | None:
        if number not in self._revisions:
            found = revision_id_of(self._tx, self._by.agency_id, number)
            self._revisions[number] = found
        return self._revisions[number]


def _whole(piece: _Piece) -> dict[str, Reading]:
    return {_WHOLE: cast("Reading", piece)}


def _piece(kept: object) -> _Piece:
    return cast("_Piece", kept)


def _extras(pieces: Sequence[_Piece]) -> str:
    told = [piece.packed.extras for piece in pieces if piece.packed.extras != NO_EXTRAS]
    if not told:
        return NO_EXTRAS
    merged = {key: extra for text in told for key, extra in json.loads(text).items()}
    return json.dumps(merged, sort_keys=True, ensure_ascii=False)


def _known(tx: Session, device_ids: Sequence[int]) -> dict[int, DeviceNow]:
    found: dict[int, DeviceNow] = {}
    for some in batches(device_ids):
        wanted = (
            select(DeviceNowRow, DevicePresetsRow.presets, LayoutRow.columns, RevisionRow.number)
            .join(DevicePresetsRow, col(DevicePresetsRow.device_id) == col(DeviceNowRow.device_id))
            .join(LayoutRow, col(DeviceNowRow.layout_id) == col(LayoutRow.id))
            .outerjoin(RevisionRow, col(DeviceNowRow.revision_id) == col(RevisionRow.id))
            .where(col(DeviceNowRow.device_id).in_(some))
        )
        for row, told, columns, revision in tx.exec(wanted):
            found[row.device_id] = _now(row, told, columns, revision)
    return found


def _now(row: DeviceNowRow, told: str, columns: str, revision: int | None) -> DeviceNow:
    presets: dict[str, PresetNow] = {
        name: preset_from(short) for name, short in json.loads(told).items()
    }
    readings: dict[Column, Reading] = {}
    extras, at = json.loads(row.extras), 0
    for preset, some in groupby(columns_from(columns), key=lambda column: column[0]):
        own = tuple(some)
        vals = row.vals[2 * at : 2 * (at + len(own))]
        keys = map(key_of, own)
        own_extras = {key: extras[key] for key in keys if key in extras}
        text = json.dumps(own_extras, sort_keys=True, ensure_ascii=False)
        readings[preset, _WHOLE] = cast("Reading", _Piece(own, Packed(vals, text)))
        at += len(own)
    return DeviceNow(presets, readings, row.presets_offered, revision)
