"""What a policy says of one alarm condition: exactly one of on, off, not-fitted, no-policy.

A limit is kept as written, unit included; `None` for priority, delay or latching means that
the document leaves it out, which a draft may and a signed revision may not.
"""

from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_HALF_UP, Decimal
from enum import StrEnum

from app.domain.alarm_conditions import AlarmCondition
from app.domain.vital_signs import MMHG_PER_KPA


class Priority(StrEnum):
    HIGH = "high"
    MEDIUM = "medium"
    LOW = "low"

    @property
    def rank(self) -> int:
        """0 is the most urgent."""
        return ("high", "medium", "low").index(self.value)


_FACTORS = {("kPa", "mm[Hg]"): MMHG_PER_KPA, ("mm[Hg]", "kPa"): 1 / MMHG_PER_KPA}
UNIT_STEPS = {"kPa": Decimal("0.1")}


def convert(value: Decimal, unit: str, to: str) -> Decimal:
    """Raises ValueError where the units measure different things."""
    if unit == to:
        return value
    if {unit, to} == {"Cel", "[degF]"}:
        fahrenheit = value * 9 / 5 + 32
        return fahrenheit if to == "[degF]" else (value - 32) * 5 / 9
    try:
        return value * _FACTORS[unit, to]
    except KeyError:
        raise ValueError(f"{unit} cannot be turned into {to}") from None


def units_of(condition: AlarmCondition) -> tuple[str, ...]:
    """The units in which a limit of this alarm may be written."""
    others = {"mm[Hg]": ("mm[Hg]", "kPa"), "Cel": ("Cel", "[degF]")}
    return () if condition.unit is None else others.get(condition.unit, (condition.unit,))


def round_to(value: Decimal, step: Decimal, rounding: str = ROUND_HALF_UP) -> Decimal:
    return (value / step).quantize(Decimal(1), rounding=rounding) * step


def toward_earlier_alarm(value: Decimal, step: Decimal, condition: AlarmCondition) -> Decimal:
    """Low limits go up, high limits and times go down to the step."""
    rounding = ROUND_CEILING if condition.looser == "down" else ROUND_FLOOR
    return round_to(value, step, rounding)


@dataclass(frozen=True)
class DeepLine:
    """A second, further limit with its own priority and delay."""

    limit: Decimal
    priority: Priority | None = None
    delay_s: Decimal | None = None
    unit: str | None = None


@dataclass(frozen=True)
class Latitude:
    """What a crew may change for one patient; `off_by` is nobody, crew or medical-control."""

    start: Decimal | None = None
    end: Decimal | None = None
    off_by: str = "nobody"


@dataclass(frozen=True)
class On:
    limit: Decimal | None
    priority: Priority | None = None
    delay_s: Decimal | None = None
    latching: bool | None = None
    deep: DeepLine | None = None
    latitude: Latitude | None = None
    unit: str | None = None
    reason: str = ""
    source: str = ""

    state = "on"

    def limit_in(self, unit: str | None) -> Decimal | None:
        """The limit in `unit`, unrounded."""
        if self.limit is None or unit is None or self.unit is None:
            return self.limit
        return convert(self.limit, self.unit, unit)


@dataclass(frozen=True)
class Off:
    reason: str = ""
    source: str = ""
    latitude: Latitude | None = None

    state = "off"


@dataclass(frozen=True)
class NotFitted:
    reason: str = ""
    source: str = ""

    state = "not-fitted"


@dataclass(frozen=True)
class NoPolicy:
    reason: str = ""
    source: str = ""

    state = "no-policy"


Setting = On | Off | NotFitted | NoPolicy


def lines_of(setting: On, condition: AlarmCondition) -> list[tuple[Decimal, Decimal]]:
    """The (limit, delay in s) of every line that can sound, in the alarm's own unit."""
    found: list[tuple[Decimal, Decimal]] = []
    limit = setting.limit_in(condition.unit)
    if limit is not None:
        found.append((limit, setting.delay_s or Decimal(0)))
    if setting.deep is not None:
        unit = setting.deep.unit or setting.unit or condition.unit
        deep = (
            convert(setting.deep.limit, unit, condition.unit)
            if unit and condition.unit
            else (setting.deep.limit)
        )
        found.append((deep, setting.deep.delay_s or Decimal(0)))
    return found


def show_number(value: Decimal) -> str:
    """No trailing zeros, no exponent."""
    text = format(value, "f")
    return text.rstrip("0").rstrip(".") if "." in text else text


def as_number(value: Decimal) -> int | float:
    """The JSON number: an integer where it is whole."""
    return int(value) if value == value.to_integral_value() else float(value)
