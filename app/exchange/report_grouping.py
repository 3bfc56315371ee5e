"""Rows of readings → reports: which rows belong together, and what is wrong with the others."""

from collections.abc import Hashable, Iterable, Iterator, Sequence
from dataclasses import asdict
from datetime import datetime
from functools import lru_cache
from operator import itemgetter
from typing import NamedTuple, TypeVar

from app.domain.device_reports import StateRead, Told
from app.domain.device_tags import claims, not_found_words
from app.domain.errors import Refused
from app.domain.option_judgement import ANY_PRESET
from app.domain.plain_text import line
from app.domain.reading_sets import BlockReport, Cell, ReadingSet, reading_set
from app.exchange.csv_text import Faults
from app.exchange.known_fleets import KnownFleet
from app.exchange.report_cells import OF_A_READING, Cells, Texts, an_alarm, an_option
from app.exchange.report_keys import ContentKeys
from app.exchange.report_rows import Rows, too_long
from app.exchange.reports_csv import (
    WrongCell,
    moment,
    needed,
    printable,
    told_in,
    word_in,
)

MOST_REPORTS = 100_000
MOST_ROWS = 500
"""Rows of a report. Like the different readings, both bound the memory that a file can take,
whatever is in it."""
Key = TypeVar("Key")
Value = TypeVar("Value")
_MOST_ALIKE = 500
"""Kept of what stood further up, of each kind."""


Head = tuple[str, datetime, StateRead, str, Told]


class _Alike(NamedTuple):
    """What many heads share; `model` as the file names it."""

    model: str
    preset: str
    state_read: StateRead
    told: Told


class _Group:
    """The rows of one report so far; `cells` of each row. Most have just one run of rows."""

    __slots__ = ("cells", "rows", "told")

    def __init__(self, told: Told, cells: Sequence[int], rows: tuple[int, ...]) -> None:
        self.told, self.cells, self.rows = told, cells, rows

    def add(self, cells: Sequence[int], rows: tuple[int, ...]) -> None:
        self.cells = (*self.cells, *cells)
        self.rows = (*self.rows, *rows)

    def each_row(self) -> Iterator[int]:
        for first, count in zip(self.rows[::2], self.rows[1::2], strict=True):
            yield from range(first, first + count)


class Grouping:
    def __init__(self, rows: Rows, known: KnownFleet, now: datetime, faults: Faults) -> None:
        header = list(rows.header)
        self.rows, self.known, self.now, self.faults = rows, known, now, faults
        self.heads = tuple(name for name in header if name not in OF_A_READING)
        self.names = tuple(name for name in header if name in OF_A_READING)
        self.shared_at = [header.index(name) for name in self.heads]
        self.others_at = [header.index(name) for name in self.names]
        beside = len(self.heads)
        self.alarms = Cells(self.names, an_alarm, beside=beside, wide=rows.wide)
        self.options = Cells(self.names, an_option, beside=beside, wide=rows.wide)
        self.groups: dict[tuple[str, datetime, StateRead, str], _Group] = {}
        self.shared: dict[tuple[int, ...], tuple[int, ...]] = {}
        self.told: dict[Told, Told] = {}
        self.offered = lru_cache(maxsize=_MOST_ALIKE)(known.presets_at)
        self._moments: dict[str, datetime] = {}
        self._alike: dict[Texts, _Alike] = {}
        self._numbers: dict[tuple[bool, tuple[Hashable, ...]], tuple[int, ...]] = {}
        own = self.heads.index("device"), self.heads.index("read_at")
        self._of_its_own = itemgetter(*own)
        self._of_many = itemgetter(*(at for at in range(len(self.heads)) if at not in own))

    def reports(self) -> list[BlockReport]:
        preset = self.heads.index("preset")
        for texts, first, run in self.rows.runs(self.shared_at, self.others_at):
            cells = self.options if texts[preset].strip() == ANY_PRESET else self.alarms
            found = self._numbers_of(run, cells)
            try:
                self._add(self._head(texts), found, first, cells)
            except WrongCell as wrong:
                self._refuse(range(first, first + len(found)), wrong)
        return list(self._reports())

    # --- one run of rows

    def _numbers_of(self, run: Iterable[Hashable], cells: Cells) -> tuple[int, ...]:
        """One a row; the same rows of thousands of reports are looked at once."""
        key = cells is self.options, tuple(run)
        found = self._numbers.get(key)
        if found is None:
            found = tuple([cells[one] for one in key[1]])
            _keep(self._numbers, key, found)
        return found

    def _add(self, head: Head, found: tuple[int, ...], first: int, cells: Cells) -> None:
        device, read_at, state, preset, told = head
        key = device, read_at, state, preset
        group = self.groups.get(key)
        if group is not None and group.told != told:
            raise self._differs(group, told)
        if len(found) + (0 if group is None else len(group.cells)) > MOST_ROWS:
            raise WrongCell("alarm", f"this report has more than {MOST_ROWS} rows", "")
        rows: tuple[int, ...] = (first, len(found))
        if min(found) < 0:
            rows, found = self._without_wrong(found, first, cells)
            if not found:
                return
        if group is None:
            self._check_room()
            self.groups[key] = _Group(told, self.shared.setdefault(found, found), rows)
        else:
            group.add(found, rows)

    def _without_wrong(
        self, found: tuple[int, ...], first: int, cells: Cells
    ) -> tuple[tuple[int, ...], tuple[int, ...]]:
        rows: list[int] = []
        for row, cell in enumerate(found, start=first):
            if cell < 0:
                self._refuse([row], cells.wrong[-cell - 1])
            else:
                rows += (row, 1)
        return tuple(rows), tuple(cell for cell in found if cell >= 0)

    def _check_room(self) -> None:
        if len(self.groups) >= MOST_REPORTS:
            raise Refused.because(
                f"the file holds more than {MOST_REPORTS} reports: split it", column="file"
            )

    def _refuse(self, rows: Sequence[int], wrong: WrongCell) -> None:
        for row in rows:
            self.faults.add(self.rows.lines[row], wrong.column, str(wrong), wrong.value)

    def _differs(self, group: _Group, told: Told) -> WrongCell:
        """Whoever read a preset, and with what software, is the same in all of its rows."""
        before, here = asdict(group.told), asdict(told)
        column = next(name for name, one in here.items() if one != before[name])
        above = self.rows.lines[group.rows[0]]
        reason = f"differs from line {above}, which is of the same report"
        return WrongCell(column, reason, str(here[column]))

    # --- what the rows of a report share

    def _head(self, texts: Texts) -> Head:
        """Most of its cells stood further up as well, and were right."""
        device, written = self._of_its_own(texts)
        read_at, alike = self._moments.get(written), self._alike.get(self._of_many(texts))
        if read_at is None or alike is None or device not in self.known.models:
            return self._read_head(texts)
        self._check(device, alike.model, alike.preset, read_at)
        return device, read_at, alike.state_read, alike.preset, alike.told

    def _read_head(self, texts: Texts) -> Head:
        if too_long(texts):
            raise WrongCell("row", "a cell is longer than 2000 characters", "")
        cells = {
            name: text.strip() if text.isprintable() else printable(name, text.strip())
            for name, text in zip(self.heads, texts, strict=True)
        }
        device = needed(cells, "device")
        read_at = moment(cells["read_at"], self.now)
        state = word_in(cells, "state_read", StateRead)
        preset = _one_line("preset", needed(cells, "preset"))
        named = cells.get("model", "")
        self._check(device, named, preset, read_at)
        told = self._told(cells)
        _keep(self._moments, self._of_its_own(texts)[1], read_at)
        _keep(self._alike, self._of_many(texts), _Alike(named, preset, state, told))
        return device, read_at, state, preset, told

    def _check(self, device: str, named: str, preset: str, read_at: datetime) -> None:
        model = self.known.models.get(device)
        if model is None:
            raise WrongCell("device", _no_such_device(device, self.known), device)
        if named and named != model:
            raise WrongCell("model", f"this device is a {model} here", named)
        offered = self.offered(read_at, model)
        if offered is not None and preset not in offered and preset != ANY_PRESET:
            raise WrongCell("preset", f"must be one of {', '.join(offered)}", preset)

    def _told(self, cells: dict[str, str]) -> Told:
        if len(cells) == _LEAST_OF_A_HEAD:
            return _NOTHING_TOLD
        told = told_in(cells)
        return self.told.setdefault(told, told)

    # --- all of them

    def _reports(self) -> Iterator[BlockReport]:
        sets: dict[tuple[str, tuple[int, ...]], ReadingSet] = {}
        keys = ContentKeys()
        for place in list(self.groups):
            (device, read_at, state, preset), group = place, self.groups.pop(place)
            cells = (self.options if preset == ANY_PRESET else self.alarms).good
            numbers = tuple(group.cells)
            found = sets.get((preset, numbers))
            if found is None:
                found = reading_set(preset, self._once(group, cells))
                sets[preset, numbers] = found
            elif len(found.cells) < len(numbers):  # told again, by the lines of this report
                self._once(group, cells)
            key = keys.key(device, read_at, state, found, group.told)
            yield BlockReport(device, read_at, state, group.told, found, key, group.rows)

    def _once(self, group: _Group, cells: Sequence[Cell]) -> list[Cell]:
        """Those of the first row of each alarm; of an alarm that stands twice the rest is told."""
        found = [cells[number] for number in group.cells]
        if len({cell.alarm for cell in found}) == len(found):
            return found
        first: dict[str, int] = {}
        for row, cell in zip(group.each_row(), found, strict=True):
            above = first.setdefault(cell.alarm, row)
            if above != row:
                told = f"the same reading already stands in line {self.rows.lines[above]}"
                self._refuse([row], WrongCell("alarm", told, cell.alarm))
        kept = {cell.alarm: cell for cell in reversed(found)}
        return [kept[alarm] for alarm in first]


_NOTHING_TOLD = Told()
_LEAST_OF_A_HEAD = 4


def _keep(found: dict[Key, Value], key: Key, value: Value) -> None:
    """For the lines to come; forgets all rather than grow with the file."""
    if len(found) >= _MOST_ALIKE:
        found.clear()
    found[key] = value


def _one_line(column: str, text: str) -> str:
    try:
        return line(text, column=column)
    except Refused as refused:
        raise WrongCell(column, refused.faults[0].reason, text) from None


def _no_such_device(tag: str, known: KnownFleet) -> str:
    told = "there is no such device: add it to the register first"
    return not_found_words(tag, known.models) if claims(tag) else told
