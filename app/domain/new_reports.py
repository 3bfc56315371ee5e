"""A device report as it comes in, before it is judged."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.domain.comparison import base_alarm
from app.domain.device_reports import CouldNotRead, FoundOn, NotRead, Origin, Reading, StateRead
from app.domain.errors import Fault, Refused
from app.domain.option_judgement import ANY_PRESET, option_faults


@dataclass(frozen=True)
class NewReport:
    """Readings of one preset of one device at one time, by alarm (`.deep` for a deep line).

    `idempotency_key` is made where the report is made: the same key is the same report, however
    often it is sent. `minutes_off`: how long the device had been without power, None if unknown.
    `reader` and `device_clock` are told by files and programs: who read it, what its clock showed.
    """

    device: str
    preset: str
    state_read: StateRead
    readings: Mapping[str, Reading]
    read_at: datetime
    idempotency_key: str
    software: str = ""
    trigger: str = ""
    minutes_off: int | None = None
    reader: str = ""
    device_clock: str = ""
    origin: Origin = Origin.FORM


def check_report(report: NewReport, *, now: datetime) -> None:
    faults = [*_faults_of_the_whole(report, now), *_faults_of_readings(report)]
    if faults:
        raise Refused(faults)


def _faults_of_the_whole(report: NewReport, now: datetime) -> list[Fault]:
    faults = []
    if report.read_at.tzinfo is None:
        faults.append(Fault("give the time with its zone", column="read_at"))
    elif report.read_at > now:
        faults.append(Fault("this time is still to come", column="read_at"))
    if report.minutes_off is not None and report.minutes_off < 0:
        faults.append(Fault("this cannot be negative", column="minutes_off"))
    if all(isinstance(reading, NotRead) for reading in report.readings.values()):
        faults.append(Fault("nothing was read", column="readings"))
    return faults


def _faults_of_readings(report: NewReport) -> list[Fault]:
    if report.preset == ANY_PRESET:
        return list(option_faults(report.readings))
    faults = []
    for alarm, reading in report.readings.items():
        condition = ALARM_CONDITIONS.get(base_alarm(alarm))
        if condition is None:
            faults.append(Fault("there is no such alarm condition", column=alarm, value=alarm))
        elif isinstance(reading, FoundOn) and not _is_limit_of(
            reading, has=condition.has_threshold
        ):
            faults.append(Fault("this is no limit of this alarm", column=alarm))
        elif isinstance(reading, CouldNotRead) and not reading.why.strip():
            faults.append(Fault("say why it could not be read", column=alarm))
    return faults


def _is_limit_of(found: FoundOn, *, has: bool) -> bool:
    """An event without a threshold is on, and that is all."""
    return found.limit is None or (has and found.limit.is_finite())
