"""Practice: people at the edges of the agency's own scheme, and the limits that they get.

Every case is made from the policy alone and has a key that tells what it asks, so that the answers
of many drills can be put together by case, and a bad boundary shows. A seed draws some of each
kind; the same seed draws the same again.
"""

import hashlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from app.domain.ages import Age, days
from app.domain.alarm_conditions import ALARM_CONDITIONS, AlarmCondition, limits_of
from app.domain.edge_cases import just_under
from app.domain.look_up import FIRST_EVENTS, FIRST_SIGNS
from app.domain.patient_categories import PatientCategory, category_at
from app.domain.profiles import Profile, Settings
from app.domain.reaching import resolve
from app.domain.settings_of_alarms import Off, On, Setting, show_number
from app.domain.written_limits import shown_unit

CASES = 20
ASK = "ask"
_ASK_WORDS = "No category yet: ask, weigh or look first"
_WEIGHTS = (2, 3, 5, 8, 12, 20, 32, 60, 90)  # kg, from a small newborn to an adult
_DOUBTS = (("8 y", 60), ("16 y", 38), ("2 y", 25), ("11 mo", 5))
_MOST_CHOICES = 5


class Kind(StrEnum):
    EDGE = "edge"
    UNKNOWN = "unknown"
    WEIGHT = "weight"
    DOUBT = "doubt"
    CIRCUMSTANCE = "circumstance"
    LIMIT = "limit"

    @property
    def words(self) -> str:
        return {
            Kind.EDGE: "age at an edge",
            Kind.UNKNOWN: "age unknown",
            Kind.WEIGHT: "weight alone",
            Kind.DOUBT: "weight that hardly goes with the age",
            Kind.CIRCUMSTANCE: "circumstance",
            Kind.LIMIT: "limit",
        }[self]


_QUOTAS = {
    Kind.UNKNOWN: 1,
    Kind.WEIGHT: 2,
    Kind.DOUBT: 2,
    Kind.CIRCUMSTANCE: 3,
    Kind.EDGE: 8,
}
"""Limits fill what is left, and whatever the policy has too few of."""


@dataclass(frozen=True)
class Choice:
    key: str
    label: str


@dataclass(frozen=True)
class DrillCase:
    """`right`: the key of the choice that the policy gives; `why` is told afterwards."""

    key: str
    kind: Kind
    question: str
    choices: tuple[Choice, ...]
    right: str
    why: str

    def label_of(self, chosen: str) -> str:
        """Empty for what is none of the choices."""
        return next((one.label for one in self.choices if one.key == chosen), "")


def all_cases(profile: Profile) -> dict[str, DrillCase]:
    """Every case that a policy can ask, by key; the same for the same policy."""
    found = [
        *_at_edges(profile),
        *_by_weight(profile),
        *_in_doubt(profile),
        *_under_circumstances(profile),
        *_of_limits(profile),
    ]
    return {case.key: case for case in found}


def draw_cases(profile: Profile, seed: str, most: int = CASES) -> list[DrillCase]:
    shuffled = sorted(all_cases(profile).values(), key=lambda case: _place(seed, case.key))
    drawn = [
        case
        for kind, quota in _QUOTAS.items()
        for case in [one for one in shuffled if one.kind is kind][:quota]
    ]
    left = [case for case in shuffled if case not in drawn]
    drawn += sorted(left, key=lambda case: case.kind is not Kind.LIMIT)[: most - len(drawn)]
    return sorted(drawn, key=lambda case: _place(seed, case.key))[:most]


def _place(seed: str, key: str) -> str:
    return hashlib.sha256(f"{seed}/{key}".encode()).hexdigest()


def _categories(profile: Profile) -> tuple[Choice, ...]:
    named = (Choice(one.key, f"{one.label}, {one.span}") for one in profile.categories)
    return (*named, Choice(ASK, _ASK_WORDS))


def _at_edges(profile: Profile) -> Iterator[DrillCase]:
    choices = _categories(profile)
    yield DrillCase(
        "unknown",
        Kind.UNKNOWN,
        "Nobody knows the age, and nobody can weigh the patient. Which category?",
        choices,
        ASK,
        "Nothing is chosen by itself, least of all adult.",
    )
    edges = [one.span.start for one in profile.categories if one.span.start.days > 0]
    for edge in edges:
        for when, age, words in _around(edge):
            category = category_at(profile.categories, age)
            if category is not None:
                yield DrillCase(
                    f"edge:{edge}:{when}",
                    Kind.EDGE,
                    f"The patient {words}. Which category?",
                    choices,
                    category.key,
                    f"{category.label} is {category.span}; the day of an edge belongs to the "
                    "older side.",
                )


def _around(edge: Age) -> Iterator[tuple[str, Age, str]]:
    day = days(1)
    before = "will be" if edge > day else "is not quite"
    after = " tomorrow" if edge > day else ""
    yield "before", just_under(edge), f"{before} {edge} old{after}"
    yield "at", edge, f"is {edge} old today"
    yield "after", Age(edge.days + day.days), f"was {edge} old yesterday"


def _by_weight(profile: Profile) -> Iterator[DrillCase]:
    for kg in _WEIGHTS:
        reached = resolve(profile.categories, weight_kg=float(kg))
        sure = reached.category is not None and reached.ask is None
        yield DrillCase(
            f"weight:{kg}",
            Kind.WEIGHT,
            f"Nobody knows the age. The patient weighs {kg} kg. Which category?",
            _categories(profile),
            reached.category.key if sure and reached.category else ASK,
            " ".join(filter(None, (reached.how, reached.ask))),
        )


def _in_doubt(profile: Profile) -> Iterator[DrillCase]:
    for written, kg in _DOUBTS:
        age = Age.parse(written)
        category = category_at(profile.categories, age)
        if category is not None:
            yield DrillCase(
                f"doubt:{written}:{kg}",
                Kind.DOUBT,
                f"The patient is {written} old for certain, and weighs {kg} kg. Which category?",
                _categories(profile),
                category.key,
                "The age decides; weight decides only where the age is unknown. Check both.",
            )


def _under_circumstances(profile: Profile) -> Iterator[DrillCase]:
    for one in profile.circumstances:
        for category in (c for c in profile.categories if c.key in one.applies_to):
            settings = profile.overlaid(category.key, one)
            for alarm in (key for key in ALARM_CONDITIONS if key in one.settings):
                yield from _asked(
                    profile,
                    category,
                    settings,
                    ALARM_CONDITIONS[alarm],
                    kind=Kind.CIRCUMSTANCE,
                    key=f"circumstance:{one.key}:{category.key}:{alarm}",
                    who=f"{category.label}, {category.span}, {one.label.lower()}",
                )


def _of_limits(profile: Profile) -> Iterator[DrillCase]:
    alarms = [alarm for sign in FIRST_SIGNS for alarm in limits_of(sign)]
    alarms += [ALARM_CONDITIONS[key] for key in FIRST_EVENTS]
    for category in profile.categories:
        for alarm in alarms:
            yield from _asked(
                profile,
                category,
                profile.of_category(category.key),
                alarm,
                kind=Kind.LIMIT,
                key=f"limit:{category.key}:{alarm.key}",
                who=f"{category.label}, {category.span}",
            )


def _asked(
    profile: Profile,
    category: PatientCategory,
    settings: Settings,
    alarm: AlarmCondition,
    *,
    kind: Kind,
    key: str,
    who: str,
) -> Iterator[DrillCase]:
    """Nothing is asked where all categories say the same, or the policy says nothing."""
    right = settings.get(alarm.key)
    said = [profile.of_category(one.key).get(alarm.key) for one in profile.categories]
    mine = profile.of_category(category.key).get(alarm.key)
    words = list(_distinct([right, mine, *said], alarm))[:_MOST_CHOICES]
    if not isinstance(right, On | Off) or len(words) < 2:
        return
    choices = tuple(sorted((Choice(one, one) for one in words), key=lambda one: _size(one.key)))
    question = f"{who}: when does the alarm “{alarm.label}” sound?"
    yield DrillCase(key, kind, question, choices, limit_words(right, alarm), "As signed.")


def _distinct(settings: Iterable[Setting | None], alarm: AlarmCondition) -> Iterator[str]:
    told = [limit_words(one, alarm) for one in settings if isinstance(one, On | Off)]
    yield from dict.fromkeys(told)


def limit_words(setting: Setting, alarm: AlarmCondition) -> str:
    """Never a bare number: `below 90 /min`, `after 20 s`, `OFF`."""
    if not isinstance(setting, On):
        return "OFF: never"
    if setting.limit is None:
        return "on"
    unit = shown_unit(setting.unit) if setting.unit else alarm.shown
    if alarm.vital_sign is None:
        side = "after" if alarm.shown == "s" else "above"
    else:
        side = "below" if alarm.side == "low" else "above"
    return f"{side} {show_number(setting.limit)} {unit}"


def _size(words: str) -> tuple[bool, Decimal]:
    """Smallest first, what has no number last."""
    parts = words.split()
    number = next((part for part in parts if part.replace(".", "", 1).isdigit()), None)
    return number is None, Decimal(number or 0)
