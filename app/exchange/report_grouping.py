"""Rows of readings → reports: which rows belong together, and what is wrong with the others."""

from collections.abc import Hashable, Iterable, Sequence
from dataclasses import asdict
from datetime import datetime
from functools import lru_cache
from operator import itemgetter
from typing import NamedTuple, TypeVar

from app.domain.block_reports import BlockReports, How, ticks
from app.domain.device_reports import StateRead, Told
from app.domain.device_tags import claims, not_found_words
from app.domain.errors import Refused
from app.domain.option_judgement import ANY_PRESET
from app.domain.plain_text import line
from app.exchange.csv_text import Faults
from app.exchange.known_fleets import KnownFleet
from app.exchange.report_cells import OF_A_READING, Cells, Texts, an_alarm, an_option
from app.exchange.report_gathering import Found, Gathered
from app.exchange.report_rows import Rows, too_long
from app.exchange.report_sets import ReportSets
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


class _Alike(NamedTuple):
    """What many heads share; `model` as the file names it. `place` and `how`: its numbers among
    what was gathered."""

    model: str
    preset: str
    told: Told
    place: int
    how: int


Head = tuple[str, int, _Alike]
"""Device, when it was read in ticks, and what it shares with others."""


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
        self.gathered = Gathered()
        self.offered = lru_cache(maxsize=_MOST_ALIKE)(known.presets_at)
        self._moments: dict[str, tuple[datetime, int]] = {}
        self._alike: dict[Texts, _Alike] = {}
        self._seen: dict[tuple[bool, tuple[Hashable, ...]], Found] = {}
        own = self.heads.index("device"), self.heads.index("read_at")
        self._of_its_own = itemgetter(*own)
        self._of_many = itemgetter(*(at for at in range(len(self.heads)) if at not in own))

    def reports(self) -> BlockReports:
        preset = self.heads.index("preset")
        for texts, first, run in self.rows.runs(self.shared_at, self.others_at):
            cells = self.options if texts[preset].strip() == ANY_PRESET else self.alarms
            found = self._found_in(run, cells)
            try:
                self._add(self._head(texts), found, first, cells)
            except WrongCell as wrong:
                self._refuse(range(first, first + len(found.cells)), wrong)
        self.gathered.forget()
        sets = ReportSets(self.alarms.good, self.options.good, self.rows.lines, self._refuse)
        return sets.finish(self.gathered)

    # --- one run of rows

    def _found_in(self, run: Iterable[Hashable], cells: Cells) -> Found:
        """The same rows of thousands of reports are looked at once."""
        key = cells is self.options, tuple(run)
        found = self._seen.get(key)
        if found is None:
            found = self._look_at(key[1], cells)
            _keep(self._seen, key, found)
        return found

    def _look_at(self, run: Iterable[Hashable], cells: Cells) -> Found:
        return Found(tuple([cells[one] for one in run]))

    def _add(self, head: Head, found: Found, first: int, cells: Cells) -> None:
        (tag, at, alike), gathered = head, self.gathered
        place = gathered.place(tag, at, alike.place)
        number, size = gathered.find(place), len(found.cells)
        if number is not None:
            if gathered.told(number) != alike.told:
                raise self._differs(number, alike.told)
            size += gathered.size(number)
        if size > MOST_ROWS:
            raise WrongCell("alarm", f"this report has more than {MOST_ROWS} rows", "")
        rows: tuple[int, ...] = (first, len(found.cells))
        if found.is_wrong:
            rows, good = self._without_wrong(found.cells, first, cells)
            if not good:
                return
            found = Found(good)
        if number is None:
            self._check_room()
            gathered.begin(place, alike.how, found, rows)
        else:
            gathered.add(number, found, rows)

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
        if len(self.gathered) >= MOST_REPORTS:
            raise Refused.because(
                f"the file holds more than {MOST_REPORTS} reports: split it", column="file"
            )

    def _refuse(self, rows: Sequence[int], wrong: WrongCell) -> None:
        for row in rows:
            self.faults.add(self.rows.lines[row], wrong.column, str(wrong), wrong.value)

    def _differs(self, number: int, told: Told) -> WrongCell:
        """Whoever read a preset, and with what software, is the same in all of its rows."""
        before, here = asdict(self.gathered.told(number)), asdict(told)
        column = next(name for name, one in here.items() if one != before[name])
        above = self.rows.lines[self.gathered.reports.first[number]]
        reason = f"differs from line {above}, which is of the same report"
        return WrongCell(column, reason, str(here[column]))

    # --- what the rows of a report share

    def _head(self, texts: Texts) -> Head:
        """Most of its cells stood further up as well, and were right."""
        device, written = self._of_its_own(texts)
        moment, alike = self._moments.get(written), self._alike.get(self._of_many(texts))
        if moment is None or alike is None or device not in self.known.models:
            return self._read_head(texts)
        self._check(device, alike.model, alike.preset, moment[0])
        return device, moment[1], alike

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
        told = _NOTHING_TOLD if len(cells) == _LEAST_OF_A_HEAD else told_in(cells)
        alike = _Alike(named, preset, told, *self.gathered.numbers_of(How(preset, state, told)))
        at = ticks(read_at)
        _keep(self._moments, self._of_its_own(texts)[1], (read_at, at))
        _keep(self._alike, self._of_many(texts), alike)
        return device, at, alike

    def _check(self, device: str, named: str, preset: str, read_at: datetime) -> None:
        model = self.known.models.get(device)
        if model is None:
            raise WrongCell("device", _no_such_device(device, self.known), device)
        if named and named != model:
            raise WrongCell("model", f"this device is a {model} here", named)
        offered = self.offered(read_at, model)
        if offered is not None and preset not in offered and preset != ANY_PRESET:
            raise WrongCell("preset", f"must be one of {', '.join(offered)}", preset)


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
