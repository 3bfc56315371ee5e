"""What is wrong with a policy, judged by rules: one file a family, one entry a rule."""

from collections.abc import Iterator
from dataclasses import replace

from app.domain.centiles import References
from app.domain.default_bounds import DEFAULT_BOUNDS
from app.domain.findings import Finding, gravest_first
from app.domain.outer_bounds import OuterBounds
from app.domain.patient_categories import PatientCategory
from app.domain.profiles import Profile
from app.domain.reference_ranges import PUBLISHED
from app.domain.rules.age_trend import AGE_TREND
from app.domain.rules.arrival import ARRIVAL_ALARM
from app.domain.rules.delays import DELAY_LONG
from app.domain.rules.explained import ALARM_UNSOURCED
from app.domain.rules.extremes import NEVER_SOUNDS, UNIT_SLIP
from app.domain.rules.latitudes import LATITUDE_BREACH
from app.domain.rules.life_threats import LIFE_THREAT_OFF
from app.domain.rules.limits import LIMIT_IMPLAUSIBLE, LIMIT_ORDER
from app.domain.rules.pairs import PAIR_CONFLICT, PRESSURE_ORDER
from app.domain.rules.rule import Question, Rule
from app.domain.rules.scheme import CATEGORY_GAP, CATEGORY_OVERLAP
from app.domain.rules.settable import LIMIT_SETTABLE
from app.domain.rules.silent_gap import SILENT_GAP
from app.domain.rules.statements import ALARM_UNSTATED, blanks
from app.domain.rules.whole_device import BOUND_BREACH, NIBP_STALE

__all__ = [
    "RULES",
    "Question",
    "Rule",
    "ask",
    "ask_profile",
    "blanks",
    "check",
    "questions",
    "questions_about",
]

RULES: tuple[Rule, ...] = (
    CATEGORY_GAP,
    CATEGORY_OVERLAP,
    LIMIT_ORDER,
    SILENT_GAP,
    LIFE_THREAT_OFF,
    BOUND_BREACH,
    DELAY_LONG,
    LATITUDE_BREACH,
    LIMIT_IMPLAUSIBLE,
    LIMIT_SETTABLE,
    NEVER_SOUNDS,
    UNIT_SLIP,
    PRESSURE_ORDER,
    PAIR_CONFLICT,
    AGE_TREND,
    NIBP_STALE,
    ARRIVAL_ALARM,
    ALARM_UNSTATED,
    ALARM_UNSOURCED,
)


def check(
    profile: Profile, references: References = PUBLISHED, bounds: OuterBounds = DEFAULT_BOUNDS
) -> list[Finding]:
    """Everything the rules find, gravest first."""
    found = ask_profile(profile)
    for question in questions(profile, references, bounds):
        found += ask(question)
    return gravest_first(found)


def ask_profile(profile: Profile) -> list[Finding]:
    """The rules that look at the policy as a whole."""
    return [
        finding for rule in RULES if rule.ask_profile for finding in rule.ask_profile(rule, profile)
    ]


def ask(question: Question) -> list[Finding]:
    """The rules that look at one category."""
    return [
        finding
        for rule in RULES
        if rule.ask and (question.preset is None or rule.by_age)
        for finding in rule.ask(rule, question)
    ]


def questions(
    profile: Profile, references: References = PUBLISHED, bounds: OuterBounds = DEFAULT_BOUNDS
) -> Iterator[Question]:
    for category in profile.categories:
        yield from questions_about(profile, category, references, bounds)


def questions_about(
    profile: Profile, category: PatientCategory, references: References, bounds: OuterBounds
) -> Iterator[Question]:
    """The category as it stands, then under each circumstance that applies to it, then wherever
    a device's preset serves it with the values of another category."""
    plain = Question(profile, category, profile.of_category(category.key), references, bounds)
    yield plain
    for circumstance in profile.circumstances:
        if category.key in circumstance.applies_to:
            yield replace(
                plain,
                settings=profile.overlaid(category.key, circumstance),
                circumstance=circumstance.key,
                changed=frozenset(circumstance.settings),
            )
    yield from _served_by_others(plain)


def _served_by_others(plain: Question) -> Iterator[Question]:
    """One question a carried category: several models may lend the same values."""
    lent: dict[str, list[str]] = {}
    for model in plain.profile.models.values():
        for preset in model.presets:
            if plain.category.key in preset.serves and plain.category.key != preset.carries:
                lent.setdefault(preset.carries, []).append(f"{model.key} {preset.key}")
    for carried, presets in lent.items():
        settings = plain.profile.of_category(carried)
        yield replace(plain, settings=settings, preset=", ".join(presets))
