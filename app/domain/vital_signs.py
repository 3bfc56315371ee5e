"""What is measured: one row a vital sign, with unit, step, plausible range and codes.

The plausible range says which limits could be meant at all (common practice); a limit outside
it is a slip of the pen. Codes are carried only where two independent public sources agree
(grade V2) or an authoritative one states them (V1); None where none could be verified.
"""

from dataclasses import dataclass
from decimal import Decimal

MMHG_PER_KPA = Decimal("7.50062")  # 1 mmHg = 133.322 Pa (SI brochure, conventional millimetre)


@dataclass(frozen=True)
class VitalSign:
    """`unit` is UCUM, `shown` what people read; step and range are in that unit."""

    key: str
    label: str
    unit: str
    shown: str
    step: Decimal
    least: Decimal
    most: Decimal
    loinc: str | None
    mdc: int | None  # IEEE 11073-10101, 32-bit code
    intermittent: bool = False

    def __str__(self) -> str:
        return self.key


def _row(
    key: str,
    label: str,
    unit: tuple[str, str],
    reach: tuple[str, str, str],
    codes: tuple[str | None, int | None],
) -> VitalSign:
    step, least, most = (Decimal(number) for number in reach)
    return VitalSign(
        key, label, *unit, step, least, most, *codes, intermittent=key.startswith("nibp-")
    )


_RATE, _SHARE = ("/min", "/min"), ("%", "%")
_PRESSURE, _CELSIUS = ("mm[Hg]", "mmHg"), ("Cel", "°C")

VITAL_SIGNS: dict[str, VitalSign] = {
    row.key: row
    for row in (
        _row("heart-rate", "Heart rate", _RATE, ("1", "10", "350"), ("8867-4", 147842)),
        _row("pulse-rate", "Pulse rate", _RATE, ("1", "10", "350"), (None, 149530)),
        _row("spo2", "SpO₂", _SHARE, ("1", "40", "100"), ("59408-5", 150456)),
        _row("respiratory-rate", "Respiratory rate", _RATE, ("1", "1", "180"), ("9279-1", 151578)),
        _row(
            "airway-respiratory-rate",
            "Airway respiratory rate",
            _RATE,
            ("1", "1", "180"),
            ("76172-6", None),
        ),
        _row("etco2", "EtCO₂", _PRESSURE, ("1", "1", "150"), ("19891-1", 151708)),
        _row("inspired-co2", "Inspired CO₂", _PRESSURE, ("1", "0", "75"), (None, 151716)),
        _row("nibp-systolic", "NIBP systolic", _PRESSURE, ("1", "20", "300"), ("76534-7", 150021)),
        _row(
            "nibp-diastolic", "NIBP diastolic", _PRESSURE, ("1", "10", "250"), ("76535-4", 150022)
        ),
        _row("nibp-mean", "NIBP mean", _PRESSURE, ("1", "10", "275"), ("76536-2", 150023)),
        _row("ibp-systolic", "IBP systolic", _PRESSURE, ("1", "10", "350"), ("76215-3", 150037)),
        _row("ibp-diastolic", "IBP diastolic", _PRESSURE, ("1", "5", "300"), ("76213-8", 150038)),
        _row("ibp-mean", "IBP mean", _PRESSURE, ("1", "5", "325"), ("76214-6", 150039)),
        _row("temperature", "Temperature", _CELSIUS, ("0.1", "20", "45"), ("8310-5", 150364)),
    )
}

# Alarms of one group guard the same danger by another sensor; the first name's bounds judge it.
GROUPS: tuple[tuple[str, ...], ...] = (
    ("heart-rate", "pulse-rate"),
    ("respiratory-rate", "airway-respiratory-rate"),
    ("nibp-systolic", "nibp-mean", "ibp-systolic", "ibp-mean"),
)
_JUDGED_AS = {
    "pulse-rate": "heart-rate",
    "airway-respiratory-rate": "respiratory-rate",
    "ibp-systolic": "nibp-systolic",
    "ibp-mean": "nibp-mean",
}


def judged_as(key: str) -> str:
    """The vital sign whose bounds and published ranges hold for this one."""
    return _JUDGED_AS.get(key, key)


def group_of(key: str) -> tuple[str, ...]:
    return next((group for group in GROUPS if key in group), (key,))
