"""Settings, ages and times in the words of a paper."""

from collections.abc import Iterator
from datetime import UTC, datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

from app.domain.alarm_conditions import AlarmCondition
from app.domain.options import OPTIONS, OptionValue
from app.domain.settings_of_alarms import DeepLine, Latitude, On, Setting, show_number
from app.domain.written_limits import shown_unit

BLANK = "left blank"
_OFF_BY = {"nobody": "nobody", "crew": "crew", "medical-control": "medical control"}


def moment(at: datetime, zone: str) -> str:
    """`2 March 2026, 09:00 GMT (09:00 UTC)`: the agency's own time first."""
    local, universal = at.astimezone(ZoneInfo(zone)), at.astimezone(UTC)
    same_day = local.date() == universal.date()
    in_utc = f"{universal:%H:%M}" if same_day else f"{universal.day} {universal:%b, %H:%M}"
    return f"{local.day} {local:%B %Y, %H:%M} {local.tzname()} ({in_utc} UTC)"


def day(at: datetime, zone: str) -> str:
    local = at.astimezone(ZoneInfo(zone))
    return f"{local.day} {local:%B %Y}"


def state(setting: Setting | None) -> str:
    """Of a setting that is not on; off is told in capitals, as nobody may miss it."""
    if setting is None:
        return BLANK
    return "OFF" if setting.state == "off" else setting.state.replace("-", " ")


def side(alarm: AlarmCondition) -> str:
    if alarm.vital_sign is None:
        return "after" if alarm.shown == "s" else "above"
    return "below" if alarm.side == "low" else "above"


def limit(setting: On, alarm: AlarmCondition) -> str:
    """`below 90 /min`; `on` for an alarm without a threshold."""
    if setting.limit is None:
        return "on"
    return f"{side(alarm)} {show_number(setting.limit)} {unit(setting.unit, alarm)}"


def deep_line(setting: On, alarm: AlarmCondition) -> str:
    """Empty where there is none."""
    if setting.deep is None:
        return ""
    return ", ".join(_deep(setting, setting.deep, alarm))


def _deep(setting: On, deep: DeepLine, alarm: AlarmCondition) -> Iterator[str]:
    written = unit(deep.unit or setting.unit, alarm)
    yield f"{side(alarm)} {show_number(deep.limit)} {written}"
    yield BLANK if deep.priority is None else deep.priority.value
    yield delay(deep.delay_s)


def delay(seconds: Decimal | None) -> str:
    if seconds is None:
        return BLANK
    return f"{show_number(seconds)} s" if seconds else "at once"


def latching(value: bool | None) -> str:  # noqa: FBT001 - a setting's own value
    return BLANK if value is None else "yes" if value else "no"


def latitude(given: Latitude | None) -> str:
    """What a crew may change for one patient."""
    if given is None:
        return "none"
    off = f"off by {_OFF_BY.get(given.off_by, given.off_by)}"
    if given.start is None or given.end is None:
        return off
    return f"{show_number(given.start)}–{show_number(given.end)}, {off}"


def whole(setting: Setting, alarm: AlarmCondition) -> str:
    """Everything that a device holds of it, in one line."""
    if not isinstance(setting, On):
        return state(setting)
    priority = BLANK if setting.priority is None else f"{setting.priority} priority"
    parts = [limit(setting, alarm), priority, delay(setting.delay_s)]
    parts += ["latching"] if setting.latching else []
    parts += [f"deep line {deep_line(setting, alarm)}"] if setting.deep else []
    return ", ".join(parts)


def unit(written: str | None, alarm: AlarmCondition) -> str:
    return shown_unit(written) if written else alarm.shown


def option(key: str, value: OptionValue) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, Decimal):
        return f"{show_number(value)} {OPTIONS[key].unit}".strip()
    return shown_unit(value)
