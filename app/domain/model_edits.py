"""Edits of a policy's device models: each gives a new document and leaves the old one as it was."""

from collections.abc import Iterator, Mapping
from copy import deepcopy
from dataclasses import dataclass
from typing import Any

from app.domain.alarm_conditions import ALARM_CONDITIONS, AlarmCondition
from app.domain.documents import Document
from app.domain.errors import NotFound, Refused

MODELS = "models"
MMHG = "mm[Hg]"
_GASES = ("etco2", "inspired-co2")
Written = Mapping[str, Any]


def model_in(document: Document, key: str) -> dict[str, Any]:
    """As it stands in the document; raises NotFound."""
    models = document.get(MODELS, {})
    if key not in models:
        raise NotFound(f"There is no device model {key} in this revision.")
    return dict(models[key])


def with_model(document: Document, key: str) -> dict[str, Any]:
    """New, with no preset and nothing said of what it can be set to."""
    if key in document.get(MODELS, {}):
        raise Refused.because("stands already", column="key", value=key)
    return _with(document, key, {"presets": {}, "grid": {}})


def without_model(document: Document, key: str) -> dict[str, Any]:
    model_in(document, key)
    changed = deepcopy(dict(document))
    del changed[MODELS][key]
    if not changed[MODELS]:
        del changed[MODELS]
    return changed


def with_facts(
    document: Document, key: str, *, etco2_unit: str, retention_min: int | float | None
) -> dict[str, Any]:
    """A grid of CO₂ is in the unit of the model: in another unit it would lie, so it goes."""
    held = model_in(document, key)
    if etco2_unit != held.get("etco2_unit", MMHG):
        held["grid"] = {
            alarm: grid for alarm, grid in held.get("grid", {}).items() if not is_of_gas(alarm)
        }
    held.pop("retention_min", None)
    if retention_min is not None:
        held["retention_min"] = retention_min
    return _with(document, key, {**held, "etco2_unit": etco2_unit})


def is_of_gas(alarm: str) -> bool:
    found = ALARM_CONDITIONS.get(alarm)
    return found is not None and found.quantity in _GASES


def with_preset(
    document: Document, key: str, name: str, preset: Written, *, was: str | None = None
) -> dict[str, Any]:
    """New at the end, or in the place of the one that `was`."""
    held = model_in(document, key)
    presets = held.get("presets", {})
    if was is not None:
        _check_preset(presets, key, was)
    if name in presets and name != was:
        raise Refused.because("stands already", column="name", value=name)
    if was is None:
        return _with(document, key, {**held, "presets": {**presets, name: dict(preset)}})
    kept = {
        name if other == was else other: dict(preset) if other == was else one
        for other, one in presets.items()
    }
    return _with(document, key, {**held, "presets": kept})


def without_preset(document: Document, key: str, name: str) -> dict[str, Any]:
    held = model_in(document, key)
    presets = held.get("presets", {})
    _check_preset(presets, key, name)
    kept = {other: one for other, one in presets.items() if other != name}
    return _with(document, key, {**held, "presets": kept})


def _check_preset(presets: Written, key: str, name: str) -> None:
    if name not in presets:
        raise NotFound(f"{key} has no preset {name}.")


def with_grid(document: Document, key: str, grid: Written) -> dict[str, Any]:
    """Whole: an alarm that it leaves out can be set to anything."""
    return _with(document, key, {**model_in(document, key), "grid": in_order(grid)})


def in_order(grid: Written) -> dict[str, Any]:
    return {alarm: dict(grid[alarm]) for alarm in ALARM_CONDITIONS if alarm in grid}


def with_copied_grid(document: Document, key: str, source: Written) -> dict[str, Any]:
    """The unit of EtCO₂ comes along, for the grid of CO₂ is written in it."""
    held = model_in(document, key)
    unit = source.get("etco2_unit", MMHG)
    copied = {**held, "grid": in_order(source.get("grid", {})), "etco2_unit": unit}
    return _with(document, key, copied)


@dataclass(frozen=True)
class GridChange:
    """What one alarm could be set to, and could be afterwards; None: nothing is said of it."""

    alarm: AlarmCondition
    before: Written | None
    after: Written | None


def grid_changes(before: Written, after: Written) -> tuple[GridChange, ...]:
    return tuple(_grid_changes(before, after))


def _grid_changes(before: Written, after: Written) -> Iterator[GridChange]:
    for key, alarm in ALARM_CONDITIONS.items():
        if before.get(key) != after.get(key):
            yield GridChange(alarm, before.get(key), after.get(key))


def _with(document: Document, key: str, model: Written) -> dict[str, Any]:
    changed = deepcopy(dict(document))
    return {**changed, MODELS: {**changed.get(MODELS, {}), key: deepcopy(dict(model))}}
