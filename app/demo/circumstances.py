"""What a crew may choose besides the category, signed with it: each names only what it changes."""

from typing import Any

_BTS = "BTS 2017 target range 88 to 92"
_BRAIN = "prehospital brain-injury guidance, from memory"
_LEVINE = "Levine 1997, NEJM 337:301-6 (10 mmHg or less after 20 minutes)"
_NEONATAL = "neonatal oxygen practice (target 90 to 94)"


def _on(limit: float, priority: str, delay_s: int, reason: str, source: str) -> dict[str, Any]:
    return {
        "state": "on",
        "limit": limit,
        "priority": priority,
        "delay_s": delay_s,
        "latching": False,
        "reason": reason,
        "source": source,
    }


CIRCUMSTANCES: list[dict[str, Any]] = [
    {
        "key": "on-oxygen",
        "label": "On oxygen",
        "applies_to": ["neonate"],
        "settings": {
            "spo2-low": _on(90, "high", 10, "Sounds as the target is left", _NEONATAL)
            | {"deep": {"limit": 80, "priority": "high", "delay_s": 0}},
            "spo2-high": _on(94, "medium", 5, "Too much oxygen harms the newborn", _NEONATAL),
        },
    },
    {
        "key": "hypercapnia-risk",
        "label": "Hypercapnia risk",
        "applies_to": ["adult"],
        "settings": {
            "spo2-low": _on(86, "high", 10, "Just below the target", _BTS)
            | {
                "deep": {"limit": 80, "priority": "high", "delay_s": 0},
                "latitude": {"from": 84, "to": 88, "off_by": "medical-control"},
            },
            "spo2-high": _on(92, "medium", 5, "Too much oxygen raises the carbon dioxide", _BTS),
        },
    },
    {
        "key": "brain-injury",
        "label": "Brain injury",
        "applies_to": ["adult"],
        "settings": {
            "spo2-low": _on(92, "high", 5, "One dip already worsens the outcome", _BRAIN)
            | {"deep": {"limit": 85, "priority": "high", "delay_s": 0}},
            "nibp-systolic-low": _on(110, "high", 0, "Keeps blood flowing to the brain", _BRAIN),
            "nibp-mean-low": _on(80, "high", 0, "Keeps blood flowing to the brain", _BRAIN),
            "etco2-low": _on(35, "medium", 5, "Hyperventilation narrows its vessels", _BRAIN),
            "etco2-high": _on(45, "medium", 5, "Hypoventilation swells it", _BRAIN),
        },
    },
    {
        "key": "cardiac-arrest",
        "label": "Cardiac arrest",
        "applies_to": ["young-child", "child", "adult"],
        "settings": {
            # The source's 10 mmHg, written in kPa: a limit is kept in the unit it was written in.
            "etco2-low": _on(1.4, "high", 0, "Compressions or tube no longer work", _LEVINE)
            | {"unit": "kPa"},
        },
    },
]
