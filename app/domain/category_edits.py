"""Edits of a policy's scheme as a whole: split, moved edge, new key, order by age.

Whatever names a category follows it (circumstances, presets, the start-up category), or the edit
is refused in words.
"""

from collections.abc import Iterator, Mapping
from copy import deepcopy
from dataclasses import dataclass
from typing import Any

from app.domain.ages import OLDEST, Age
from app.domain.documents import Document, with_category, without_category
from app.domain.errors import Fault, NotFound, Refused
from app.domain.options import START_UP


@dataclass(frozen=True)
class Split:
    """The part from `at` on becomes the new category; `copied`: it starts with what the whole
    one says, and stands beside it in circumstances and presets. Else it is blank."""

    at: str
    key: str
    label: str
    copied: bool


def in_age_order(document: Document) -> dict[str, Any]:
    """Youngest first; left alone while an age cannot be read, which the next reader refuses."""
    changed = deepcopy(dict(document))
    try:
        changed["categories"].sort(key=lambda one: Age.parse(one["from"]))
    except ValueError:
        return changed
    return changed


def with_split(document: Document, key: str, split: Split) -> dict[str, Any]:
    whole = _category(document, key)
    _check_free(document, split.key)
    at = _age_within(split.at, whole, whole)
    older = {"key": split.key, "label": split.label, "from": str(at), "to": whole["to"]}
    changed = with_category(document, {**whole, "to": str(at)})
    changed["categories"].append(older)
    changed["settings"][split.key] = {}
    if split.copied:
        changed["settings"][split.key] = deepcopy(changed["settings"].get(key, {}))
        _let_follow(changed, key, split.key)
    return in_age_order(changed)


def with_edge(document: Document, younger: str, older: str, at: str) -> dict[str, Any]:
    """One ends and the next begins at the same age, so no gap or overlap arises in between."""
    before, after = _category(document, younger), _category(document, older)
    edge = str(_age_within(at, before, after))
    changed = with_category(document, {**before, "to": edge})
    return with_category(changed, {**after, "from": edge})


def _age_within(at: str, younger: Mapping[str, Any], older: Mapping[str, Any]) -> Age:
    """Strictly inside, so that neither side is left without an age."""
    try:
        age = Age.parse(at)
    except ValueError as error:
        raise Refused.because(str(error), column="at", value=at) from None
    end = OLDEST if older["to"] is None else Age.parse(older["to"])
    if not Age.parse(younger["from"]) < age < end:
        until = "" if older["to"] is None else f" and before {older['to']}"
        raise Refused.because(
            f"must lie after {younger['from']}{until}, or no age is left on one side",
            column="at",
            value=at,
        )
    return age


def with_new_key(document: Document, key: str, new: str) -> dict[str, Any]:
    """Settings, circumstances, presets and the start-up category follow."""
    _category(document, key)
    if new == key:
        return deepcopy(dict(document))
    _check_free(document, new)
    changed = deepcopy(dict(document))
    for category in changed["categories"]:
        category["key"] = new if category["key"] == key else category["key"]
    settings = changed["settings"]
    changed["settings"] = {new if k == key else k: held for k, held in settings.items()}
    for named in _lists_of_keys(changed):
        named[:] = [new if one == key else one for one in named]
    for preset in _presets(changed):
        preset["carries"] = new if preset["carries"] == key else preset["carries"]
    start_up = changed.get("options", {}).get(START_UP)
    if start_up is not None and start_up["value"] == key:
        start_up["value"] = new
    return changed


def removed(document: Document, key: str) -> dict[str, Any]:
    """Refused while a preset or the start-up category still needs it: silence about what a device
    then holds would be worse."""
    _category(document, key)
    faults = [Fault(f"{use}: change that first") for use in uses_of(document, key)]
    if faults:
        raise Refused(faults)
    return without_category(document, key)


def uses_of(document: Document, key: str) -> list[str]:
    """What stops the category from being removed, a sentence each."""
    found = [
        f"{model} {name} {verb} it"
        for model, held in document.get("models", {}).items()
        for name, preset in held.get("presets", {}).items()
        if (verb := _verb(preset, key))
    ]
    start_up = document.get("options", {}).get(START_UP)
    if start_up is not None and start_up["value"] == key:
        found.append("devices start up in it")
    return found


def _verb(preset: Mapping[str, Any], key: str) -> str:
    if preset["carries"] == key:
        return "carries"
    return "serves" if key in (preset.get("serves") or ()) else ""


def _let_follow(changed: dict[str, Any], key: str, new: str) -> None:
    """Whatever names the whole names the new part as well, right after it."""
    for preset in _presets(changed):
        # Without a list a preset serves what it carries alone; now it serves one more.
        if preset["carries"] == key and not preset.get("serves"):
            preset["serves"] = [key]
    for named in _lists_of_keys(changed):
        if key in named:
            named.insert(named.index(key) + 1, new)


def _lists_of_keys(document: Mapping[str, Any]) -> Iterator[list[str]]:
    for circumstance in document.get("circumstances", ()):
        yield circumstance["applies_to"]
    for preset in _presets(document):
        if preset.get("serves"):
            yield preset["serves"]


def _presets(document: Mapping[str, Any]) -> Iterator[dict[str, Any]]:
    for model in document.get("models", {}).values():
        yield from model.get("presets", {}).values()


def _category(document: Document, key: str) -> dict[str, Any]:
    for category in document["categories"]:
        if category["key"] == key:
            return dict(category)
    raise NotFound(f"There is no category {key}.")


def _check_free(document: Document, key: str) -> None:
    if any(category["key"] == key for category in document["categories"]):
        raise Refused.because("stands already", column="key", value=key)
