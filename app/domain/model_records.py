"""What the fleet's own tests have shown of a device model. The profile says what is signed."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from enum import StrEnum
from typing import Any

from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.domain.device_models import DeviceModel, Grid
from app.domain.settings_of_alarms import as_number, show_number
from app.domain.written_limits import shown_unit


class Happening(StrEnum):
    """What may make a device forget what a crew changed by hand."""

    POWER_OFF = "power-off"
    STANDBY = "standby"
    DISCONNECT = "disconnect"
    NEW_PATIENT = "new-patient"
    CATEGORY_CHANGE = "category-change"

    @property
    def words(self) -> str:
        return _HAPPENS[self]


_HAPPENS = {
    Happening.POWER_OFF: "Switched off for longer than it keeps changes",
    Happening.STANDBY: "Standby and back",
    Happening.DISCONNECT: "Sensors taken off",
    Happening.NEW_PATIENT: "New patient begun",
    Happening.CATEGORY_CHANGE: "Another patient category chosen",
}


class Outcome(StrEnum):
    REVERTS = "reverts"
    KEEPS = "keeps"
    NOT_TESTED = "not-tested"

    @property
    def words(self) -> str:
        return _OUTCOMES[self]


_OUTCOMES = {
    Outcome.REVERTS: "goes back to the stored preset",
    Outcome.KEEPS: "keeps what was set by hand",
    Outcome.NOT_TESTED: "not tested",
}


@dataclass(frozen=True)
class ModelFacts:
    """`retention_min`: minutes off within which it keeps changes; None: nobody has tested it.

    `audible`: how the alarm was heard at the crew's seat, in words.
    """

    label: str = ""
    presets: tuple[str, ...] = ()
    grid: Mapping[str, Grid] = field(default_factory=dict)
    etco2_unit: str = "mm[Hg]"
    retention_min: Decimal | None = None
    reverts: Mapping[Happening, Outcome] = field(default_factory=dict)
    software: str = ""
    tested_on: date | None = None
    tested_by: str = ""
    audible: str = ""
    note: str = ""

    def outcome(self, happening: Happening) -> Outcome:
        return self.reverts.get(happening, Outcome.NOT_TESTED)


@dataclass(frozen=True)
class ModelRecord:
    """Facts as somebody recorded them; an older record is kept behind every newer one."""

    key: str
    facts: ModelFacts
    recorded_at: datetime
    recorded_by: str


def disagreements(facts: ModelFacts, signed: DeviceModel) -> tuple[str, ...]:
    """Where the register and a profile say different things of a model; each in a sentence."""
    return tuple(_disagreements(facts, signed))


def _disagreements(facts: ModelFacts, signed: DeviceModel) -> Iterator[str]:
    if facts.retention_min != signed.retention_min:
        yield (
            f"Keeps changes for {_minutes(facts.retention_min)} by the register, "
            f"for {_minutes(signed.retention_min)} by the policy."
        )
    if facts.etco2_unit != signed.etco2_unit:
        yield (
            f"Shows EtCO₂ in {shown_unit(facts.etco2_unit)} by the register, "
            f"in {shown_unit(signed.etco2_unit)} by the policy."
        )
    if facts.presets:
        yield from _presets(set(facts.presets), {preset.key for preset in signed.presets})
    if facts.grid:
        yield from _grids(facts.grid, signed.grid)


def _minutes(minutes: Decimal | None) -> str:
    return "a time that nobody has tested" if minutes is None else f"{show_number(minutes)} min"


def _presets(has: set[str], signed: set[str]) -> Iterator[str]:
    for name in sorted(has - signed):
        yield f"Has a preset {name} by the register that the policy does not map."
    for name in sorted(signed - has):
        yield f"Has no preset {name} by the register, but the policy maps one."


def _grids(has: Mapping[str, Grid], signed: Mapping[str, Grid]) -> Iterator[str]:
    apart = [
        condition.label
        for key, condition in ALARM_CONDITIONS.items()
        if key in has and key in signed and has[key] != signed[key]
    ]
    if apart:
        yield f"Can be set otherwise by the register than by the policy: {', '.join(apart)}."


def grid_document(grid: Mapping[str, Grid]) -> dict[str, Any]:
    """As a profile's document holds it."""
    return {
        alarm: {
            "from": as_number(one.start),
            "to": as_number(one.end),
            "step": as_number(one.step),
            "can_be_off": one.can_be_off,
        }
        for alarm, one in grid.items()
    }


def grid_from(document: Mapping[str, Any]) -> dict[str, Grid]:
    return {
        alarm: Grid(
            Decimal(str(one["from"])),
            Decimal(str(one["to"])),
            Decimal(str(one["step"])),
            one["can_be_off"],
        )
        for alarm, one in document.items()
    }
