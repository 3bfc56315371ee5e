"""Three invented device models: what each can be set to, and which category a preset carries."""

from typing import Any

_CARRIES = ("neonate", "infant", "young-child", "child", "adult")


def _model(
    presets: tuple[str, ...], step: int, *, etco2_unit: str, retention_min: int
) -> dict[str, Any]:
    """`step`: of the rates, in /min."""
    rates = {
        f"{rate}-{side}": {"from": 20, "to": 250, "step": step, "can_be_off": True}
        for rate in ("heart-rate", "pulse-rate")
        for side in ("low", "high")
    }
    return {
        "presets": {
            preset: {"carries": category, "serves": [category]}
            for preset, category in zip(presets, _CARRIES, strict=True)
        },
        "grid": rates,
        "etco2_unit": etco2_unit,
        "retention_min": retention_min,
    }


MODELS: dict[str, Any] = {
    "dunlin": _model(
        ("NEO", "INFANT", "SMALL CHILD", "CHILD", "ADULT"), 1, etco2_unit="mm[Hg]", retention_min=2
    ),
    "turnstone": _model(
        ("Newborn", "Baby", "Toddler", "Junior", "Adult"), 5, etco2_unit="kPa", retention_min=5
    ),
    "petrel": _model(("P1", "P2", "P3", "P4", "P5"), 5, etco2_unit="mm[Hg]", retention_min=1),
}
