"""What a change makes void: device presets that show other values, printed cards."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal

from app.domain.alarm_conditions import ALARM_CONDITIONS, AlarmCondition
from app.domain.by_hand import CategoryOnModel, ModelSetting, by_hand_on
from app.domain.patient_categories import PatientCategory
from app.domain.profiles import Circumstance, Profile
from app.domain.redline_options import option_changes
from app.domain.redline_parts import bare
from app.domain.rendering import RenderedPreset, rendered_presets
from app.domain.settings_of_alarms import Off, On, Setting


@dataclass(frozen=True)
class VoidPreset:
    """`alarms`: those that must be set again. `new`: the model had no such preset before."""

    preset: str
    alarms: tuple[AlarmCondition, ...]
    new: bool


@dataclass(frozen=True)
class ModelVoid:
    """`presets` and `options` empty: what the model shows stays. `gone`: presets without a use."""

    model: str
    presets: tuple[VoidPreset, ...]
    gone: tuple[str, ...]
    options: tuple[str, ...]

    @property
    def stays(self) -> bool:
        return not self.presets and not self.options


def void_models(before: Profile, after: Profile, models: Iterable[str]) -> tuple[ModelVoid, ...]:
    """Of each model asked for; one that neither policy describes holds a preset a category."""
    options = tuple(
        change.label
        for change in option_changes(before, after)
        if change.after is not None and not change.words_only
    )
    return tuple(_model(before, after, model, options) for model in dict.fromkeys(models))


def _model(before: Profile, after: Profile, model: str, options: tuple[str, ...]) -> ModelVoid:
    was, now = rendered_presets(before, model), rendered_presets(after, model)
    found = [_preset(was.get(key), preset) for key, preset in now.items()]
    gone = tuple(key for key in was if key not in now)
    return ModelVoid(model, tuple(one for one in found if one.alarms), gone, options)


def _preset(was: RenderedPreset | None, now: RenderedPreset) -> VoidPreset:
    alarms = tuple(
        alarm
        for key, alarm in ALARM_CONDITIONS.items()
        if isinstance(now.settings.get(key), On | Off) and not _still_holds(was, now, key)
    )
    return VoidPreset(now.preset, alarms, new=was is None)


def _still_holds(was: RenderedPreset | None, now: RenderedPreset, alarm: str) -> bool:
    """Whether every device that held the old values rightly holds the new ones too."""
    old = None if was is None else was.settings.get(alarm)
    new = now.settings[alarm]
    if was is None or not isinstance(old, On) or not isinstance(new, On):
        return isinstance(old, Off) and isinstance(new, Off)
    lines = (
        (was.values(alarm), now.values(alarm)),
        (was.deep_values(alarm), now.deep_values(alarm)),
    )
    conforms = all(bool(first) == bool(then) and first <= then for first, then in lines)
    return conforms and _plain(old) == _plain(new)


def _plain(setting: On) -> On:
    """What a device holds besides its limits."""
    deep = setting.deep and replace(setting.deep, limit=Decimal(0), unit=None)
    return replace(setting, limit=None, unit=None, deep=deep, latitude=None, reason="", source="")


@dataclass(frozen=True)
class VoidCards:
    """Printed cards of one category. `models` empty: those for every model."""

    category: str
    why: str
    models: tuple[str, ...] = ()


def void_cards(before: Profile, after: Profile) -> Iterator[VoidCards]:
    by_hand = _other_by_hand(before, after)
    for category in after.categories:
        old = before.category(category.key)
        why = "it is new" if old is None else _why(before, after, old, category)
        if why:
            yield VoidCards(category.label, why)
        elif models := by_hand.get(category.key):
            yield VoidCards(category.label, "other values are set by hand", tuple(models))
    for category in before.categories:
        if after.category(category.key) is None:
            yield VoidCards(category.label, "the category is gone")


def _why(before: Profile, after: Profile, old: PatientCategory, new: PatientCategory) -> str | None:
    if old.span != new.span or old.label != new.label:
        return f"it holds {new.span}; before: {old.label}, {old.span}"
    was, now = before.of_category(new.key), after.of_category(new.key)
    if any(bare(was.get(key)) != bare(now.get(key)) for key in ALARM_CONDITIONS):
        return "its limits change"
    if _offered(before, new) != _offered(after, new):
        return "its circumstances change"
    return None


def _offered(profile: Profile, category: PatientCategory) -> list[object]:
    return [
        (one.key, one.label, _bare_all(one))
        for one in profile.circumstances
        if category.key in one.applies_to
    ]


def _bare_all(circumstance: Circumstance) -> dict[str, Setting | None]:
    return {key: bare(setting) for key, setting in circumstance.settings.items()}


def _other_by_hand(before: Profile, after: Profile) -> Mapping[str, list[str]]:
    """Category → models on which other values are set by hand."""
    found: dict[str, list[str]] = {}
    for model in dict.fromkeys((*after.models, *before.models)):
        was, now = _by_hand(before, model), _by_hand(after, model)
        for category in after.categories:
            if was.get(category.key) != now.get(category.key):
                found.setdefault(category.key, []).append(model)
    return found


def _by_hand(profile: Profile, model: str) -> Mapping[str, object]:
    return {
        one.category.key: (one.preset, one.carries and one.carries.key, _told(one))
        for one in by_hand_on(profile, model)
    }


def _told(one: CategoryOnModel) -> list[object]:
    def plain(setting: ModelSetting) -> tuple[object, ...]:
        held, to_set = bare(setting.held), bare(setting.to_set)
        return setting.condition.key, held, to_set, setting.settable

    return [
        [plain(setting) for setting in one.by_hand],
        [plain(setting) for setting in one.rounded],
    ]
