"""Band advice as JSON, for programs and for `marchstone bands`."""

from decimal import Decimal
from typing import Any

from app.domain.band_advice import Band, BandAdvice, Plan
from app.domain.settings_of_alarms import as_number


def bands_json(advice: BandAdvice) -> dict[str, Any]:
    asked = advice.question
    return {
        "vital_sign": advice.vital.key,
        "aim": asked.aim.value,
        "danger_points": asked.weights.danger,
        "caution_points": asked.weights.caution,
        "ages": advice.ages.words(),
        "source": advice.source,
        "bounds": advice.bounds,
        "models": list(advice.models),
        "not_advised": list(advice.left),
        "today": None if advice.today is None else _plan(advice.today),
        "best": [_plan(plan) for plan in advice.best],
    }


def _plan(plan: Plan) -> dict[str, Any]:
    score = plan.score
    return {
        "bands": [_band(band) for band in plan.bands],
        "worst": score.worst,
        "worst_age": str(score.worst_age),
        "mean": score.mean,
        "arrival_worst": score.arrival_worst,
        "arrival_mean": score.arrival_mean,
        "danger": score.danger,
        "caution": score.caution,
    }


def _band(band: Band) -> dict[str, Any]:
    return {
        "ages": band.ages.words(),
        "low": _number(band.low),
        "high": _number(band.high),
        "mark": band.mark,
    }


def _number(limit: Decimal | None) -> int | float | None:
    return None if limit is None else as_number(limit)
