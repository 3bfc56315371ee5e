"""Band advice in words: what the limits of a band are, what bands cost, and how two compare."""

from decimal import Decimal

from app.domain.band_advice import Band, BandAdvice, Plan, Score
from app.domain.band_search import EQUAL, Aim
from app.domain.redline_effect_words import percent
from app.domain.settings_of_alarms import show_number

_AIMS = {Aim.WORST: "the worst month", Aim.MEAN: "the mean month"}


def points(amount: float) -> str:
    return f"{amount:.1f}"


def limit_words(band: Band, unit: str) -> str:
    """alarm below 80 · above 180 /min"""
    sides: tuple[tuple[str, Decimal | None], ...] = (("below", band.low), ("above", band.high))
    told = [f"{word} {show_number(limit)}" for word, limit in sides if limit is not None]
    return f"alarm {' · '.join(told)} {unit}" if told else "no alarm"


def silence_words(score: Score, unit: str) -> str:
    told = [
        f"{gap:g} {unit} of {grade}"
        for grade, gap in (("danger", score.danger), ("caution", score.caution))
        if gap
    ]
    return f"{' and '.join(told)} can pass unannounced" if told else "nothing passes unannounced"


def score_words(plan: Plan, unit: str) -> str:
    """What the bands mean, before any cost."""
    score = plan.score
    return (
        f"With {_bands(plan)} {silence_words(score, unit)}, and at worst "
        f"{percent(score.arrival_worst)} of healthy people alarm on arrival "
        f"({percent(score.arrival_mean)} over all months)."
    )


def today_words(advice: BandAdvice) -> str:
    if advice.today is None:
        return "The policy sets no limit for it today."
    score = advice.today.score
    return (
        f"Today, with {_bands(advice.today)}, {silence_words(score, advice.vital.shown)}, and at "
        f"worst {percent(score.arrival_worst)} alarm on arrival "
        f"({percent(score.arrival_mean)} over all months)."
    )


def comparison_words(advice: BandAdvice, plan: Plan) -> str:
    aim = advice.question.aim
    cost, bands = plan.score.by(aim), _bands(plan)
    told = f"{_AIMS[aim]} costs {points(cost)} points"
    if advice.today is None:
        return f"With {bands}, {told}."
    now = advice.today.score.by(aim)
    if abs(now - cost) < EQUAL:
        return f"{told.capitalize()}, just as today: nothing is gained."
    return f"{told.capitalize()} instead of {points(now)} today."


def _bands(plan: Plan) -> str:
    count = len(plan.bands)
    return "1 band" if count == 1 else f"{count} bands"


def settable_words(advice: BandAdvice) -> str:
    if not advice.models:
        return f"No device model is described for it, so every step of {advice.vital.step} counts."
    return f"Only limits that can be set on every model: {', '.join(advice.models)}."


def left_words(advice: BandAdvice) -> str:
    """Empty where both sides are advised on."""
    return " ".join(
        f"Nothing is advised on the {side} side: no outer bound judges it at every age."
        for side in advice.left
    )
