"""What an agency decides for itself about checking devices; defaults are common practice."""

from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass, fields
from datetime import timedelta
from typing import Any, Self

from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.domain.errors import Fault, Refused

MOST_CRITICAL = 40
_MOST_HOURS = 24 * 366


@dataclass(frozen=True, kw_only=True)
class AgencyChoices:
    """`critical_alarms`: read at every check, empty: every alarm that the policy sets on or off.

    Hours run from the opening of a finding: `looser` for what is off protocol toward fewer alarms,
    `tighter` for the rest. `whole_reading_percent`: of how many checks the whole preset is asked.
    `copy_hours`: how old the limits on a phone may grow before it says so.
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
        unknown = [alarm for alarm in self.critical_alarms if alarm not in ALARM_CONDITIONS]
        for alarm in unknown:
            yield Fault("there is no such alarm condition", column="critical_alarms", value=alarm)
        if len(self.critical_alarms) > MOST_CRITICAL:
            yield Fault(f"choose at most {MOST_CRITICAL}", column="critical_alarms")

    @property
    def check_interval(self) -> timedelta:
        return timedelta(days=self.check_interval_days)

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
        alarms = tuple(kept.get("critical_alarms", ()))
        known = {field.name for field in fields(cls)}
        return cls(**{n: v for n, v in kept.items() if n in known} | {"critical_alarms": alarms})


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
}
