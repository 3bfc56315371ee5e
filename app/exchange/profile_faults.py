"""What is wrong with a profile file, in words for people: a path, a reason and the value."""

from collections.abc import Iterator
from typing import Any

from app.domain.ages import Age
from app.domain.alarm_conditions import ALARM_CONDITIONS, AlarmCondition
from app.domain.settings_of_alarms import units_of
from app.exchange import profile_schema as file
from app.exchange.json_text import Path

Complaint = tuple[Path, str, object]

_PLAIN = {
    "extra_forbidden": "unknown key",
    "missing": "is missing",
    "int_type": "must be a whole number",
    "string_type": "must be text",
    "bool_type": "must be true or false",
    "dict_type": "must be an object",
    "list_type": "must be a list",
    "model_type": "must be an object",
    "string_too_short": "must not be empty",
    "string_pattern_mismatch": "must be small letters and digits, joined by hyphens",
    "union_tag_not_found": "needs a state: on, off, not-fitted or no-policy",
    "union_tag_invalid": "must be on, off, not-fitted or no-policy",
}


def in_words(document: object, problem: Any) -> Complaint:
    path, value = _path_in(document, problem["loc"]), problem["input"]
    kind = problem["type"]
    if kind == "union_tag_invalid":
        path, value = (*path, "state"), problem["ctx"]["tag"]
    reason = _PLAIN.get(kind) or str(problem["msg"]).removeprefix("Input ").strip()
    if kind == "string_too_long":
        reason = f"must have at most {problem['ctx']['max_length']} characters"
    if kind in ("int_type", "float_type") and path and path[-1] != "revision":
        reason = "must be a number"
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


def complaints(profile: file.ProfileFile) -> Iterator[Complaint]:
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
            value = getattr(on, name)
            if value is not None:
                plain = value if isinstance(value, str | float) else None
                yield (*path, name), "this alarm has no threshold", plain
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
            named: list[tuple[Path, str]] = [(("carries",), carried.carries)]
            named += [(("serves", at), key) for at, key in enumerate(carried.serves or [])]
            for where, key in named:
                if key not in keys:
                    yield (*place, *where), "is no category of this profile", key
        for alarm, grid in model.grid.items():
            if alarm not in ALARM_CONDITIONS:
                yield (*path, "grid", alarm), "is no alarm condition", alarm
            if grid.to < grid.from_:
                yield (*path, "grid", alarm, "to"), "must not be below from", grid.to
