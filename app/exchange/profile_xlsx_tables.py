"""A profile's document as the rows of its sheets, each a value a column; only for writing."""

from collections.abc import Callable, Iterator, Mapping
from typing import Any

from app.exchange import profile_xlsx_columns as sheets
from app.exchange.profile_xlsx_cells import LEFT, Value
from app.exchange.profile_xlsx_columns import Column, Sheet

Document = Mapping[str, Any]
Row = tuple[Value, ...]
ANCHORS = {"deep": "limit", "latitude": "off_by"}
"""The part of a nested value whose cell says that the whole is null or holds nothing."""


def tables_of(document: Document) -> dict[str, list[Row]]:
    """By the name of the sheet. The document must be a profile already."""
    return {sheet.name: list(_ROWS[sheet.name](document)) for sheet in sheets.SHEETS}


def _row(sheet: Sheet, names: tuple[Value, ...], entry: Document) -> Row:
    return (*names, *(_value(entry, column) for column in sheet.columns))


def _value(entry: Document, column: Column) -> Value:
    first, *rest = column.path
    value = entry.get(first, LEFT)
    if not rest or value is LEFT:
        return value
    if not value:  # null or nothing: one cell says so for all
        return value if rest[0] == ANCHORS[first] else LEFT
    return value.get(rest[0], LEFT)


def _nothing(sheet: Sheet, *names: Value) -> Row:
    """The row that says that there is explicitly nothing, where leaving it out says less."""
    left = (LEFT,) * (len(sheet.all) - len(names) - 1)
    return (*names, {}, *left)


def _categories(document: Document) -> Iterator[Row]:
    for entry in document["categories"]:
        row = _row(sheets.CATEGORIES, (entry["key"],), entry)
        yield tuple(LEFT if value is None else value for value in row)  # no upper end: empty


def _settings(document: Document) -> Iterator[Row]:
    """A row for every alarm, so that blanks are seen."""
    for category, settings in document["settings"].items():
        for alarm in sheets.ALARMS:
            yield _row(sheets.SETTINGS, (category, alarm), settings.get(alarm, {}))


def _circumstances(document: Document) -> Iterator[Row]:
    if document.get("circumstances") == []:
        yield _nothing(sheets.CIRCUMSTANCES)
    for entry in document.get("circumstances", ()):
        yield _row(sheets.CIRCUMSTANCES, (entry["key"],), entry)


def _overlays(document: Document) -> Iterator[Row]:
    for entry in document.get("circumstances", ()):
        for alarm, setting in entry["settings"].items():
            yield _row(sheets.OVERLAYS, (entry["key"], alarm), setting)


def _keyed(sheet: Sheet, key: str, document: Document) -> Iterator[Row]:
    if document.get(key) == {}:
        yield _nothing(sheet)
    for name, entry in document.get(key, {}).items():
        yield _row(sheet, (name,), entry)


def _within_models(sheet: Sheet, key: str, document: Document) -> Iterator[Row]:
    for model, held in document.get("models", {}).items():
        if held.get(key) == {}:
            yield _nothing(sheet, model)
        for name, entry in held.get(key, {}).items():
            yield _row(sheet, (model, name), entry)


_ROWS: dict[str, Callable[[Document], Iterator[Row]]] = {
    sheets.CATEGORIES.name: _categories,
    sheets.SETTINGS.name: _settings,
    sheets.CIRCUMSTANCES.name: _circumstances,
    sheets.OVERLAYS.name: _overlays,
    sheets.OPTIONS.name: lambda document: _keyed(sheets.OPTIONS, "options", document),
    sheets.MODELS.name: lambda document: _keyed(sheets.MODELS, "models", document),
    sheets.PRESETS.name: lambda document: _within_models(sheets.PRESETS, "presets", document),
    sheets.GRIDS.name: lambda document: _within_models(sheets.GRIDS, "grid", document),
}
