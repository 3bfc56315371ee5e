"""A workbook (XLSX) that somebody filled in → the profile. What is wrong is told by its cell."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from app.domain.errors import Fault, Refused
from app.domain.profiles import Profile
from app.exchange import profile_xlsx_columns as sheets
from app.exchange.json_text import Path, PlacedDocument
from app.exchange.profile_json import profile_in
from app.exchange.profile_xlsx_cells import LEFT, Value
from app.exchange.profile_xlsx_columns import Sheet
from app.exchange.profile_xlsx_rows import Faults, Filled, Row, at_cell, filled_in
from app.exchange.profile_xlsx_tables import ANCHORS


@dataclass(frozen=True)
class ReadWorkbook:
    """`edit_version` is that of the draft from which it was written; None: it does not say."""

    profile: Profile
    edit_version: int | None


def read_workbook(raw: bytes) -> ReadWorkbook:
    """Raises Refused with the sheet and cell of everything that is wrong."""
    faults = Faults()
    filled = filled_in(raw, faults)
    reading = _Reading(filled, faults)
    placed = _PlacedOnSheets(reading.document(), "workbook", cells=reading.cells)
    version, _ = filled.about.get(sheets.EDIT_VERSION, (None, ""))
    try:
        profile = profile_in(placed)
    except Refused as refused:
        faults.add_those_elsewhere(refused.faults)
        raise faults.refusal() from None
    faults.refuse_if_any()
    return ReadWorkbook(profile, version if isinstance(version, int) else None)


@dataclass
class _PlacedOnSheets(PlacedDocument):
    """Tells a fault of the document by the cell that holds it, or should hold it."""

    cells: dict[Path, str] = field(default_factory=dict)

    def fault(self, path: Path, reason: str, value: object = None) -> Fault:
        told = reason.removeprefix(f"{' / '.join(map(str, path))}: ")
        near = path
        while near and near not in self.cells:
            near = near[:-1]
        place = self.cells.get(near)
        if place is None:
            return Fault(reason, value=value)
        if told == "unknown key":
            told = "must stay empty in this row"
        return at_cell(place, told, value)


class _Reading:
    """Puts the document together row by row, and notes which cell each part came from."""

    def __init__(self, filled: Filled, faults: Faults) -> None:
        self.filled, self.faults = filled, faults
        self.cells: dict[Path, str] = {}

    def document(self) -> dict[str, Any]:
        found: dict[str, Any] = {}
        for key, (value, place) in self.filled.about.items():
            if key in sheets.ABOUT_KEYS:
                self.cells[key,] = place
                found |= {} if value is LEFT else {key: value}
        found |= {"categories": self._categories(), "settings": self._settings()}
        found |= self._circumstances()
        found |= self._keyed(sheets.OPTIONS, "options")
        found |= self._models()
        return found

    def _rows(self, sheet: Sheet) -> Iterator[tuple[Row, tuple[Value, ...]]]:
        """Each row with its names; one without all of them is told, one named twice too."""
        seen: dict[tuple[str, ...], int] = {}
        for row in self.filled.rows.get(sheet.name, []):
            names = tuple(row.values.get(column.name, LEFT) for column in sheet.names)
            if self._named(sheet, row, names):
                known = tuple(map(str, names))
                if known in seen and sheet not in (sheets.CATEGORIES, sheets.CIRCUMSTANCES):
                    place = row.where[sheet.names[-1].name]
                    self.faults.add(place, f"stands twice: also in row {seen[known]}", names[-1])
                seen.setdefault(known, row.number)
                yield row, names

    def _named(self, sheet: Sheet, row: Row, names: tuple[Value, ...]) -> bool:
        for column, name in zip(sheet.names, names, strict=True):
            if not isinstance(name, str) and not (name == {} and not row.has(sheet.columns)):
                reason = "is missing" if name is LEFT else "must be text"
                self.faults.add(row.where.get(column.name, f"{sheet.name}!A{row.number}"), reason)
                return False
        return True

    def _entry(self, sheet: Sheet, row: Row, path: Path) -> dict[str, Any]:
        entry: dict[str, Any] = {}
        self.cells.setdefault(path, row.where.get(sheet.columns[0].name, f"{sheet.name}!A1"))
        for column in sheet.columns:
            if column.name in row.where:
                self.cells[(*path, *column.path)] = row.where[column.name]
            value = row.values.get(column.name, LEFT)
            if value is not LEFT:
                first, *rest = column.path
                if rest:
                    entry.setdefault(first, {})[rest[0]] = value
                    self.cells.setdefault((*path, first), row.where[column.name])
                else:
                    entry[first] = value
        return {key: _whole(key, value) for key, value in entry.items()}

    def _categories(self) -> list[dict[str, Any]]:
        found: list[dict[str, Any]] = []
        for row, (key,) in self._rows(sheets.CATEGORIES):
            path: Path = ("categories", len(found))
            self.cells[(*path, "key")] = row.where["key"]
            found.append({"key": key, "to": None} | self._entry(sheets.CATEGORIES, row, path))
        return found

    def _settings(self) -> dict[str, Any]:
        found: dict[str, Any] = {}
        for row, (category, alarm) in self._rows(sheets.SETTINGS):
            self.cells.setdefault(("settings", category), row.where["category"])
            settings = found.setdefault(category, {})
            if row.has(sheets.SETTINGS.columns):
                settings[alarm] = self._setting(sheets.SETTINGS, row, ("settings", category, alarm))
        return found

    def _setting(self, sheet: Sheet, row: Row, path: Path) -> dict[str, Any]:
        setting = self._entry(sheet, row, path)
        if path[-1] not in sheets.ALARMS:
            self.cells[path] = row.where["alarm"]
        return setting

    def _circumstances(self) -> dict[str, Any]:
        found: list[dict[str, Any]] = []
        rows = list(self._rows(sheets.CIRCUMSTANCES))
        for row, (key,) in rows:
            if isinstance(key, str):
                path: Path = ("circumstances", len(found))
                self.cells[(*path, "key")] = row.where["key"]
                entry = self._entry(sheets.CIRCUMSTANCES, row, path)
                found.append({"key": key, "settings": {}} | entry)
        for row, (key, alarm) in self._rows(sheets.OVERLAYS):
            at = next((at for at, one in enumerate(found) if one["key"] == key), None)
            if at is None:
                place = row.where["circumstance"]
                self.faults.add(place, f"is not on the sheet {sheets.CIRCUMSTANCES.name}", key)
            elif row.has(sheets.OVERLAYS.columns):
                path = ("circumstances", at, "settings", alarm)
                found[at]["settings"][alarm] = self._setting(sheets.OVERLAYS, row, path)
        return {"circumstances": found} if rows else {}

    def _keyed(self, sheet: Sheet, key: str) -> dict[str, Any]:
        """By name; a row with the mark of an empty list says that there are expressly none."""
        rows = list(self._rows(sheet))
        found: dict[str, Any] = {}
        for row, (name,) in rows:
            if isinstance(name, str):
                found[name] = self._entry(sheet, row, (key, name))
                self.cells[key, name] = row.where[sheet.names[0].name]
        return {key: found} if rows else {}

    def _models(self) -> dict[str, Any]:
        found = self._keyed(sheets.MODELS, "models")
        models = found.get("models", {})
        for sheet, key in ((sheets.PRESETS, "presets"), (sheets.GRIDS, "grid")):
            for row, (model, name) in self._rows(sheet):
                if model not in models:
                    place = row.where["model"]
                    self.faults.add(place, f"is not on the sheet {sheets.MODELS.name}", model)
                    continue
                held = models[model].setdefault(key, {})
                if isinstance(name, str):
                    path = ("models", model, key, name)
                    held[name] = self._entry(sheet, row, path)
                    if key == "presets" or name not in sheets.ALARMS:
                        self.cells[path] = row.where[sheet.names[-1].name]
        return found


def _whole(key: str, value: Value) -> Value:
    """A cell alone may say that the whole nested value is null, or holds nothing."""
    if key not in ANCHORS or set(value) != {ANCHORS[key]}:
        return value
    alone = value[ANCHORS[key]]
    return alone if alone is None or alone == {} else value
