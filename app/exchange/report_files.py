"""A file of readings as the service takes it in: rows → reports of devices that it knows.

Each row is held against the policy that was in force when the device was read.
"""

import hashlib
import io
import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import datetime
from decimal import Decimal
from functools import lru_cache

from app.domain.audit import ANY_PRESET, ReadingRow
from app.domain.device_reports import Origin, Reading, StateRead, Told
from app.domain.errors import Fault, Refused
from app.domain.new_reports import NewReport
from app.domain.profiles import Profile
from app.domain.rendering import rendered_presets
from app.domain.revisions import RevisionLine
from app.domain.settings_of_alarms import show_number
from app.exchange.csv_text import Faults
from app.exchange.reports_csv import read_rows
from app.exchange.stored_profiles import stored_profile

Place = tuple[str, datetime, StateRead, str]
"""Device, time, state read and preset: what makes rows one report."""
MOST_REPORTS = 3000
"""All five presets of 500 devices, and some more: they are stored in one go, which takes a while
in which nobody else can write on SQLite."""


@dataclass(frozen=True)
class KnownFleet:
    """The model of every device of an agency, and its policies that ever came into force."""

    models: Mapping[str, str]
    policies: Sequence[tuple[RevisionLine, str]]

    def document_at(self, at: datetime) -> str | None:
        return next((text for line, text in self.policies if line.holds_at(at)), None)

    def profile_at(self, at: datetime) -> Profile | None:
        document = self.document_at(at)
        return None if document is None else stored_profile(document)


@dataclass(frozen=True)
class FileReport:
    report: NewReport
    lines: tuple[int, ...]

    @property
    def place(self) -> Place:
        found = self.report
        return found.device, found.read_at, found.state_read, found.preset


@dataclass(frozen=True)
class ReportFile:
    """`faults` tells the first of the `refused` rows; `known` reports were sent before."""

    reports: tuple[FileReport, ...]
    faults: tuple[Fault, ...] = ()
    refused: int = 0
    known: int = 0

    @property
    def devices(self) -> list[str]:
        return sorted({one.report.device for one in self.reports})

    def oldest(self, now: datetime) -> datetime:
        return min((one.report.read_at for one in self.reports), default=now)

    @property
    def readings(self) -> int:
        return sum(len(one.report.readings) for one in self.reports)

    @property
    def told(self) -> tuple[Fault, ...]:
        more = self.refused - len(self.faults)
        return (*self.faults, Fault(f"and {more} more rows are wrong")) if more else self.faults

    @property
    def takes(self) -> bool:
        """Whether anything in it could be taken, be it known already."""
        return bool(self.reports) or self.known > 0

    def beside(self, stored: Mapping[Place, str]) -> "ReportFile":
        """Without what is stored already: the same report is known, another one is refused."""
        faults = Faults()
        new = []
        for one in self.reports:
            key = stored.get(one.place)
            if key is None:
                new.append(one)
            elif key != one.report.idempotency_key:
                for line in one.lines:
                    faults.add(line, "read_at", _other_than_stored(one))
        refused = self.refused + faults.count
        known = sum(stored.get(one.place) == one.report.idempotency_key for one in self.reports)
        return replace(
            self,
            reports=tuple(new),
            faults=_in_order([*self.faults, *faults.told]),
            refused=refused,
            known=known,
        )


def _other_than_stored(one: FileReport) -> str:
    return f"{one.report.device} has another report of {one.report.preset} at that time already"


def fingerprint_of(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


def read_report_file(content: bytes, known: KnownFleet, *, now: datetime) -> ReportFile:
    """Raises Refused where nothing can be read at all, such as text that is not UTF-8."""
    rows, faults = read_rows(io.BytesIO(content), now)
    groups: dict[Place, list[ReadingRow]] = {}
    for row in rows:
        group = groups.setdefault((row.device, row.read_at, row.state_read, row.preset), [])
        wrong = _wrong(row, known) or _differs(row, group)
        if wrong is None:
            group.append(row)
        else:
            faults.add(row.line, *wrong)
    reports = tuple(_report(place, group) for place, group in groups.items() if group)
    if len(reports) > MOST_REPORTS:
        raise Refused.because(
            f"the file holds {len(reports)} reports, {MOST_REPORTS} are the most: split it",
            column="file",
        )
    return ReportFile(reports, _in_order(faults.told), faults.count)


def _in_order(faults: Sequence[Fault]) -> tuple[Fault, ...]:
    return tuple(sorted(faults, key=lambda fault: fault.line or 0))


Wrong = tuple[str, str, str]
"""Column, reason and value."""


def _wrong(row: ReadingRow, known: KnownFleet) -> Wrong | None:
    model = known.models.get(row.device)
    if model is None:
        return "device", "there is no such device: add it to the fleet first", row.device
    if row.model is not None and row.model != model:
        return "model", f"this device is a {model} here", row.model
    if row.preset == ANY_PRESET:
        return "preset", "options of a device are not taken in: leave this row out", row.preset
    document = known.document_at(row.read_at)
    offered = None if document is None else _presets(document, model)
    if offered is not None and row.preset not in offered:
        return "preset", f"must be one of {', '.join(offered)}", row.preset
    return None


@lru_cache(maxsize=64)
def _presets(document: str, model: str) -> tuple[str, ...]:
    return tuple(rendered_presets(stored_profile(document), model))


def _differs(row: ReadingRow, group: list[ReadingRow]) -> Wrong | None:
    """Whoever read a preset, and with what software, is the same in all of its rows."""
    if not group or row.told == group[0].told:
        return None
    before, here = asdict(group[0].told), asdict(row.told)
    column = next(name for name, told in here.items() if told != before[name])
    reason = f"differs from line {group[0].line}, which is of the same report"
    return column, reason, str(here[column])


def _report(place: Place, rows: list[ReadingRow]) -> FileReport:
    device, read_at, state, preset = place
    told = rows[0].told
    report = NewReport(
        device=device,
        preset=preset,
        state_read=state,
        readings={row.alarm: row.reading for row in rows},
        read_at=read_at,
        idempotency_key="",
        software=told.software,
        trigger=told.trigger,
        minutes_off=told.minutes_off,
        reader=told.reader,
        device_clock=told.device_clock,
        origin=Origin.FILE,
    )
    key = _key(place, report.readings, told)
    return FileReport(replace(report, idempotency_key=key), tuple(row.line for row in rows))


def _key(place: Place, readings: Mapping[str, Reading], told: Told) -> str:
    """By content: the same report in the same or another file is the same report."""
    device, read_at, state, preset = place
    found = {alarm: {"state": one.state, **asdict(one)} for alarm, one in readings.items()}
    whole = [device, read_at.isoformat(), state, preset, found, asdict(told)]
    text = json.dumps(whole, sort_keys=True, default=_plain)
    return f"file:{hashlib.sha256(text.encode()).hexdigest()}"


def _plain(value: object) -> str:
    return show_number(value) if isinstance(value, Decimal) else str(value)
