"""One reading of one preset: begun with a reason, looked at once or more, settled."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from app.domain.agency_choices import AgencyChoices
from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.domain.comparison import DEEP, base_alarm
from app.domain.device_reports import Origin, StateRead
from app.domain.double_reading import WITHIN, NextLook
from app.domain.errors import Fault, Refused
from app.domain.fleet import critical_of, stated_alarms
from app.domain.people import Person, Role
from app.domain.rendering import RenderedPreset
from app.domain.settings_of_alarms import On
from app.domain.triggers import Trigger


class ReadingStatus(StrEnum):
    """`LAPSED`: the next look was not made in time, so nothing was settled."""

    WAITING = "waiting"
    SETTLED = "settled"
    LAPSED = "lapsed"


@dataclass(frozen=True)
class NewReading:
    """`key` is made where the form is made: the same key is the same reading."""

    device: str
    preset: str
    state_read: StateRead
    trigger: Trigger
    software: str
    key: str
    minutes_off: int | None = None
    device_clock: str = ""


def check_new_reading(new: NewReading) -> None:
    faults = []
    if not new.software:
        faults.append(Fault("write the software version that the device shows", column="software"))
    if new.minutes_off is not None and new.minutes_off < 0:
        faults.append(Fault("this cannot be negative", column="minutes_off"))
    if not new.key:
        faults.append(Fault("this must not be empty", column="key"))
    if faults:
        raise Refused(faults)


@dataclass(frozen=True)
class LockedLook:
    """`reader` and `report` None: the look is wanted and nobody has made it yet."""

    wanted: NextLook
    report: int | None = None
    reader_id: int | None = None
    reader: str = ""
    read_at: datetime | None = None


@dataclass(frozen=True)
class ReadingSession:
    """`die`: 0 to 99; the whole preset is asked where it fell below the agency's percentage.

    `telling` is the report that says what the reading found; None while that is in doubt.
    """

    id: int
    device: str
    preset: str
    state_read: StateRead
    trigger: Trigger
    software: str
    minutes_off: int | None
    device_clock: str
    die: int
    whole: bool
    opened_by: int
    opener: str
    opened_at: datetime
    status: ReadingStatus
    telling: int | None
    looks: tuple[LockedLook, ...]

    @property
    def wanted(self) -> NextLook | None:
        """The look that somebody has to make."""
        last = self.looks[-1]
        waits = self.status is ReadingStatus.WAITING and last.report is None
        return last.wanted if waits else None

    @property
    def lapses_at(self) -> datetime:
        first = self.looks[0].read_at
        return (self.opened_at if first is None else first) + WITHIN

    def is_late(self, now: datetime) -> bool:
        return self.status is ReadingStatus.WAITING and now > self.lapses_at


def asked_at_first(
    rendered: RenderedPreset, choices: AgencyChoices, *, whole: bool
) -> tuple[str, ...]:
    """The critical set, and after it the others where the whole preset is read; low before high,
    and the deep line after its alarm."""
    critical = _in_order(critical_of(rendered, choices))
    others = [a for a in _in_order(stated_alarms(rendered)) if whole and a not in critical]
    return tuple(line for alarm in [*critical, *others] for line in _lines(rendered, alarm))


def _lines(rendered: RenderedPreset, alarm: str) -> tuple[str, ...]:
    setting = rendered.settings[alarm]
    deep = isinstance(setting, On) and setting.deep is not None
    return (alarm, alarm + DEEP) if deep else (alarm,)


def _in_order(alarms: Sequence[str]) -> list[str]:
    order = {key: place for place, key in enumerate(ALARM_CONDITIONS)}
    return sorted(alarms, key=lambda alarm: order[base_alarm(alarm)])


def origin_of(person: Person, trigger: Trigger) -> Origin:
    """Whoever has no other role than crew, and was not asked, sends it in by themselves."""
    alone = person.roles == {Role.CREW} and not trigger.asked_for
    return Origin.CREW if alone else Origin.FORM
