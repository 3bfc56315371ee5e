"""By which key a report from a file is known again."""

import hashlib
import json
from collections.abc import Mapping
from dataclasses import asdict
from datetime import datetime
from decimal import Decimal
from json.encoder import encode_basestring_ascii as quoted

from app.domain.device_reports import StateRead, Told
from app.domain.reading_sets import Cell, ReadingSet, in_full
from app.domain.settings_of_alarms import show_number


class ContentKeys:
    """By content: the same report in the same or another file is the same report. The key is of a
    JSON list, put together from parts that many reports share."""

    def __init__(self) -> None:
        self._of_cells: dict[Cell, str] = {}
        self._of_found: dict[ReadingSet, str] = {}
        self._of_told: dict[Told, str] = {}

    def rest(self, state: StateRead, found: ReadingSet, told: Told) -> bytes:
        """Behind `beginning`."""
        of_told = self._of_told.get(told) or self._tell(told)
        of_found = self._of_found.get(found) or self._find(found)
        return f'"{state.value}", {of_found}, {of_told}]'.encode()

    def _tell(self, told: Told) -> str:
        text = self._of_told[told] = json.dumps(json.dumps(asdict(told), sort_keys=True))
        return text

    def _find(self, found: ReadingSet) -> str:
        cells = ", ".join(map(self._cell, found.cells))
        digest = hashlib.sha256(cells.encode()).hexdigest()
        text = self._of_found[found] = f'{json.dumps(found.preset)}, "{digest}"'
        return text

    def _cell(self, cell: Cell) -> str:
        text = self._of_cells.get(cell)
        if text is None:
            reading: Mapping[str, object] = {"state": cell.reading.state, **asdict(cell.reading)}
            one = json.dumps({cell.alarm: reading}, sort_keys=True, default=_plain)
            text = self._of_cells[cell] = one[1:-1]
        return text


def beginning(device: str, read_at: datetime) -> bytes:
    return f'[{quoted(device)}, "{in_full(read_at)}", '.encode()


def _plain(value: object) -> str:
    return show_number(value) if isinstance(value, Decimal) else str(value)
