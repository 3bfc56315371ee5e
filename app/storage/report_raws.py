"""The input of many reports as it came, packed as `reports` packs it one by one.

A zlib stream (RFC 1950) is a chain of DEFLATE blocks (RFC 1951). What thousands of reports found
alike is packed once, as blocks that end at a whole byte, and stands in the chain between two
blocks of plain text that are each report's own.
"""

import json
import zlib
from dataclasses import asdict, dataclass
from json.encoder import encode_basestring_ascii as quoted
from struct import pack

from app.domain.device_reports import Origin, Told
from app.domain.reading_sets import BlockReport, Cell, ReadingSet, in_full

_FILE = Origin.FILE.value
_BEGIN = b"\x78\x01"
_GOES_ON, _LAST = b"\x00", b"\x01"
_MOST = 0xFFFF  # bytes of a block of plain text


@dataclass(frozen=True, slots=True)
class _Shared:
    text: bytes
    packed: bytes


class Raws:
    def __init__(self) -> None:
        self._cells: dict[Cell, str] = {}
        self._told: dict[Told, tuple[str, ...]] = {}
        self._shared: dict[ReadingSet, _Shared] = {}

    def raw(self, report: BlockReport) -> bytes:
        told = self._told.get(report.told) or self._tell(report.told)
        clock, minutes, reader, software, trigger = told
        shared = self._shared.get(report.found) or self._share(report.found)
        head = (
            f'{{"device": {quoted(report.device)}, "device_clock": {clock}, '
            f'"idempotency_key": {quoted(report.key)}, "minutes_off": {minutes}, '
            f'"origin": "{_FILE}", "preset": {quoted(report.preset)}, '
            f'"read_at": "{in_full(report.read_at)}", "reader": {reader}, '
        ).encode()
        tail = (
            f', "software": {software}, "state_read": "{report.state_read.value}", '
            f'"trigger": {trigger}}}'
        ).encode()
        check = zlib.adler32(tail, zlib.adler32(shared.text, zlib.adler32(head)))
        return b"".join(
            (
                _BEGIN,
                _plain(head, _GOES_ON),
                shared.packed,
                _plain(tail, _LAST),
                pack(">I", check),
            )
        )

    def _share(self, found: ReadingSet) -> _Shared:
        text = f'"readings": {{{", ".join(map(self._cell, found.cells))}}}'.encode()
        packer = zlib.compressobj(wbits=-zlib.MAX_WBITS)
        packed = packer.compress(text) + packer.flush(zlib.Z_FULL_FLUSH)
        shared = self._shared[found] = _Shared(text, packed)
        return shared

    def _tell(self, told: Told) -> tuple[str, ...]:
        parts = asdict(told)
        found = tuple(json.dumps(parts[name]) for name in sorted(parts))
        self._told[told] = found
        return found

    def _cell(self, cell: Cell) -> str:
        text = self._cells.get(cell)
        if text is None:
            reading = {"state": cell.reading.state, **asdict(cell.reading)}
            text = json.dumps({cell.alarm: reading}, sort_keys=True, default=str)[1:-1]
            self._cells[cell] = text
        return text


def _plain(text: bytes, kind: bytes) -> bytes:
    """A block without packing; what a report tells of itself is at most a few thousand bytes."""
    if len(text) > _MOST:
        raise ValueError("longer than a block of plain text can be")
    return kind + pack("<HH", len(text), len(text) ^ _MOST) + text
