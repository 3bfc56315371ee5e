"""Edits of a policy's circumstances: each gives a new document and leaves the old one as it was."""

from collections.abc import Mapping, Sequence
from copy import deepcopy
from typing import Any

from app.domain.documents import Document
from app.domain.errors import NotFound, Refused

CIRCUMSTANCES = "circumstances"


def circumstance_in(document: Document, key: str) -> dict[str, Any]:
    """As it stands in the document; raises NotFound."""
    for circumstance in document.get(CIRCUMSTANCES, ()):
        if circumstance["key"] == key:
            return dict(circumstance)
    raise NotFound(f"There is no circumstance {key}.")


def with_circumstance(
    document: Document, key: str, *, label: str, applies_to: Sequence[str]
) -> dict[str, Any]:
    """New, with nothing changed by it yet; raises Refused where the key is taken."""
    if any(one["key"] == key for one in document.get(CIRCUMSTANCES, ())):
        raise Refused.because("stands already", column="key", value=key)
    changed = deepcopy(dict(document))
    new = {"key": key, "applies_to": list(applies_to), "settings": {}}
    changed.setdefault(CIRCUMSTANCES, []).append(_labelled(new, label))
    return changed


def with_reach(
    document: Document, key: str, *, label: str, applies_to: Sequence[str]
) -> dict[str, Any]:
    """What it is called and whom it may be chosen for; what it changes stays."""
    held = circumstance_in(document, key)
    return _replaced(document, _labelled({**held, "applies_to": list(applies_to)}, label))


def _labelled(circumstance: Mapping[str, Any], label: str) -> dict[str, Any]:
    kept = {part: value for part, value in circumstance.items() if part != "label"}
    return {**kept, "label": label} if label else kept


def without_circumstance(document: Document, key: str) -> dict[str, Any]:
    """What it changed goes with it."""
    circumstance_in(document, key)
    changed = deepcopy(dict(document))
    changed[CIRCUMSTANCES] = [one for one in changed[CIRCUMSTANCES] if one["key"] != key]
    if not changed[CIRCUMSTANCES]:
        del changed[CIRCUMSTANCES]
    return changed


def overlaid_setting_in(document: Document, key: str, alarm: str) -> dict[str, Any] | None:
    """None: the circumstance leaves this alarm as it is."""
    found = circumstance_in(document, key)["settings"].get(alarm)
    return None if found is None else dict(found)


def with_overlaid_setting(
    document: Document, key: str, alarm: str, setting: Mapping[str, Any] | None
) -> dict[str, Any]:
    """None: the ordinary setting of each category holds."""
    held = circumstance_in(document, key)
    settings = {name: one for name, one in held["settings"].items() if name != alarm}
    if setting is not None:
        settings[alarm] = dict(setting)
    return _replaced(document, {**held, "settings": settings})


def _replaced(document: Document, circumstance: Mapping[str, Any]) -> dict[str, Any]:
    changed = deepcopy(dict(document))
    changed[CIRCUMSTANCES] = [
        dict(circumstance) if one["key"] == circumstance["key"] else one
        for one in changed[CIRCUMSTANCES]
    ]
    return changed
