"""What an agency decides for itself about checking devices; defaults are common practice."""

from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass, fields
from datetime import timedelta
from typing import Any, Self

from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.domain.errors import Fault, Refused
from app.domain.plain_text import is_printable
from app.domain.shift_questions import QUESTIONS

MOST_CRITICAL = 40
MOST_AT_SHIFT = 8
"""Each takes five seconds or so, common practice; a check that is longer is skipped."""
AT_SHIFT = (
    "heart-rate-low",
    "heart-rate-high",
    "spo2-low",
    "spo2-high",
    "respiratory-rate-low",
    "apnoea",
)
_LONGEST_NAME = 60
_MOST_HOURS = 24 * 366


@dataclass(frozen=True, kw_only=True)
class AgencyChoices:
    """`critical_alarms`: read at every check, empty: every alarm that the policy sets on or off.

    Hours run from the opening of a finding: `looser` for what is off protocol toward fewer alarms,
    `tighter` for the rest. `whole_reading_percent`: of how many checks the whole preset is asked.
    `copy_hours`: how old the limits on a phone may grow before it says so. `shift_hours`: how
    often a device in service is to have its shift check, which asks `shift_alarms` and
    `shift_questions`; `shift_tell`: whom a crew tells of what is unsafe.
    """

    critical_alarms: tuple[str, ...] = ()
    check_interval_days: int = 90
    changeover_days: int = 30
    most_changed_days: int = 7
    unsafe_contain_hours: int = 1
    unsafe_verify_hours: int = 24
    looser_contain_hours: int = 12
    looser_verify_hours: int = 7 * 24
    tighter_verify_hours: int = 30 * 24
    whole_reading_percent: int = 10
    copy_hours: int = 24
    shift_hours: int = 24
    shift_alarms: tuple[str, ...] = AT_SHIFT
    shift_questions: tuple[str, ...] = tuple(one.value for one in QUESTIONS)
    shift_tell: str = "the fleet manager"

    def __post_init__(self) -> None:
        faults = [*self._faults()]
        if faults:
            raise Refused(faults)

    def _faults(self) -> Iterator[Fault]:
        for name, (least, most) in _REACH.items():
            if not least <= getattr(self, name) <= most:
                yield Fault(f"choose {least} to {most}", column=name, value=getattr(self, name))
        if self.most_changed_days > self.changeover_days:
            yield Fault("most cannot be later than all", column="most_changed_days")
        for kind in ("unsafe", "looser"):
            if getattr(self, f"{kind}_contain_hours") > getattr(self, f"{kind}_verify_hours"):
                yield Fault("containing comes before verifying", column=f"{kind}_contain_hours")
        yield from _faults_of_alarms("critical_alarms", self.critical_alarms, MOST_CRITICAL)
        yield from self._faults_of_shift()

    def _faults_of_shift(self) -> Iterator[Fault]:
        yield from _faults_of_alarms("shift_alarms", self.shift_alarms, MOST_AT_SHIFT)
        if not self.shift_alarms:
            yield Fault("choose one at least", column="shift_alarms")
        for question in self.shift_questions:
            if question not in tuple(QUESTIONS):
                yield Fault("there is no such question", column="shift_questions", value=question)
        told = self.shift_tell
        if not told.strip() or len(told) > _LONGEST_NAME or not is_printable(told):
            yield Fault(f"write 1 to {_LONGEST_NAME} letters", column="shift_tell")

    @property
    def check_interval(self) -> timedelta:
        return timedelta(days=self.check_interval_days)

    @property
    def shift(self) -> timedelta:
        return timedelta(hours=self.shift_hours)

    @property
    def changeover(self) -> timedelta:
        return timedelta(days=self.changeover_days)

    def is_critical(self, alarm: str) -> bool:
        return not self.critical_alarms or alarm in self.critical_alarms

    def kept(self) -> dict[str, Any]:
        """As it is stored: only what differs from the default."""
        default = asdict(AgencyChoices())
        return {name: value for name, value in asdict(self).items() if value != default[name]}

    @classmethod
    def of(cls, kept: Mapping[str, Any]) -> Self:
        known = {field.name for field in fields(cls)}
        found: dict[str, Any] = {
            name: tuple(value) if isinstance(value, list) else value
            for name, value in kept.items()
            if name in known
        }
        return cls(**found)


def _faults_of_alarms(column: str, alarms: tuple[str, ...], most: int) -> Iterator[Fault]:
    for alarm in alarms:
        if alarm not in ALARM_CONDITIONS:
            yield Fault("there is no such alarm condition", column=column, value=alarm)
    if len(alarms) > most:
        yield Fault(f"choose at most {most}", column=column)


_REACH = {
    "check_interval_days": (1, 366),
    "changeover_days": (1, 366),
    "most_changed_days": (1, 366),
    "unsafe_contain_hours": (1, _MOST_HOURS),
    "unsafe_verify_hours": (1, _MOST_HOURS),
    "looser_contain_hours": (1, _MOST_HOURS),
    "looser_verify_hours": (1, _MOST_HOURS),
    "tighter_verify_hours": (1, _MOST_HOURS),
    "whole_reading_percent": (0, 100),
    "copy_hours": (1, 24 * 30),
    "shift_hours": (4, 24 * 7),
}
