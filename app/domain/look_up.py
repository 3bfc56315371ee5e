"""What a policy says at one age, or in one category that somebody chose: in the agency's units, or
as the model of a known device shows them."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from app.domain.age_axis import x_of
from app.domain.ages import Age
from app.domain.alarm_conditions import ALARM_CONDITIONS, AlarmCondition, limits_of
from app.domain.centiles import References
from app.domain.errors import NotFound
from app.domain.patient_categories import PatientCategory, category_at
from app.domain.profiles import Circumstance, Profile, Settings
from app.domain.reference_ranges import PUBLISHED
from app.domain.settings_of_alarms import On, Setting
from app.domain.shown_settings import shows_other
from app.domain.shown_units import settings_as_shown
from app.domain.vital_signs import VITAL_SIGNS

FIRST_SIGNS = (
    "heart-rate",
    "spo2",
    "respiratory-rate",
    "nibp-systolic",
    "nibp-diastolic",
    "nibp-mean",
    "etco2",
)
FIRST_EVENTS = ("apnoea",)
NEAR = 0.0125  # of the axis: about a twelfth of an age, so 27 d and 11.5 mo are near, 10 mo is not


@dataclass(frozen=True)
class StatedAlarm:
    """`setting` None: the policy says nothing of it. `changed`: by the chosen circumstance.
    `signed`: as it was signed, where another number or unit is shown."""

    condition: AlarmCondition
    setting: Setting | None
    changed: bool = False
    signed: On | None = None


@dataclass(frozen=True)
class PublishedRange:
    """1st to 99th centile of healthy people at that age."""

    low: float
    high: float
    source: str


@dataclass(frozen=True)
class SignLimits:
    key: str
    label: str
    shown: str  # the unit as people read it
    low: StatedAlarm
    high: StatedAlarm
    published: PublishedRange | None

    @property
    def off_by(self) -> str:
        """Who may switch off whatever of it is on; "" where its two sides differ in that."""
        sides = [one.setting for one in (self.low, self.high) if isinstance(one.setting, On)]
        told = {"" if one.latitude is None else one.latitude.off_by for one in sides}
        return told.pop() if len(told) == 1 else ""


@dataclass(frozen=True)
class Neighbour:
    """The category on the other side of an edge that the age lies near."""

    category: PatientCategory
    edge: Age
    ahead: bool


@dataclass(frozen=True)
class LimitsAt:
    """`age` None: the category was chosen without one. Signs and events come in the order in
    which crews need them: `first` are those that are shown before anything is opened.
    `offered`: the circumstances that a crew may choose here; `chosen`: the one it has chosen.
    `model`: of the device that the numbers are told for, "" for none."""

    category: PatientCategory
    age: Age | None
    offered: tuple[Circumstance, ...]
    chosen: Circumstance | None
    neighbour: Neighbour | None
    first: tuple[SignLimits, ...]
    first_events: tuple[StatedAlarm, ...]
    rest: tuple[SignLimits, ...]
    rest_events: tuple[StatedAlarm, ...]
    model: str = ""


def limits_at(
    profile: Profile, age: Age, circumstance: str = "", model: str = ""
) -> LimitsAt | None:
    """None where the age reaches no category, which a signed scheme never lets happen.

    Raises NotFound where that category knows no such circumstance: another's values, or the plain
    ones under its name, must never be shown. So does a model that the policy does not know.
    """
    category = category_at(profile.categories, age)
    return None if category is None else _limits(profile, category, age, circumstance, model)


def limits_of_category(
    profile: Profile, key: str, circumstance: str = "", model: str = ""
) -> LimitsAt | None:
    """None where there is no such category. Raises NotFound as `limits_at` does."""
    category = profile.category(key)
    return None if category is None else _limits(profile, category, None, circumstance, model)


def _limits(
    profile: Profile, category: PatientCategory, age: Age | None, circumstance: str, model: str
) -> LimitsAt:
    if model and model not in profile.models:
        raise NotFound("The policy knows no such device model. Look up the limits without it.")
    offered = {one.key: one for one in profile.circumstances if category.key in one.applies_to}
    chosen = _chosen(offered, circumstance) if circumstance else None
    signed = profile.overlaid(category.key, chosen) if chosen else profile.of_category(category.key)
    shown = settings_as_shown(profile, category, signed, model)
    said = _Said(shown, signed, chosen.settings if chosen else {})
    other_signs = [key for key in VITAL_SIGNS if key not in FIRST_SIGNS]
    events = [key for key, alarm in ALARM_CONDITIONS.items() if alarm.vital_sign is None]
    return LimitsAt(
        category=category,
        age=age,
        offered=tuple(offered.values()),
        chosen=chosen,
        neighbour=None if age is None else neighbour_of(profile.categories, category, age),
        first=_signs(said, FIRST_SIGNS, age),
        first_events=_events(said, FIRST_EVENTS),
        rest=_signs(said, other_signs, age),
        rest_events=_events(said, (key for key in events if key not in FIRST_EVENTS)),
        model=model,
    )


def _chosen(offered: Mapping[str, Circumstance], key: str) -> Circumstance:
    if key not in offered:
        raise NotFound(
            "The policy in force knows no such circumstance for this category. "
            "Look up the limits without it."
        )
    return offered[key]


@dataclass(frozen=True)
class _Said:
    """`changed`: what the chosen circumstance names; the settings hold it already."""

    settings: Settings
    signed: Settings
    changed: Settings

    def of(self, condition: AlarmCondition) -> StatedAlarm:
        key = condition.key
        shown, signed = self.settings.get(key), self.signed.get(key)
        told = isinstance(signed, On) and shown and shows_other(condition, signed, shown)
        other = signed if isinstance(signed, On) and told else None
        return StatedAlarm(condition, shown, key in self.changed, other)


def neighbour_of(
    categories: Sequence[PatientCategory], category: PatientCategory, age: Age
) -> Neighbour | None:
    """The nearer one, where both edges are near."""
    return next(iter(neighbours_of(categories, category, age)), None)


def neighbours_of(
    categories: Sequence[PatientCategory], category: PatientCategory, age: Age
) -> tuple[Neighbour, ...]:
    """Across the edges that the age lies near, the nearer first."""
    found = [
        (abs(x_of(edge) - x_of(age)), Neighbour(other, edge, ahead=ahead))
        for edge, ahead in ((category.span.end, True), (category.span.start, False))
        if edge is not None and (other := _across(categories, edge, ahead=ahead)) is not None
    ]
    near = sorted((pair for pair in found if pair[0] <= NEAR), key=lambda pair: pair[0])
    return tuple(neighbour for _, neighbour in near)


def _across(
    categories: Sequence[PatientCategory], edge: Age, *, ahead: bool
) -> PatientCategory | None:
    return next(
        (one for one in categories if (one.span.start if ahead else one.span.end) == edge), None
    )


def _signs(said: _Said, keys: Iterable[str], age: Age | None) -> tuple[SignLimits, ...]:
    return tuple(
        SignLimits(
            key=key,
            label=VITAL_SIGNS[key].label,
            shown=VITAL_SIGNS[key].shown,
            low=said.of(limits_of(key)[0]),
            high=said.of(limits_of(key)[1]),
            published=None if age is None else published_range(PUBLISHED, key, age),
        )
        for key in keys
    )


def _events(said: _Said, keys: Iterable[str]) -> tuple[StatedAlarm, ...]:
    return tuple(said.of(ALARM_CONDITIONS[key]) for key in keys)


def published_range(references: References, vital_sign: str, age: Age) -> PublishedRange | None:
    table = references.table_for(vital_sign)
    row = None if table is None else table.at(references.named_in(table, vital_sign), age)
    if table is None or row is None or (row.centiles[0], row.centiles[-1]) != (1, 99):
        return None
    return PublishedRange(row.values[0], row.values[-1], table.source)
