"""One device report as JSON → a report; what is wrong is told by line and column."""

import json
from collections.abc import Iterator, Mapping
from datetime import UTC, datetime
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from app.domain.alarm_conditions import ALARM_CONDITIONS, AlarmCondition
from app.domain.comparison import DEEP, base_alarm
from app.domain.device_reports import (
    CouldNotRead,
    FoundNotFitted,
    FoundOff,
    FoundOn,
    FoundText,
    NotRead,
    Origin,
    Reading,
    StateRead,
)
from app.domain.errors import Fault, Refused
from app.domain.new_reports import NewReport
from app.domain.option_judgement import ANY_PRESET
from app.domain.options import OPTIONS
from app.domain.settings_of_alarms import Priority, units_of
from app.exchange.json_text import Path, decode_text, parse
from app.exchange.profile_faults import Complaint, in_words
from app.exchange.profile_json import exact
from app.exchange.reports_csv import WrongCell, moment

MOST_READINGS = 200
MOST_IN_A_LIST = 200
"""Each is taken in by itself, and nobody else can write meanwhile on SQLite; more go in a file."""
Line = Annotated[str, Field(max_length=200)]
Filled = Annotated[str, Field(min_length=1, max_length=200)]
Number = Annotated[float, Field(gt=-1e6, lt=1e6)]


class _Strict(BaseModel):
    model_config = ConfigDict(strict=True, extra="forbid", allow_inf_nan=False)


class ReadingFile(_Strict):
    state: Literal["on", "off", "not-fitted", "could-not-read", "not-read", "text"]
    limit: Number | None = Field(default=None, description="None where the alarm has none.")
    unit: str | None = Field(default=None, description="UCUM; None is the unit that is shown.")
    priority: Literal["high", "medium", "low"] | None = None
    delay_s: Annotated[float, Field(ge=0, lt=1e6)] | None = None
    latching: bool | None = None
    why: Line = Field(default="", description="Why it could not be read.")
    text: Line = Field(default="", description="What an option says that is a word.")

    @property
    def besides(self) -> list[str]:
        """What was given and belongs to an alarm that is on."""
        names = ("limit", "unit", "priority", "delay_s", "latching")
        return [name for name in names if getattr(self, name) is not None]


class ReportFile(_Strict):
    device: Filled
    preset: Filled
    state_read: Literal["power-on", "after-category", "in-use", "stored-preset"]
    read_at: Filled = Field(description="ISO 8601 with a zone, such as 2026-03-01T08:00:00Z")
    readings: Annotated[dict[str, ReadingFile], Field(min_length=1, max_length=MOST_READINGS)] = (
        Field(
            description="By alarm condition, <alarm>.deep for a deep line, or option with preset *"
        )
    )
    reader: Line = ""
    software: Line = ""
    trigger: Line = ""
    minutes_off: Annotated[int, Field(ge=0, lt=10**6)] | None = None
    device_clock: Line = ""


def read_report_list(raw: bytes, *, idempotency_key: str, now: datetime) -> list[NewReport]:
    """A JSON array, or a report a line; each has a key of its own, by its place. Raises Refused
    with every fault of all of them."""
    text = decode_text(raw)
    pieces = _pieces(text)
    if not pieces or len(pieces) > MOST_IN_A_LIST:
        raise Refused.because(f"send 1 to {MOST_IN_A_LIST} reports at once")
    found: list[NewReport] = []
    faults: list[Fault] = []
    for number, (piece, line) in enumerate(pieces, start=1):
        try:
            found.append(_read_text(piece, f"{idempotency_key}#{number}", now))
        except Refused as refused:
            faults += [_in_list(fault, number, line) for fault in refused.faults]
    if faults:
        raise Refused(faults)
    return found


def _pieces(text: str) -> list[tuple[str, int]]:
    """Each with the number of lines above it, or 0 where only its place in the array is known."""
    if text.lstrip().startswith("["):
        return [(json.dumps(one), 0) for one in parse(text).value]
    lines = enumerate(text.splitlines())
    return [(line, number) for number, line in lines if line.strip()]


def _in_list(fault: Fault, number: int, above: int) -> Fault:
    line = None if fault.line is None else fault.line + above
    return Fault(f"report {number}: {fault.reason}", line if above else None, None, fault.value)


def read_report(raw: bytes, *, idempotency_key: str, now: datetime) -> NewReport:
    """Raises Refused with every fault."""
    return _read_text(decode_text(raw), idempotency_key, now)


def _read_text(text: str, idempotency_key: str, now: datetime) -> NewReport:
    placed = parse(text)
    told: list[Complaint] = []
    try:
        checked = ReportFile.model_validate(placed.value)
    except ValidationError as error:
        told = [in_words(placed.value, one) for one in error.errors()]
    else:
        told = list(_complaints(checked, now))
    if told:
        raise Refused(
            [
                placed.fault(path, f"{' / '.join(map(str, path)) or 'the text'}: {reason}", value)
                for path, reason, value in told
            ]
        )
    return _report(checked, idempotency_key)


def _complaints(report: ReportFile, now: datetime) -> Iterator[Complaint]:
    try:
        moment(report.read_at, now)
    except WrongCell as wrong:
        yield ("read_at",), wrong.reason, report.read_at
    if report.preset == ANY_PRESET:
        for key, reading in report.readings.items():
            yield from _option_complaints(key, reading)
    else:
        yield from complaints_of_readings(report.readings)


def _option_complaints(key: str, reading: ReadingFile) -> Iterator[Complaint]:
    path: Path = ("readings", key)
    if key not in OPTIONS:
        yield path, "is no option of a device", key
    if (reading.state == "text") is not bool(reading.text.strip()):
        yield (*path, "text"), "write the word of an option that is one, and only then", None
    for name in reading.besides:
        if name != "limit" or reading.state != "on":
            yield (*path, name), "nothing of this is to be said of this option", None
    yield from _why_complaints(path, reading)


def complaints_of_readings(readings: Mapping[str, ReadingFile]) -> Iterator[Complaint]:
    for alarm, reading in readings.items():
        condition = ALARM_CONDITIONS.get(base_alarm(alarm))
        path: Path = ("readings", alarm)
        if condition is None or (alarm.endswith(DEEP) and not condition.has_threshold):
            yield path, "is no alarm condition", alarm
        else:
            yield from _reading_complaints(path, condition, reading)


def _reading_complaints(
    path: Path, condition: AlarmCondition, reading: ReadingFile
) -> Iterator[Complaint]:
    if reading.state != "on":
        for name in reading.besides:
            yield (
                (*path, name),
                f"nothing of this is to be said of an alarm that is {reading.state}",
                None,
            )
    elif condition.has_threshold is (reading.limit is None):
        what = "needs its limit" if condition.has_threshold else "has no limit"
        yield path, f"this alarm {what}", reading.limit
    if reading.unit is not None and reading.unit not in units_of(condition):
        known = ", ".join(units_of(condition)) or "left out"
        yield (*path, "unit"), f"must be {known}", reading.unit
    if reading.state == "text" or reading.text:
        yield (*path, "text"), "only an option is a word", None
    yield from _why_complaints(path, reading)


def _why_complaints(path: Path, reading: ReadingFile) -> Iterator[Complaint]:
    if (reading.state == "could-not-read") is not bool(reading.why.strip()):
        yield (*path, "why"), "say why if it could not be read, and only then", reading.why


def _report(checked: ReportFile, idempotency_key: str) -> NewReport:
    return NewReport(
        device=checked.device,
        preset=checked.preset,
        state_read=StateRead(checked.state_read),
        readings={alarm: reading_of(one) for alarm, one in checked.readings.items()},
        read_at=datetime.fromisoformat(checked.read_at).astimezone(UTC),
        idempotency_key=idempotency_key,
        software=checked.software,
        trigger=checked.trigger,
        minutes_off=checked.minutes_off,
        reader=checked.reader,
        device_clock=checked.device_clock,
        origin=Origin.API,
    )


def reading_of(one: ReadingFile) -> Reading:
    if one.state == "could-not-read":
        return CouldNotRead(one.why.strip())
    if one.state == "text":
        return FoundText(one.text.strip())
    if one.state != "on":
        return _INSTEAD[one.state]
    return FoundOn(
        None if one.limit is None else exact(one.limit),
        one.unit,
        Priority(one.priority) if one.priority else None,
        None if one.delay_s is None else exact(one.delay_s),
        one.latching,
    )


_INSTEAD: dict[str, Reading] = {
    "off": FoundOff(),
    "not-fitted": FoundNotFitted(),
    "not-read": NotRead(),
}
