"""One reading of one preset: begun with a reason, looked at once or more, settled."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from app.domain.agency_choices import AgencyChoices
from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.domain.comparison import DEEP, base_alarm
from app.domain.device_reports import Origin, StateRead
from app.domain.double_reading import DECOYS, WITHIN, NextLook
from app.domain.errors import Fault, Refused
from app.domain.fleet import covering_alarms, critical_of, stated_alarms
from app.domain.options import OPTIONS
from app.domain.people import Person, Role
from app.domain.profiles import Profile
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
    def asked_again(self) -> frozenset[str]:
        """Alarms for which one look was not enough, and those that were mixed with them."""
        return frozenset(alarm for look in self.looks[1:] for alarm in look.wanted.asked)

    @property
    def lapses_at(self) -> datetime:
        first = self.looks[0].read_at
        return (self.opened_at if first is None else first) + WITHIN

    def is_late(self, now: datetime) -> bool:
        return self.status is ReadingStatus.WAITING and now > self.lapses_at


def asked_at_first(
    rendered: RenderedPreset, choices: AgencyChoices, *, whole: bool, also: Collection[str] = ()
) -> tuple[str, ...]:
    """The critical set with what may cover for it, and after it the others where the whole preset
    is read; low before high, and the deep line after its alarm. `also`: further lines."""
    chosen = critical_of(rendered, choices)
    critical = _in_order([*chosen, *covering_alarms(rendered, chosen)])
    others = [a for a in _in_order(stated_alarms(rendered)) if whole and a not in critical]
    known = [*critical, *others]
    lines = [line for alarm in known for line in _lines(rendered, alarm, also)]
    return (*lines, *_in_order([line for line in also if base_alarm(line) not in known]))


def options_asked(profile: Profile, also: Collection[str] = ()) -> tuple[str, ...]:
    """All that the policy states, and further ones of which a finding stands."""
    return tuple(key for key in OPTIONS if key in profile.options or key in also)


def _lines(rendered: RenderedPreset, alarm: str, also: Collection[str]) -> tuple[str, ...]:
    setting = rendered.settings[alarm]
    deep = isinstance(setting, On) and setting.deep is not None
    return (alarm, alarm + DEEP) if deep or alarm + DEEP in also else (alarm,)


def asked_closely(asked: Sequence[str], wanted: Collection[str], die: int) -> frozenset[str]:
    """Those of which a finding wants it, and others that the die picks, so that nobody is told
    which of them it is about."""
    about = [alarm for alarm in asked if alarm in wanted]
    if not about:
        return frozenset()
    others = [alarm for alarm in asked if alarm not in wanted and not alarm.endswith(DEEP)]
    turned = [others[(die + place) % len(others)] for place in range(min(DECOYS, len(others)))]
    return frozenset([*about, *turned])


def _in_order(alarms: Collection[str]) -> list[str]:
    order = {key: place for place, key in enumerate(ALARM_CONDITIONS)}
    return sorted(alarms, key=lambda alarm: (order[base_alarm(alarm)], alarm))


def origin_of(person: Person, trigger: Trigger, *, seen: bool = False) -> Origin:
    """Whoever has no other role than crew, and was not asked, sends it in by themselves; a shift
    check is always such a one. `seen`: it is known to be no blind one."""
    if seen:
        return Origin.SEEN
    alone = person.roles == {Role.CREW} and not trigger.asked_for
    return Origin.CREW if alone or trigger.is_brief else Origin.FORM
