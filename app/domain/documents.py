"""Edits of a policy's document: each gives a new document and leaves the old one as it was.

Both share what the edit does not touch, for nobody changes a document in place. A document is
the profile's parsed JSON; whether the result is a profile at all is asked of whoever reads it next.
"""

from collections.abc import Mapping
from copy import deepcopy
from decimal import Decimal
from typing import Any

from app.domain.errors import NotFound, Refused
from app.domain.settings_of_alarms import as_number

Document = Mapping[str, Any]


def empty_document(name: str) -> dict[str, Any]:
    """One category for every age, and nothing said of any alarm."""
    return {
        "format": "marchstone-profile/1",
        "agency": name,
        "profile": "Alarm-limit policy",
        "revision": 1,
        "categories": [{"key": "all-ages", "label": "All ages", "from": "0 d", "to": None}],
        "settings": {"all-ages": {}},
    }


def setting_in(document: Document, category: str, alarm: str) -> dict[str, Any] | None:
    """As it stands in the document; None: a blank."""
    found = document["settings"].get(category, {}).get(alarm)
    return None if found is None else dict(found)


def with_setting(
    document: Document, category: str, alarm: str, setting: Mapping[str, Any] | None
) -> dict[str, Any]:
    """None leaves the alarm blank."""
    _check_category(document, category)
    settings = dict(document["settings"].get(category, {}))
    settings.pop(alarm, None)
    if setting is not None:
        settings[alarm] = dict(setting)
    return {**document, "settings": {**document["settings"], category: settings}}


def with_limit(document: Document, category: str, alarm: str, limit: Decimal) -> dict[str, Any]:
    """Everything else about the alarm stays."""
    setting = setting_in(document, category, alarm)
    if setting is None or setting["state"] != "on":
        raise NotFound("There is no limit here that could be moved.")
    return with_setting(document, category, alarm, {**setting, "limit": as_number(limit)})


def with_category(document: Document, category: Mapping[str, Any]) -> dict[str, Any]:
    """Replaces the one with the same key, else adds it, with nothing said of any alarm."""
    changed = deepcopy(dict(document))
    others = [other for other in changed["categories"] if other["key"] != category["key"]]
    changed["categories"] = others
    place = len(others)
    for index, other in enumerate(document["categories"]):
        if other["key"] == category["key"]:
            place = index
    others.insert(place, dict(category))
    changed["settings"].setdefault(category["key"], {})
    return changed


def without_category(document: Document, key: str) -> dict[str, Any]:
    """Its settings go with it, and circumstances no longer apply to it."""
    _check_category(document, key)
    if len(document["categories"]) == 1:
        raise Refused.because("a policy needs at least one category", column="key")
    changed = deepcopy(dict(document))
    changed["categories"] = [one for one in changed["categories"] if one["key"] != key]
    changed["settings"].pop(key, None)
    for circumstance in changed.get("circumstances", ()):
        circumstance["applies_to"] = [one for one in circumstance["applies_to"] if one != key]
    return changed


def _check_category(document: Document, key: str) -> None:
    if all(category["key"] != key for category in document["categories"]):
        raise NotFound(f"There is no category {key}.")
