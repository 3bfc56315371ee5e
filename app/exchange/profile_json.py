"""The profile file ⇄ domain objects. What parses is whole; what does not is told by place."""

from collections.abc import Callable, Iterator
from decimal import Decimal
from typing import Any

from pydantic import ValidationError

from app.domain.ages import Age, AgeSpan
from app.domain.alarm_conditions import ALARM_CONDITIONS, AlarmCondition
from app.domain.device_models import DeviceModel, Grid, Preset
from app.domain.errors import Fault, Refused
from app.domain.patient_categories import PatientCategory
from app.domain.profiles import Circumstance, Option, Profile, fingerprint
from app.domain.settings_of_alarms import (
    DeepLine,
    Latitude,
    NoPolicy,
    NotFitted,
    Off,
    On,
    Priority,
    Setting,
    units_of,
)
from app.exchange import profile_schema as file
from app.exchange.json_text import Path, PlacedDocument, decode_text, parse

MOST_FAULTS = 100
Complaint = tuple[Path, str, object]


def read_profile(raw: bytes) -> Profile:
    return parse_profile(decode_text(raw))


def parse_profile(text: str) -> Profile:
    """Raises Refused with the line and column of everything that is wrong."""
    return _build(parse(text))


def profile_from_document(document: dict[str, Any]) -> Profile:
    """As parse_profile, for a document that has no text; faults then name the path."""
    return _build(PlacedDocument(document, ""))


def _build(placed: PlacedDocument) -> Profile:
    try:
        checked = file.ProfileFile.model_validate(placed.value)
    except ValidationError as error:
        _refuse(placed, [_in_words(placed.value, problem) for problem in error.errors()])
        raise
    complaints = list(_complaints(checked))
    if complaints:
        _refuse(placed, complaints)
    return _profile(checked, placed.value)


def _refuse(placed: PlacedDocument, complaints: list[Complaint]) -> None:
    faults = [_fault(placed, complaint) for complaint in complaints[:MOST_FAULTS]]
    if len(complaints) > MOST_FAULTS:
        faults.append(Fault(f"and {len(complaints) - MOST_FAULTS} more"))
    raise Refused(faults)


def _fault(placed: PlacedDocument, complaint: Complaint) -> Fault:
    path, reason, value = complaint
    if not placed.text:
        return Fault(reason, column=" / ".join(map(str, path)) or None, value=value)
    where = " / ".join(map(str, path))
    return placed.fault(path, f"{where}: {reason}" if where else reason, value)


_PLAIN = {
    "extra_forbidden": "unknown key",
    "missing": "is missing",
    "int_type": "must be a whole number",
    "string_type": "must be text",
    "bool_type": "must be true or false",
    "dict_type": "must be an object",
    "list_type": "must be a list",
    "model_type": "must be an object",
    "union_tag_not_found": "needs a state: on, off, not-fitted or no-policy",
    "union_tag_invalid": "state must be on, off, not-fitted or no-policy",
}


def _in_words(document: object, problem: Any) -> Complaint:
    path = _path_in(document, problem["loc"])
    kind = problem["type"]
    reason = _PLAIN.get(kind) or str(problem["msg"]).removeprefix("Input ").strip()
    if kind in ("int_type", "float_type") and path and path[-1] != "revision":
        reason = "must be a number"
    value = problem["input"]
    plain = value is None or isinstance(value, str | int | float | bool)
    return path, reason[:1].lower() + reason[1:], value if plain else None


def _path_in(document: object, loc: tuple[str | int, ...]) -> Path:
    """Leave out what pydantic adds for unions: steps that do not exist in the document."""
    path: list[str | int] = []
    here: Any = document
    for index, step in enumerate(loc):
        inside = isinstance(here, dict) and step in here
        if inside or (isinstance(here, list) and isinstance(step, int) and step < len(here)):
            path, here = [*path, step], here[step]
        elif index == len(loc) - 1 and isinstance(here, dict) and step not in _TAGS:
            path.append(step)
    return tuple(path)


_TAGS = {"on", "off", "not-fitted", "no-policy", "int", "float", "bool", "str"}


def _complaints(profile: file.ProfileFile) -> Iterator[Complaint]:
    keys = [category.key for category in profile.categories]
    for index, category in enumerate(profile.categories):
        yield from _category_complaints(("categories", index), category, keys[:index])
    for key, settings in profile.settings.items():
        if key not in keys:
            yield ("settings", key), "is no category of this profile", key
        yield from _settings_complaints(("settings", key), settings)
    yield from _circumstance_complaints(profile, keys)
    yield from _model_complaints(profile, keys)


def _category_complaints(
    path: Path, category: file.CategoryFile, before: list[str]
) -> Iterator[Complaint]:
    if category.key in before:
        yield (*path, "key"), "stands twice", category.key
    ages = {}
    for name, text in (("from", category.from_), ("to", category.to)):
        try:
            ages[name] = Age.parse(text) if text is not None else None
        except ValueError as error:
            yield (*path, name), str(error), text
    start, end = ages.get("from"), ages.get("to")
    if start is not None and end is not None and end <= start:
        yield (*path, "to"), "must be older than from", category.to


def _settings_complaints(path: Path, settings: dict[str, Any]) -> Iterator[Complaint]:
    for key, setting in settings.items():
        condition = ALARM_CONDITIONS.get(key)
        if condition is None:
            yield (*path, key), "is no alarm condition", key
        elif isinstance(setting, file.OnFile):
            yield from _on_complaints((*path, key), condition, setting)


def _on_complaints(path: Path, condition: AlarmCondition, on: file.OnFile) -> Iterator[Complaint]:
    if condition.has_threshold and on.limit is None:
        yield (*path, "limit"), "is missing", None
    if not condition.has_threshold:
        for name in ("limit", "unit", "deep"):
            if getattr(on, name) is not None:
                yield (*path, name), "this alarm has no threshold", None
    units = units_of(condition)
    for place, unit in (((*path, "unit"), on.unit), ((*path, "deep", "unit"), _deep_unit(on))):
        if unit is not None and condition.has_threshold and unit not in units:
            yield place, f"must be one of {', '.join(units)}", unit
    if on.latitude:
        yield from _latitude_complaints((*path, "latitude"), on.latitude)


def _latitude_complaints(path: Path, latitude: file.LatitudeFile) -> Iterator[Complaint]:
    if (latitude.from_ is None) != (latitude.to is None):
        yield path, "needs both from and to, or neither", None
    elif latitude.from_ is not None and latitude.to is not None and latitude.from_ > latitude.to:
        yield (*path, "to"), "must not be below from", latitude.to


def _deep_unit(on: file.OnFile) -> str | None:
    return on.deep.unit if on.deep else None


def _circumstance_complaints(profile: file.ProfileFile, keys: list[str]) -> Iterator[Complaint]:
    seen: set[str] = set()
    for index, circumstance in enumerate(profile.circumstances):
        path: Path = ("circumstances", index)
        if circumstance.key in seen:
            yield (*path, "key"), "stands twice", circumstance.key
        seen.add(circumstance.key)
        for place, key in enumerate(circumstance.applies_to):
            if key not in keys:
                yield (*path, "applies_to", place), "is no category of this profile", key
        yield from _settings_complaints((*path, "settings"), circumstance.settings)


def _model_complaints(profile: file.ProfileFile, keys: list[str]) -> Iterator[Complaint]:
    for name, model in profile.models.items():
        path: Path = ("models", name)
        for preset, carried in model.presets.items():
            place = (*path, "presets", preset)
            for key in [carried.carries, *(carried.serves or [])]:
                if key not in keys:
                    yield place, "names a category that this profile does not have", key
        for alarm, grid in model.grid.items():
            if alarm not in ALARM_CONDITIONS:
                yield (*path, "grid", alarm), "is no alarm condition", alarm
            if grid.to < grid.from_:
                yield (*path, "grid", alarm, "to"), "must not be below from", grid.to


def _profile(checked: file.ProfileFile, document: dict[str, Any]) -> Profile:
    return Profile(
        agency=checked.agency,
        name=checked.profile,
        revision=checked.revision,
        categories=tuple(map(_category, checked.categories)),
        settings={key: _settings(settings) for key, settings in checked.settings.items()},
        circumstances=tuple(
            Circumstance(c.key, c.label or c.key, tuple(c.applies_to), _settings(c.settings))
            for c in checked.circumstances
        ),
        options={key: _option(option) for key, option in checked.options.items()},
        models={key: _model(key, model) for key, model in checked.models.items()},
        document=document,
        fingerprint=fingerprint(document),
    )


def _category(category: file.CategoryFile) -> PatientCategory:
    end = Age.parse(category.to) if category.to is not None else None
    return PatientCategory(category.key, category.label, AgeSpan(Age.parse(category.from_), end))


def _decimal(number: float | None) -> Decimal | None:
    return None if number is None else exact(number)


def exact(number: float) -> Decimal:
    """The decimal as written: 37.5 stays 37.5."""
    return Decimal(repr(number))


def _settings(settings: dict[str, Any]) -> dict[str, Setting]:
    return {key: _SETTING[type(setting)](setting) for key, setting in settings.items()}


def _on(on: file.OnFile) -> On:
    return On(
        limit=_decimal(on.limit),
        priority=Priority(on.priority) if on.priority else None,
        delay_s=_decimal(on.delay_s),
        latching=on.latching,
        deep=_deep(on.deep),
        latitude=_latitude(on.latitude),
        unit=on.unit,
        reason=on.reason,
        source=on.source,
    )


def _deep(deep: file.DeepLineFile | None) -> DeepLine | None:
    if deep is None:
        return None
    priority = Priority(deep.priority) if deep.priority else None
    return DeepLine(exact(deep.limit), priority, _decimal(deep.delay_s), deep.unit)


def _latitude(latitude: file.LatitudeFile | None) -> Latitude | None:
    if latitude is None:
        return None
    return Latitude(_decimal(latitude.from_), _decimal(latitude.to), latitude.off_by)


_SETTING: dict[type, Callable[[Any], Setting]] = {
    file.OnFile: _on,
    file.OffFile: lambda off: Off(off.reason, off.source, _latitude(off.latitude)),
    file.NotFittedFile: lambda none: NotFitted(none.reason, none.source),
    file.NoPolicyFile: lambda none: NoPolicy(none.reason, none.source),
}


def _option(option: file.OptionFile) -> Option:
    value = option.value
    plain = value if isinstance(value, str | bool) else exact(value)
    return Option(plain, option.reason, option.source)


def _model(key: str, model: file.ModelFile) -> DeviceModel:
    return DeviceModel(
        key=key,
        presets=tuple(
            Preset(name, preset.carries, tuple(preset.serves or [preset.carries]))
            for name, preset in model.presets.items()
        ),
        grid={
            alarm: Grid(exact(g.from_), exact(g.to), exact(g.step), g.can_be_off)
            for alarm, g in model.grid.items()
        },
        etco2_unit=model.etco2_unit,
        retention_min=_decimal(model.retention_min),
    )
