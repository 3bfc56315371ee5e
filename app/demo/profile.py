"""The invented agency's policy: five categories, every alarm condition stated, as one table.

A row is one alarm from the youngest category to the oldest. A number is a limit, `ON` an alarm
without a threshold, a text the reason for which the alarm is off.
"""

from dataclasses import dataclass
from typing import Any

from app.demo.circumstances import CIRCUMSTANCES
from app.demo.models import MODELS
from app.demo.options import OPTIONS

AGENCY = "Skerry Isles Ambulance"
ON = "on"
_BANDS = (
    ("neonate", "Neonate", "0 d", "28 d"),
    ("infant", "Infant", "28 d", "1 y"),
    ("young-child", "Young child", "1 y", "5 y"),
    ("child", "Child", "5 y", "13 y"),
    ("adult", "Adult", "13 y", None),
)
KEYS = tuple(key for key, *_ in _BANDS)

Cell = int | float | str


@dataclass(frozen=True)
class _Row:
    alarm: str
    cells: tuple[Cell, ...]
    priority: str
    delay_s: int
    reason: str
    source: str
    deep: tuple[int, ...] = ()
    latitude: tuple[tuple[int, int], ...] = ()


PRACTICE = "common practice"
FLEMING = "Fleming 2011, Lancet 377:1011-8 (children); common practice (13 y and over)"
PEWS = "National PEWS England 2023 (children); common practice (13 y and over)"
PALS = "AHA PALS hypotension (children); common practice (13 y and over)"
PHOENIX = "Phoenix 2024 (children); Surviving Sepsis Campaign 2021, from memory (13 y and over)"
BREATH = "Fleming 2011, Lancet 377:1011-8 (children); medical emergency team criteria (adults)"

_SLOW = "Near the 1st centile of healthy children, and never beyond the outer bound"
_FAST = "Sounds before a rate at which an arrhythmia is likely, above most crying children"
_ARREST = "An arrest must never pass unannounced"
_NO_TARGET = "No upper oxygen target at this age; the crew titrates to the low limit"
_HIGH_PRESSURE = "Pain and transport raise it; the crew reads the value at every cycle"
_EVERY_BREATH = "A sinus arrhythmia is normal in children and would sound all day"
_NO_PACING = "Transcutaneous pacing is not used below 13 y on the road"
_NO_LOW_CO2 = "A low inspired value is what is wanted"
_NO_LINES = "No invasive pressure on our devices: transfers bring the hospital's own monitor"
_ECTOPY = "Rare ventricular complexes need no action in a child on the road"

_HEART_LOW = (100, 90, 75, 60, 45)
_HEART_HIGH = (200, 180, 170, 150, 140)
_BREATH_LOW = (25, 20, 15, 12, 8)
_BREATH_HIGH = (70, 60, 50, 40, 35)
_ROOM_LOW = ((90, 110), (80, 100), (65, 85), (60, 70), (40, 55))
_ROOM_HIGH = ((180, 210), (170, 200), (150, 180), (130, 160), (120, 150))
_ROOM_O2 = ((86, 92), (88, 94), (88, 94), (88, 94), (88, 94))

# fmt: off
_ROWS = (
    _Row("heart-rate-low", _HEART_LOW, "high", 5, _SLOW, FLEMING, deep=(80, 80, 60, 50, 40),
         latitude=_ROOM_LOW),
    _Row("heart-rate-high", _HEART_HIGH, "medium", 10, _FAST, FLEMING, latitude=_ROOM_HIGH),
    _Row("pulse-rate-low", _HEART_LOW, "high", 5, "As the heart rate", FLEMING),
    _Row("pulse-rate-high", _HEART_HIGH, "medium", 10, "As the heart rate", FLEMING),
    _Row("spo2-low", (89, 90, 90, 90, 88), "high", 10, "Short dips pass, deep ones never wait",
         PRACTICE, deep=(80, 80, 80, 80, 80), latitude=_ROOM_O2),
    _Row("spo2-high", (95, *(_NO_TARGET,) * 4), "medium", 5, "Too much oxygen harms the newborn",
         "neonatal oxygen practice (alarm 95)"),
    _Row("respiratory-rate-low", _BREATH_LOW, "medium", 10, _SLOW, BREATH),
    _Row("respiratory-rate-high", _BREATH_HIGH, "medium", 15,
         "Below the rate that calls for help at once", PEWS),
    _Row("airway-respiratory-rate-low", _BREATH_LOW, "medium", 10, "As the respiratory rate",
         BREATH),
    _Row("airway-respiratory-rate-high", _BREATH_HIGH, "medium", 15, "As the respiratory rate",
         PEWS),
    _Row("etco2-low", (30, 30, 30, 30, 25), "medium", 10, "Hyperventilation and low flow",
         PRACTICE),
    _Row("etco2-high", (55, 55, 55, 55, 60), "medium", 10, "Hypoventilation", PRACTICE),
    _Row("inspired-co2-low", (_NO_LOW_CO2,) * 5, "low", 0, "", PRACTICE),
    _Row("inspired-co2-high", (5, 5, 5, 5, 5), "medium", 10, "Rebreathing", PRACTICE),
    _Row("nibp-systolic-low", (50, 70, 75, 80, 90), "high", 0, "Hypotension for the age", PALS),
    _Row("nibp-systolic-high", (100, 110, 120, 140, 200), "medium", 0, "Seldom more than pain",
         PRACTICE),
    _Row("nibp-diastolic-low", (20, 25, 30, 35, 40), "medium", 0, "Low perfusion", PRACTICE),
    _Row("nibp-diastolic-high", (*(_HIGH_PRESSURE,) * 4, 120), "low", 0, "Hypertensive emergency",
         PRACTICE),
    _Row("nibp-mean-low", (31, 39, 45, 52, 65), "high", 0, "Low perfusion for the age", PHOENIX),
    _Row("nibp-mean-high", (*(_HIGH_PRESSURE,) * 4, 130), "low", 0, "Hypertensive emergency",
         PRACTICE),
    *(_Row(f"ibp-{part}-{side}", (), "", 0, _NO_LINES, "")
      for part in ("systolic", "diastolic", "mean") for side in ("low", "high")),
    _Row("temperature-low", (36.5, 36, 36, 36, 35), "medium", 15, "Cooling in transport",
         "WHO 1997 (newborn, below 36.5); common practice (older)"),
    _Row("temperature-high", (37.5, 38.5, 39, 39, 39), "low", 15, "Fever, or an incubator too hot",
         "WHO 1997 (newborn, above 37.5), from memory; common practice (older)"),
    _Row("asystole", (ON,) * 5, "high", 0, _ARREST, PRACTICE),
    _Row("ventricular-fibrillation", (ON,) * 5, "high", 0, _ARREST, PRACTICE),
    _Row("ventricular-tachycardia", (ON,) * 5, "high", 0, _ARREST, PRACTICE),
    _Row("apnoea", (20, 20, 20, 20, 30), "high", 0, "A pause that needs stimulation or a bag",
         "NIH consensus 1986 (20 s); common practice (13 y and over)"),
    _Row("airway-apnoea", (20, 20, 20, 20, 30), "high", 0, "A lost airway shows here first",
         "NIH consensus 1986 (20 s); common practice (13 y and over)"),
    _Row("irregular-heart-rate", (*(_EVERY_BREATH,) * 4, ON), "low", 0, "New atrial fibrillation",
         PRACTICE),
    _Row("vpc-rate", (*(_ECTOPY,) * 4, 10), "low", 0, "Irritable ventricle", PRACTICE),
    _Row("failure-to-capture", (*(_NO_PACING,) * 4, ON), "high", 0, "Pacing without effect",
         PRACTICE),
    _Row("failure-to-pace", (*(_NO_PACING,) * 4, ON), "high", 0, "Pacing has stopped", PRACTICE),
    _Row("lead-disconnected", (ON,) * 5, "medium", 0, "Nothing is watched without a lead",
         PRACTICE),
    _Row("no-pulsatile-signal", (ON,) * 5, "medium", 10, "Nothing is watched without a probe",
         PRACTICE),
    _Row("no-co2-sampling", (ON,) * 5, "medium", 10, "Nothing is watched with a blocked line",
         PRACTICE),
)
# fmt: on

_Changes = dict[tuple[str, str], tuple[Cell, str]]
_NOT_YET: _Changes = {
    **{(key, "etco2-low"): (25, "As the devices came") for key in KEYS[:4]},
    ("adult", "etco2-low"): (20, "As the devices came"),
    ("adult", "heart-rate-high"): (130, "As the score that the wards use"),
    ("adult", "pulse-rate-high"): (130, "As the heart rate"),
    ("adult", "spo2-low"): (90, "One value for everybody from 28 days"),
    ("young-child", "respiratory-rate-high"): (45, "Nearer to the healthy"),
    ("young-child", "airway-respiratory-rate-high"): (45, "As the respiratory rate"),
    ("neonate", "spo2-high"): (98, "Above any target"),
}
_PROPOSED: _Changes = {
    ("young-child", "heart-rate-high"): (185, "Proposed: fewer alarms with fever"),
    ("young-child", "pulse-rate-high"): (185, "Proposed: as the heart rate"),
    ("child", "respiratory-rate-low"): (11, "Proposed: fewer alarms in sleep"),
    ("child", "airway-respiratory-rate-low"): (11, "Proposed: as the respiratory rate"),
}
_CHANGES: dict[int, _Changes] = {1: _NOT_YET, 2: {}, 3: _PROPOSED}


def document(revision: int) -> dict[str, Any]:
    """Revision 1 was superseded, 2 is in force, 3 is a draft with a silent gap at 1 to 5 years."""
    settings = {key: _column(place) for place, key in enumerate(KEYS)}
    for (category, alarm), (limit, reason) in _CHANGES[revision].items():
        settings[category][alarm] |= {"limit": limit, "reason": reason}
    return {
        "format": "marchstone-profile/1",
        "agency": AGENCY,
        "profile": "Road, boat and air",
        "revision": revision,
        "categories": [
            {"key": key, "label": label, "from": start, "to": end}
            for key, label, start, end in _BANDS
        ],
        "settings": settings,
        "circumstances": CIRCUMSTANCES,
        "options": OPTIONS,
        "models": MODELS,
    }


def _column(place: int) -> dict[str, dict[str, Any]]:
    return {row.alarm: _setting(row, place) for row in _ROWS}


def _setting(row: _Row, place: int) -> dict[str, Any]:
    if not row.cells:
        return {"state": "not-fitted", "reason": row.reason}
    cell = row.cells[place]
    if isinstance(cell, str) and cell != ON:
        return {"state": "off", "reason": cell, "source": row.source}
    setting: dict[str, Any] = {
        "state": "on",
        "limit": None if cell == ON else cell,
        "priority": row.priority,
        "delay_s": row.delay_s,
        "latching": row.reason == _ARREST,
        "reason": row.reason,
        "source": row.source,
    }
    if row.deep:
        setting["deep"] = {"limit": row.deep[place], "priority": "high", "delay_s": 0}
    if row.latitude:
        start, end = row.latitude[place]
        setting["latitude"] = {"from": start, "to": end, "off_by": "medical-control"}
    return setting
