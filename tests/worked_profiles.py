"""Two worked policies: a sensible five-category one, and one wide band from 1 to 13 years."""

from collections.abc import Mapping
from typing import Any

_ORDER = (
    "heart-rate-low",
    "heart-rate-high",
    "respiratory-rate-low",
    "respiratory-rate-high",
    "spo2-low",
    "nibp-systolic-low",
)


def on(limit: float | None, **more: Any) -> dict[str, Any]:
    return {
        "state": "on",
        "limit": limit,
        "priority": "medium",
        "delay_s": 0,
        "latching": False,
        "reason": "agency practice",
        "source": "worked example",
        **more,
    }


def document(
    bands: Mapping[str, tuple[str, str | None, dict[str, Any]]], **more: Any
) -> dict[str, Any]:
    """Category key → (from, to, settings)."""
    return {
        "format": "marchstone-profile/1",
        "agency": "Skerry Isles Ambulance",
        "profile": "Ground and air",
        "revision": 1,
        "categories": [
            {"key": key, "label": key.capitalize(), "from": start, "to": end}
            for key, (start, end, _) in bands.items()
        ],
        "settings": {key: settings for key, (_, _, settings) in bands.items()},
        **more,
    }


def limits(*values: float) -> dict[str, Any]:
    """In the order heart rate, respiratory rate, SpO2 low, systolic low."""
    return {alarm: on(value) for alarm, value in zip(_ORDER, values, strict=True)}


def five_categories() -> dict[str, Any]:
    neonate = {**limits(100, 200, 25, 70, 89, 50), "spo2-high": on(95)}
    return document(
        {
            "neonate": ("0 d", "28 d", neonate),
            "infant": ("28 d", "1 y", limits(90, 180, 20, 60, 90, 65)),
            "young-child": ("1 y", "5 y", limits(75, 170, 15, 50, 90, 75)),
            "child": ("5 y", "13 y", limits(60, 150, 12, 40, 90, 80)),
            "adult": ("13 y", None, limits(45, 140, 8, 35, 88, 90)),
        }
    )


def one_wide_band() -> dict[str, Any]:
    return document({"child": ("1 y", "13 y", limits(50, 180, 8, 60, 85, 70))})
