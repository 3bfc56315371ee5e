"""Which rows are of the same report, in columns while a file is read."""

from array import array

from app.domain.block_reports import BlockReports, How
from app.domain.device_reports import StateRead, Told

ONE_RUN = 2
"""Numbers that tell of rows that stand together: the first, and how many."""


class Found:
    """The cells of some rows that stand together. `number`: which list of such it is, once it
    belongs to a report."""

    __slots__ = ("cells", "is_wrong", "number")

    def __init__(self, cells: tuple[int, ...]) -> None:
        self.cells, self.is_wrong, self.number = cells, min(cells) < 0, -1


class Scattered:
    """The rows of one report that do not stand together; `cells` of each row."""

    __slots__ = ("cells", "rows")

    def __init__(self) -> None:
        self.cells, self.rows = array("I"), array("I")


class Gathered:
    """`reports`: what is known so far of each; its `found` is which of the `lists` of cells."""

    def __init__(self) -> None:
        self.reports = BlockReports([], [])
        self.lists: list[tuple[int, ...]] = []
        self.scattered: dict[int, Scattered] = {}
        self._numbers: dict[tuple[int, ...], int] = {}  # of the lists
        self._devices: dict[str, int] = {}
        self._hows: dict[How, int] = {}
        self._places: dict[tuple[str, StateRead], int] = {}
        self._reports: dict[int, int] = {}

    def __len__(self) -> int:
        return len(self._reports)

    def numbers_of(self, how: How) -> tuple[int, int]:
        """Of its preset and state, which make one report, and of all of it."""
        place = how.preset, how.state_read
        number = self._places.setdefault(place, len(self._places))
        known = self._hows.get(how)
        if known is None:
            known = self._hows[how] = len(self._hows)
            self.reports.hows.append(how)
        return number, known

    def place(self, tag: str, at: int, of_preset: int) -> int:
        """What makes it one report, as one number."""
        device = self._devices.get(tag)
        if device is None:
            device = self._devices[tag] = len(self._devices)
            self.reports.devices.append(tag)
        return (at << 64) | (device << 32) | of_preset

    def find(self, place: int) -> int | None:
        return self._reports.get(place)

    def size(self, number: int) -> int:
        """How many rows it has."""
        more = self.scattered.get(number)
        return self.reports.count[number] if more is None else len(more.cells)

    def told(self, number: int) -> Told:
        return self.reports.hows[self.reports.how[number]].told

    def begin(self, place: int, how: int, found: Found, rows: tuple[int, ...]) -> None:
        reports = self.reports
        self._reports[place] = number = len(self._reports)
        reports.device.append((place >> 32) & 0xFFFFFFFF)
        reports.at.append(place >> 64)
        reports.how.append(how)
        reports.found.append(self._list(found))
        reports.first.append(rows[0])
        reports.count.append(rows[1])
        if len(rows) != ONE_RUN:
            self.scattered[number] = Scattered()
            _scatter(self.scattered[number], found.cells, rows)

    def _list(self, found: Found) -> int:
        if found.number < 0:
            found.number = self._numbers.setdefault(found.cells, len(self.lists))
            if found.number == len(self.lists):
                self.lists.append(found.cells)
        return found.number

    def add(self, number: int, found: Found, rows: tuple[int, ...]) -> None:
        more = self.scattered.get(number)
        if more is None:
            more, reports = Scattered(), self.reports
            self.scattered[number] = more
            above = reports.first[number], reports.count[number]
            _scatter(more, self.lists[reports.found[number]], above)
        _scatter(more, found.cells, rows)

    def forget(self) -> None:
        """What is only needed while rows come in."""
        for found in (self._numbers, self._devices, self._hows, self._places, self._reports):
            found.clear()


def _scatter(more: Scattered, cells: tuple[int, ...], rows: tuple[int, ...]) -> None:
    more.cells.extend(cells)
    more.rows.extend(rows)
