"""What was found in each report of a file, and the key by which the report is known again."""

import hashlib
from collections.abc import Callable, Sequence

from app.domain.block_reports import BlockReports, moment_of
from app.domain.file_lines import FileLines, each_row
from app.domain.option_judgement import ANY_PRESET
from app.domain.reading_sets import Cell, reading_set
from app.exchange.report_gathering import Gathered
from app.exchange.report_keys import ContentKeys, beginning
from app.exchange.reports_csv import WrongCell

Refuse = Callable[[Sequence[int], WrongCell], None]
_MOST_ALIKE = 5000
"""Kept of what stood further up."""


class ReportSets:
    """`alarms` and `options`: the cells that the numbers in the lists are."""

    def __init__(
        self, alarms: Sequence[Cell], options: Sequence[Cell], lines: FileLines, refuse: Refuse
    ) -> None:
        self._alarms, self._options = alarms, options
        self._lines, self._refuse = lines, refuse
        self._keys = ContentKeys()
        self._sets: dict[tuple[str, tuple[int, ...]], int] = {}
        self._alike: dict[tuple[int, int], tuple[int, bytes]] = {}

    def finish(self, gathered: Gathered) -> BlockReports:
        """Of an alarm that stands twice in a report the rest is told."""
        reports, before, start = gathered.reports, (-1, 0), b""
        for number, how in enumerate(reports.how):
            own = reports.device[number], reports.at[number]
            if own != before:
                before, start = own, beginning(reports.devices[own[0]], moment_of(own[1]))
            found = self._alike.get((how, reports.found[number]))
            if found is None or number in gathered.scattered:
                found = self._found(number, gathered)
            reports.found[number] = found[0]
            reports.keys += hashlib.sha256(start + found[1]).digest()
        return reports

    def _found(self, number: int, gathered: Gathered) -> tuple[int, bytes]:
        """The number of the set, and the end of what the key is made of."""
        reports, more = gathered.reports, gathered.scattered.pop(number, None)
        how, listed = reports.how[number], reports.found[number]
        if more is None:
            cells = gathered.lists[listed]
            rows: Sequence[int] = (reports.first[number], reports.count[number])
        else:
            cells, rows = tuple(more.cells), more.rows
            reports.scattered[number] = more.rows
        at = self._set(reports, reports.hows[how].preset, cells, rows)
        told = reports.hows[how]
        rest = self._keys.rest(told.state_read, reports.sets[at], told.told)
        if more is None and len(reports.sets[at].cells) == len(cells):
            if len(self._alike) >= _MOST_ALIKE:
                self._alike.clear()
            self._alike[how, listed] = at, rest
        return at, rest

    def _set(
        self, reports: BlockReports, preset: str, numbers: tuple[int, ...], rows: Sequence[int]
    ) -> int:
        cells = self._options if preset == ANY_PRESET else self._alarms
        at = self._sets.get((preset, numbers))
        if at is None:
            at = self._sets[preset, numbers] = len(reports.sets)
            reports.sets.append(reading_set(preset, self._once(numbers, rows, cells)))
        elif len(reports.sets[at].cells) < len(numbers):  # told again, by the lines of this report
            self._once(numbers, rows, cells)
        return at

    def _once(
        self, numbers: Sequence[int], rows: Sequence[int], cells: Sequence[Cell]
    ) -> list[Cell]:
        """Those of the first row of each alarm; of an alarm that stands twice the rest is told."""
        found = [cells[number] for number in numbers]
        if len({cell.alarm for cell in found}) == len(found):
            return found
        first: dict[str, int] = {}
        for row, cell in zip(each_row(rows), found, strict=True):
            above = first.setdefault(cell.alarm, row)
            if above != row:
                told = f"the same reading already stands in line {self._lines[above]}"
                self._refuse([row], WrongCell("alarm", told, cell.alarm))
        kept = {cell.alarm: cell for cell in reversed(found)}
        return [kept[alarm] for alarm in first]
