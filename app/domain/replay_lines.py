"""Which lines of a policy can be replayed against a recording, and which cannot."""

from collections.abc import Sequence, Set
from dataclasses import dataclass, replace

from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.domain.comparison import DEEP
from app.domain.profiles import Profile, Settings
from app.domain.settings_of_alarms import On, lines_of
from app.domain.trends import Line
from app.domain.vital_signs import VITAL_SIGNS

NIBP_INTERVAL = "nibp-interval-min"


def lines_to_replay(settings: Settings, recorded: Set[str]) -> tuple[list[Line], list[str]]:
    """(lines, alarms that are on but that the recording cannot sound)."""
    lines: list[Line] = []
    left_out: list[str] = []
    for key, alarm in ALARM_CONDITIONS.items():
        setting = settings.get(key)
        if not isinstance(setting, On):
            continue
        vital = alarm.vital_sign
        if vital is None or vital.key not in recorded:
            left_out.append(key)
            continue
        for name, (limit, delay) in zip((key, key + DEEP), lines_of(setting, alarm), strict=False):
            lines.append(
                Line(name, vital.key, alarm.side, float(limit), float(delay), vital.intermittent)
            )
    return lines, left_out


@dataclass(frozen=True)
class Habits:
    """What a monitor does besides the lines of a policy; nothing unless it is asked for.

    `acknowledged_after_s`: how long an alarm that the policy latches goes unacknowledged.
    """

    averaging_s: float = 0.0
    hysteresis_steps: int = 0
    acknowledged_after_s: float = 0.0


def with_habits(lines: Sequence[Line], settings: Settings, habits: Habits) -> list[Line]:
    return [
        replace(
            line,
            averaging_s=habits.averaging_s,
            hysteresis=habits.hysteresis_steps * float(VITAL_SIGNS[line.vital_sign].step),
            acknowledged_after_s=habits.acknowledged_after_s if _latches(line, settings) else 0.0,
        )
        for line in lines
    ]


def _latches(line: Line, settings: Settings) -> bool:
    setting = settings.get(line.alarm.removesuffix(DEEP))
    return isinstance(setting, On) and setting.latching is True


def nibp_interval_s(profile: Profile) -> float | None:
    minutes = profile.number_option(NIBP_INTERVAL)
    return None if minutes is None else float(minutes) * 60
