"""Advised bands drawn in the age corridor, with today's behind them: one lane, one vital sign.

Only the alarm that is advised on is drawn, as if no other sensor guarded the same danger: that is
how the advice weighs it.
"""

from collections.abc import Iterator
from decimal import Decimal

from app.domain.age_axis import spoken
from app.domain.ages import BIRTH, AgeSpan
from app.domain.alarm_conditions import limits_of
from app.domain.band_advice import Band, Plan
from app.domain.centiles import References
from app.domain.corridor import Corridor, corridor
from app.domain.outer_bounds import OuterBounds
from app.domain.patient_categories import PatientCategory
from app.domain.profiles import Profile, Settings
from app.domain.settings_of_alarms import On
from app.domain.vital_signs import VitalSign


def band_corridor(
    plan: Plan,
    vital: VitalSign,
    today: Profile,
    *,
    references: References,
    bounds: OuterBounds,
) -> Corridor:
    """The bands as solid walls, what the policy says today dashed."""
    proposed, held = _proposed(plan, vital, today), _alone(today, vital)
    return corridor(proposed, held, references=references, bounds=bounds)


def _alone(profile: Profile, vital: VitalSign) -> Profile:
    settings = {key: _of(profile.of_category(key), vital) for key in profile.settings}
    return Profile(profile.agency, profile.name, profile.revision, profile.categories, settings)


def _of(settings: Settings, vital: VitalSign) -> Settings:
    mine = (alarm.key for alarm in limits_of(vital.key))
    return {key: settings[key] for key in mine if key in settings}


def _proposed(plan: Plan, vital: VitalSign, today: Profile) -> Profile:
    """The bands, and beyond them the categories of today as they are."""
    categories, settings = [], {}
    for number, band in enumerate(plan.bands, start=1):
        key = f"band-{number}"
        categories.append(PatientCategory(key, band_label(band), band.ages))
        settings[key] = _limits(vital, band)
    for category, ages in _beyond(plan, today):
        key = f"{category.key}-on"
        categories.append(PatientCategory(key, category.label, ages))
        settings[key] = _of(today.of_category(category.key), vital)
    return Profile(today.agency, today.name, today.revision, tuple(categories), settings)


def _beyond(plan: Plan, today: Profile) -> Iterator[tuple[PatientCategory, AgeSpan]]:
    before = AgeSpan(BIRTH, plan.bands[0].ages.start)
    after = AgeSpan(plan.bands[-1].ages.stop, None)
    for span in (before, after):
        if span.start == span.end:
            continue
        for category in today.categories:
            shared = category.span.meet(span)
            if shared is not None:
                yield category, shared


def _limits(vital: VitalSign, band: Band) -> Settings:
    sides: tuple[Decimal | None, Decimal | None] = (band.low, band.high)
    pairs = zip(limits_of(vital.key), sides, strict=True)
    return {alarm.key: On(limit) for alarm, limit in pairs if limit is not None}


def band_label(band: Band) -> str:
    return f"{spoken(band.ages.start)} to {spoken(band.ages.stop)}"
