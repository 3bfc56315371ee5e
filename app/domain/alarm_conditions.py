"""What can sound: two limits a vital sign, and the events. One row each, everywhere."""

from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from app.domain.vital_signs import VITAL_SIGNS, VitalSign

Side = Literal["low", "high"]


@dataclass(frozen=True)
class AlarmCondition:
    """`looser` is the direction in which a threshold alarms less; None: there is no threshold."""

    key: str
    label: str
    unit: str | None  # UCUM
    shown: str
    step: Decimal
    least: Decimal
    most: Decimal
    looser: Literal["down", "up"] | None
    vital_sign: VitalSign | None = None
    side: Side = "high"
    mdc: int | None = None  # IEEE 11073-10101 event code, where verified

    def __str__(self) -> str:
        return self.key

    @property
    def has_threshold(self) -> bool:
        return self.looser is not None

    @property
    def quantity(self) -> str:
        """The name under which outer bounds judge it: its vital sign, or the event itself."""
        return self.vital_sign.key if self.vital_sign else self.key


def _limit(vital: VitalSign, side: Side) -> AlarmCondition:
    return AlarmCondition(
        key=f"{vital.key}-{side}",
        label=f"{vital.label} {side}",
        unit=vital.unit,
        shown=vital.shown,
        step=vital.step,
        least=vital.least,
        most=vital.most,
        looser="down" if side == "low" else "up",
        vital_sign=vital,
        side=side,
    )


def _event(key: str, label: str, mdc: int | None = None) -> AlarmCondition:
    zero = Decimal(0)
    return AlarmCondition(key, label, None, "", Decimal(1), zero, zero, None, mdc=mdc)


def _timed(key: str, label: str, unit: str, most: int, mdc: int | None = None) -> AlarmCondition:
    reach = (Decimal(1), Decimal(1), Decimal(most))
    return AlarmCondition(key, label, unit, unit, *reach, "up", mdc=mdc)


_EVENTS = (
    _event("asystole", "Asystole", 199684),
    _event("ventricular-fibrillation", "Ventricular fibrillation"),
    _event("ventricular-tachycardia", "Ventricular tachycardia"),
    _timed("apnoea", "Apnoea", "s", 120, 199680),
    _timed("airway-apnoea", "Airway apnoea", "s", 120),
    _event("irregular-heart-rate", "Irregular heart rate", 199766),
    _timed("vpc-rate", "VPC rate", "/min", 60, 148066),
    _event("failure-to-capture", "Failure to capture"),
    _event("failure-to-pace", "Failure to pace"),
    _event("lead-disconnected", "Lead disconnected"),
    _event("no-pulsatile-signal", "No pulsatile signal"),
    _event("no-co2-sampling", "No CO₂ sampling"),
)
SIDES: tuple[Side, Side] = ("low", "high")

ALARM_CONDITIONS: dict[str, AlarmCondition] = {
    **{
        row.key: row
        for vital in VITAL_SIGNS.values()
        for row in (_limit(vital, side) for side in SIDES)
    },
    **{row.key: row for row in _EVENTS},
}


def limits_of(vital_sign: str) -> tuple[AlarmCondition, AlarmCondition]:
    return ALARM_CONDITIONS[f"{vital_sign}-low"], ALARM_CONDITIONS[f"{vital_sign}-high"]
