"""Three invented device models: what each can be set to, and which categories a preset serves."""

from typing import Any

_SIDES = ("low", "high")
_RATES = ("heart-rate", "pulse-rate")
_BREATHS = ("respiratory-rate", "airway-respiratory-rate")
_PRESSURES = ("nibp-systolic", "nibp-diastolic", "nibp-mean")
_GASES = ("etco2", "inspired-co2")

Reach = tuple[float, float, float]
"""From, to and step, in the unit that the model shows."""


def _grid(
    *,
    rates: Reach,
    breaths: Reach,
    pressures: Reach,
    gases: Reach,
    temperatures: Reach,
    always_on: tuple[str, ...],
) -> dict[str, dict[str, Any]]:
    reaches = {
        **dict.fromkeys(_RATES, rates),
        "spo2": (50, 100, 1),
        **dict.fromkeys(_BREATHS, breaths),
        **dict.fromkeys(_GASES, gases),
        **dict.fromkeys(_PRESSURES, pressures),
        "temperature": temperatures,
    }
    sided = {f"{sign}-{side}": reach for sign, reach in reaches.items() for side in _SIDES}
    timed = dict.fromkeys(("apnoea", "airway-apnoea"), (10, 60, 5))
    return {
        alarm: {"from": start, "to": end, "step": step, "can_be_off": alarm not in always_on}
        for alarm, (start, end, step) in {**sided, **timed}.items()
    }


def _one_each(*presets: str) -> dict[str, dict[str, Any]]:
    carried = ("neonate", "infant", "young-child", "child", "adult")
    return {
        preset: {"carries": category, "serves": [category]}
        for preset, category in zip(presets, carried, strict=True)
    }


MODELS: dict[str, Any] = {
    "dunlin": {
        "presets": _one_each("NEO", "INFANT", "SMALL CHILD", "CHILD", "ADULT"),
        "grid": _grid(
            rates=(20, 250, 1),
            breaths=(4, 120, 1),
            pressures=(10, 260, 1),
            gases=(0, 100, 1),
            temperatures=(25, 43, 0.1),
            always_on=(),
        ),
        "etco2_unit": "mm[Hg]",
        "retention_min": 2,
    },
    "turnstone": {
        "presets": _one_each("Newborn", "Baby", "Toddler", "Junior", "Adult"),
        "grid": _grid(
            rates=(20, 250, 5),
            breaths=(5, 120, 1),
            pressures=(10, 250, 1),
            gases=(0, 13, 0.1),
            temperatures=(30, 42, 0.5),
            always_on=("spo2-low", "heart-rate-low"),
        ),
        "etco2_unit": "kPa",
        "retention_min": 5,
    },
    "petrel": {
        "presets": {
            "SMALL": {"carries": "infant", "serves": ["neonate", "infant", "young-child"]},
            "MIDDLE": {"carries": "child", "serves": ["child"]},
            "LARGE": {"carries": "adult", "serves": ["adult"]},
        },
        "grid": _grid(
            rates=(20, 240, 2),
            breaths=(4, 100, 1),
            pressures=(10, 240, 5),
            gases=(0, 99, 1),
            temperatures=(30, 42, 0.1),
            always_on=("spo2-low",),
        ),
        "etco2_unit": "mm[Hg]",
        "retention_min": 1,
    },
}
