"""What a model can be set to, as its table is typed: fields named `<alarm>.<part>`."""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from app.domain.alarm_conditions import ALARM_CONDITIONS, AlarmCondition
from app.domain.device_models import DeviceModel, Grid
from app.domain.errors import Fault, Refused
from app.domain.settings_of_alarms import as_number, show_number
from app.domain.written_limits import shown_unit

PARTS = ("from", "to", "step")
_NUMBER = re.compile(r"\d{1,5}(\.\d{1,3})?", re.ASCII)
_NO_THRESHOLD = {"from": 0, "to": 0, "step": 1}
Typed = Mapping[str, str]


@dataclass(frozen=True)
class GridRow:
    """`off`: `yes` or `no`; empty where nothing is said of an alarm."""

    alarm: AlarmCondition
    unit: str
    parts: tuple[tuple[str, str], ...]
    off: str


def grid_rows(model: DeviceModel, typed: Typed | None = None) -> tuple[GridRow, ...]:
    """As it stands, or as it was typed."""
    return tuple(_row(model, alarm, typed) for alarm in ALARM_CONDITIONS.values())


def _row(model: DeviceModel, alarm: AlarmCondition, typed: Typed | None) -> GridRow:
    unit = shown_unit(model.unit_of(alarm.quantity, alarm.unit) or "")
    cells = _cells(model.grid.get(alarm.key))
    if typed is not None:
        cells = {part: typed.get(f"{alarm.key}.{part}", "") for part in (*PARTS, "off")}
    shown = PARTS if alarm.has_threshold else ()
    return GridRow(alarm, unit, tuple((part, cells[part]) for part in shown), cells["off"])


def _cells(grid: Grid | None) -> dict[str, str]:
    if grid is None:
        return dict.fromkeys((*PARTS, "off"), "")
    reach = (grid.start, grid.end, grid.step)
    numbers = {part: show_number(value) for part, value in zip(PARTS, reach, strict=True)}
    return {**numbers, "off": "yes" if grid.can_be_off else "no"}


def typed_grid(typed: Typed) -> dict[str, Any]:
    """As a document holds it. Raises Refused with every cell that is wrong."""
    faults: list[Fault] = []
    found = {
        key: {**reach, "can_be_off": typed.get(f"{key}.off") == "yes"}
        for key, alarm in ALARM_CONDITIONS.items()
        if (reach := _reach(alarm, typed, faults)) is not None
    }
    if faults:
        raise Refused(faults)
    return found


def _reach(alarm: AlarmCondition, typed: Typed, faults: list[Fault]) -> dict[str, Any] | None:
    """None: nothing is said of this alarm."""
    if not alarm.has_threshold:
        return dict(_NO_THRESHOLD) if typed.get(f"{alarm.key}.off") in ("yes", "no") else None
    cells = {part: typed.get(f"{alarm.key}.{part}", "").strip() for part in PARTS}
    if not any(cells.values()) and not typed.get(f"{alarm.key}.off"):
        return None
    wrong = list(_wrong(alarm.key, cells))
    faults.extend(wrong)
    return None if wrong else {part: as_number(Decimal(cell)) for part, cell in cells.items()}


def _wrong(key: str, cells: Mapping[str, str]) -> Iterator[Fault]:
    bad = {part for part, cell in cells.items() if _NUMBER.fullmatch(cell) is None}
    for part in PARTS:
        if part in bad:
            told = "write a number such as 30" if cells[part] else "is missing"
            yield Fault(told, column=f"{key}.{part}", value=cells[part])
    if bad:
        return
    start, end, step = (Decimal(cells[part]) for part in PARTS)
    if not step:
        yield Fault("must be more than 0", column=f"{key}.step", value=cells["step"])
    elif end < start:
        yield Fault("must not be below from", column=f"{key}.to", value=cells["to"])
    elif (end - start) % step:
        told = f"no whole number of steps from {cells['from']}"
        yield Fault(told, column=f"{key}.to", value=cells["to"])
