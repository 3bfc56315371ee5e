"""Device reports as CSV, one reading a row → readings; every refused row told by line."""

from datetime import UTC, datetime
from decimal import Decimal
from typing import BinaryIO, TypeVar

from app.domain.alarm_conditions import ALARM_CONDITIONS, AlarmCondition
from app.domain.audit import ReadingRow
from app.domain.comparison import DEEP, base_alarm
from app.domain.device_reports import (
    CouldNotRead,
    FoundNotFitted,
    FoundOff,
    FoundOn,
    FoundText,
    Reading,
    StateRead,
    Told,
)
from app.domain.option_judgement import ANY_PRESET, LONGEST_TEXT
from app.domain.plain_text import BREAKS, is_printable
from app.domain.profiles import Profile
from app.domain.rendering import RenderedPreset, rendered_presets
from app.domain.settings_of_alarms import Priority, units_of
from app.exchange.csv_text import Faults, Line, read_lines
from app.exchange.numbers import plain_number

REQUIRED = ("device", "read_at", "state_read", "preset", "alarm", "reading")
OPTIONAL = (
    "unit",
    "priority",
    "delay_s",
    "latching",
    "model",
    "reader",
    "software",
    "trigger",
    "minutes_off",
    "device_clock",
)
COULD_NOT_READ = "could-not-read:"
LONGEST_TOLD = 200
MOST_MINUTES = 999_999


def read_reports(source: BinaryIO, profile: Profile, now: datetime) -> list[ReadingRow]:
    """All rows, or Refused with every row that is wrong."""
    rows, faults = _read(source, profile, now)
    faults.refuse_if_any()
    return rows


def read_rows(source: BinaryIO, now: datetime) -> tuple[list[ReadingRow], Faults]:
    """The rows that can be read, held against no profile, and what is wrong with the others."""
    return _read(source, None, now)


def _read(
    source: BinaryIO, profile: Profile | None, now: datetime
) -> tuple[list[ReadingRow], Faults]:
    reader = _Reader(profile, now)
    rows = [
        row
        for line in read_lines(source, required=REQUIRED, optional=OPTIONAL, faults=reader.faults)
        if (row := reader.row(line)) is not None
    ]
    return rows, reader.faults


class WrongCell(Exception):
    def __init__(self, column: str, reason: str, value: str) -> None:
        super().__init__(reason)
        self.column, self.reason, self.value = column, reason, value


class _Reader:
    def __init__(self, profile: Profile | None, now: datetime) -> None:
        self.profile = profile
        self.now = now
        self.faults = Faults()
        self.seen: dict[tuple[str, datetime, str, str, str], int] = {}
        self.models: dict[str, str] = {}
        self.presets: dict[str, dict[str, RenderedPreset]] = {}
        self.told: dict[Told, Told] = {}

    def row(self, line: Line) -> ReadingRow | None:
        try:
            return self._row(line)
        except WrongCell as wrong:
            self.faults.add(line.number, wrong.column, wrong.reason, wrong.value)
            return None

    def _row(self, line: Line) -> ReadingRow:
        cells = {name: printable(name, cell.strip()) for name, cell in line.cells.items()}
        device = needed(cells, "device")
        read_at = moment(cells["read_at"], self.now)
        state = word_in(cells, "state_read", StateRead)
        model = self._model(cells, device)
        preset, alarm = self._preset(cells, model), needed(cells, "alarm")
        reading = option_reading(cells) if preset == ANY_PRESET else alarm_reading(cells, alarm)
        if preset == ANY_PRESET and self.profile and alarm not in self.profile.options:
            raise WrongCell("alarm", "is no option of this profile", alarm)
        told = told_in(cells)
        told = self.told.setdefault(told, told)
        self._once((device, read_at, state.value, preset, alarm), line.number)
        return ReadingRow(
            line.number, device, read_at, state, preset, alarm, reading, model or None, told
        )

    def _model(self, cells: dict[str, str], device: str) -> str:
        model = cells.get("model", "")
        models = self.profile.models if self.profile else {}
        if model and models and model not in models:
            raise WrongCell("model", "is no model of this profile", model)
        known = self.models.setdefault(device, model)
        if model and model != known and (known or models):
            # A row above was read without the model, so its preset meant something else.
            further_up = f"a {known}" if known else "named without its model"
            raise WrongCell("model", f"this device was {further_up} further up", model)
        return model or known

    def _preset(self, cells: dict[str, str], model: str) -> str:
        preset = needed(cells, "preset")
        if self.profile is None:
            return preset
        if model not in self.presets:
            self.presets[model] = rendered_presets(self.profile, model)
        known = self.presets[model]
        if preset != ANY_PRESET and preset not in known:
            raise WrongCell("preset", f"must be one of {', '.join(known)}", preset)
        return preset

    def _once(self, key: tuple[str, datetime, str, str, str], line: int) -> None:
        first = self.seen.setdefault(key, line)
        if first != line:
            raise WrongCell("alarm", f"the same reading already stands in line {first}", key[-1])


def needed(cells: dict[str, str], column: str) -> str:
    if not cells[column]:
        raise WrongCell(column, "is empty", "")
    return cells[column]


def printable(column: str, cell: str) -> str:
    if not is_printable(cell, BREAKS):
        raise WrongCell(column, "holds characters that cannot be printed", cell)
    return cell


def told_in(cells: dict[str, str]) -> Told:
    texts = {
        name: cells.get(name, "") for name in ("reader", "software", "trigger", "device_clock")
    }
    for name, text in texts.items():
        if len(text) > LONGEST_TOLD:
            raise WrongCell(name, f"is longer than {LONGEST_TOLD} characters", text)
    return Told(**texts, minutes_off=_minutes(cells.get("minutes_off", "")))


def _minutes(text: str) -> int | None:
    number = plain_number(text) if text else None
    if text and (number is None or number != int(number) or not 0 <= number <= MOST_MINUTES):
        raise WrongCell("minutes_off", "must be a whole number of minutes", text)
    return None if number is None else int(number)


Word = TypeVar("Word", StateRead, Priority)


def word_in(cells: dict[str, str], column: str, words: type[Word]) -> Word:
    try:
        return words(cells[column])
    except ValueError:
        raise WrongCell(column, f"must be one of {', '.join(words)}", cells[column]) from None


def moment(text: str, now: datetime) -> datetime:
    """An instant with its zone, not in the future."""
    try:
        found = datetime.fromisoformat(text)
    except ValueError:
        raise WrongCell("read_at", "must be a time such as 2026-03-01T08:00:00Z", text) from None
    if found.tzinfo is None:
        raise WrongCell("read_at", "has no zone: add Z or an offset such as +01:00", text)
    if found > now:
        raise WrongCell("read_at", "lies in the future", text)
    try:
        return found.astimezone(UTC)
    except OverflowError:  # the first day of the calendar, east of Greenwich
        raise WrongCell("read_at", "is no time that a device can show", text) from None


def alarm_reading(cells: dict[str, str], alarm: str) -> Reading:
    condition = ALARM_CONDITIONS.get(base_alarm(alarm))
    if condition is None or (alarm.endswith(DEEP) and not condition.has_threshold):
        raise WrongCell("alarm", "is no alarm condition", alarm)
    text = needed(cells, "reading")
    if text.startswith(COULD_NOT_READ.rstrip(":")):
        return _could_not_read(text)
    if text == "off":
        return FoundOff()
    if text == "not-fitted":
        return FoundNotFitted()
    limit = _limit(text, condition)
    return FoundOn(
        limit,
        _unit(cells, condition),
        word_in(cells, "priority", Priority) if cells.get("priority") else None,
        _delay(cells.get("delay_s", "")),
        _latching(cells.get("latching", "")),
    )


def _could_not_read(text: str) -> CouldNotRead:
    why = text.removeprefix(COULD_NOT_READ).strip()
    if not text.startswith(COULD_NOT_READ) or not why:
        raise WrongCell("reading", "say why: could-not-read: why", text)
    return CouldNotRead(why)


def _limit(text: str, condition: AlarmCondition) -> Decimal | None:
    if text == "on":
        if condition.has_threshold:
            raise WrongCell("reading", "this alarm has a limit: write the number", text)
        return None
    number = plain_number(text)
    if number is None:
        words = "a number, on, off, not-fitted or could-not-read: why"
        raise WrongCell("reading", f"must be {words}", text)
    if not condition.has_threshold:
        raise WrongCell("reading", "this alarm has no limit: write on or off", text)
    return number


def _unit(cells: dict[str, str], condition: AlarmCondition) -> str | None:
    unit = cells.get("unit", "")
    if not unit:
        return None
    if unit not in units_of(condition):
        known = ", ".join(units_of(condition)) or "left empty"
        raise WrongCell("unit", f"must be {known}", unit)
    return unit


def _delay(text: str) -> Decimal | None:
    number = plain_number(text) if text else None
    if text and (number is None or number < 0):
        raise WrongCell("delay_s", "must be a number of seconds", text)
    return number


def _latching(text: str) -> bool | None:
    if text and text not in ("true", "false"):
        raise WrongCell("latching", "must be true or false", text)
    return None if not text else text == "true"


def option_reading(cells: dict[str, str]) -> Reading:
    text = needed(cells, "reading")
    if text.startswith(COULD_NOT_READ.rstrip(":")):
        return _could_not_read(text)
    if len(text) > LONGEST_TEXT:
        raise WrongCell("reading", f"is longer than {LONGEST_TEXT} characters", text)
    number = plain_number(text)
    return FoundOn(number) if number is not None else FoundText(text)
