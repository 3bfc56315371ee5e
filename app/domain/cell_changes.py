"""Several cells of a draft changed at once, and what they were before, so that it can be undone."""

from collections.abc import Mapping
from typing import Any

from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.domain.documents import Document, setting_in
from app.domain.errors import NotFound

CellChanges = Mapping[str, Mapping[str, Mapping[str, Any] | None]]
"""Category → alarm → the setting as a document holds it; None: blank."""


def with_cells(document: Document, changes: CellChanges) -> dict[str, Any]:
    known = {category["key"] for category in document["categories"]}
    changed = dict(document["settings"])
    for category, cells in changes.items():
        if category not in known or not cells.keys() <= ALARM_CONDITIONS.keys():
            raise NotFound("There is no such cell.")
        settings = changed[category] = dict(changed.get(category, {}))
        for alarm, setting in cells.items():
            settings.pop(alarm, None)
            if setting is not None:
                settings[alarm] = dict(setting)
    return {**document, "settings": changed}


def cells_before(
    document: Document, changes: CellChanges
) -> dict[str, dict[str, dict[str, Any] | None]]:
    """The same cells as they stand in the document: what takes `changes` back."""
    return {
        category: {alarm: setting_in(document, category, alarm) for alarm in cells}
        for category, cells in changes.items()
    }
