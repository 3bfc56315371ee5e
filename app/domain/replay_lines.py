"""Which lines of a policy can be replayed against a recording, and which cannot."""

from collections.abc import Set

from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.domain.comparison import DEEP
from app.domain.profiles import Profile, Settings
from app.domain.replay import Line
from app.domain.settings_of_alarms import On, lines_of

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


def nibp_interval_s(profile: Profile) -> float | None:
    minutes = profile.number_option(NIBP_INTERVAL)
    return None if minutes is None else float(minutes) * 60
