"""The result of a replay as JSON."""

from collections.abc import Sequence
from typing import Any

from app.domain.replay import Load, Replay


def replay_json(
    result: Replay, not_replayed: Sequence[str], *, synthetic: str = "", circumstance: str = ""
) -> dict[str, Any]:
    """`synthetic`: how the patients were invented; there is no such key for recorded ones, and
    none of a circumstance where nothing is overlaid."""
    return {
        **({"synthetic": synthetic} if synthetic else {}),
        **({"circumstance": circumstance} if circumstance else {}),
        "patient_hours": result.patient_hours,
        "patients": result.patients,
        "alarms": [{"alarm": alarm, **_load(load)} for alarm, load in result.alarms.items()],
        "all": _load(result.all),
        "not_replayed": list(not_replayed),
    }


def _load(load: Load) -> dict[str, Any]:
    return {
        "count": load.count,
        "per_patient_hour": load.per_patient_hour,
        "seconds_in_alarm": load.seconds_in_alarm,
        "patients_with_alarm": load.patients_with_alarm,
    }
