"""Rows of one report that stand together, found quickly where the text is as plain as most is.

Such neighbours share the beginning of their line, and its end. So only the part between these is
looked at, and every different one of those once.
"""

import codecs
from collections.abc import Hashable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from operator import itemgetter
from typing import BinaryIO, Protocol

from app.domain.file_lines import FileLines
from app.exchange.csv_text import MOST_BYTES, Faults

_BLOCK = 2**20  # bytes
_A_REPORT = 2**12  # of them, or so
Texts = tuple[str, ...]
Run = tuple[Texts, int, Iterable[Hashable]]
"""The cells that its rows share, the number of the first row, and the other cells of each row: as
texts, or as the bytes of the line between what is shared."""


class _Numbered(Protocol):
    @property
    def lines(self) -> FileLines: ...

    def __iter__(self) -> Iterator[Sequence[str]]: ...


def grouped(rows: _Numbered, shared: Sequence[int], others: Sequence[int]) -> Iterator[Run]:
    """Neighbours with the same cells at the places `shared`."""
    of_others = itemgetter(*others)
    for texts, run in groupby(rows, itemgetter(*shared)):
        yield texts, len(rows.lines) - 1, map(of_others, run)


def is_plain(content: BinaryIO) -> bool:
    """No quotes, text all through, and whole lines only: then a cell ends at a comma and nowhere
    else, and a line at its end. What is larger than allowed is not plain either."""
    content.seek(0)
    decoder = codecs.getincrementaldecoder("utf-8")()
    read = 0
    try:
        for block in _whole_lines(content):
            read += len(block)
            if b'"' in block or _has_lone_return(block) or read > MOST_BYTES:
                return False
            decoder.decode(block)
        decoder.decode(b"", final=True)
    except UnicodeDecodeError:
        return False
    return True


def _has_lone_return(block: bytes) -> bool:
    return b"\r" in block and block.count(b"\r") != block.count(b"\r\n")


def _whole_lines(content: BinaryIO) -> Iterator[bytes]:
    rest = b""
    while block := content.read(_BLOCK):
        whole, end, after = block.rpartition(b"\n")
        if end:
            yield rest + whole + end
            rest = after
        else:
            rest += block
    if rest:
        yield rest


class PlainRuns:
    """Of a plain text whose columns `others` stand side by side."""

    def __init__(self, content: BinaryIO, width: int, others: Sequence[int]) -> None:
        self._content, self._width = content, width
        self._before, self._after = others[0], width - 1 - others[-1]
        self._alike: dict[bytes, list[_Seen]] = {}  # by how their first line goes on

    def runs(self, lines: FileLines, faults: Faults) -> Iterator[Run]:
        """`lines` grows by every row; one of another width is told in `faults`."""
        self._content.seek(0)
        above = 0
        for block in _whole_lines(self._content):
            yield from self._of_block(block, above, lines, faults)
            above += block.count(b"\n")

    def _of_block(
        self, block: bytes, above: int, lines: FileLines, faults: Faults
    ) -> Iterator[Run]:
        at = 0 if above else _line_end(block, 0) + 1  # the header
        number = above + (1 if above else 2)
        while at < len(block):
            line = block[at : _line_end(block, at)]
            if line.count(b",") != self._width - 1:
                self._tell_width(line, number, faults)
                at += len(line) + 1
                number += 1
                continue
            start, part, end = self._apart(line)
            parts, at = self._together(block, at, start, part, end)
            first = len(lines)
            lines.add(number, len(parts))
            number += len(parts)
            shared = start + end[1:] if end else start[:-1]
            yield tuple(shared.decode().split(",")), first, parts

    def _tell_width(self, line: bytes, number: int, faults: Faults) -> None:
        if line not in (b"", b"\r"):
            cells = line.count(b",") + 1
            told = f"has {cells} cells where the header has {self._width}"
            faults.add(number, "row", told)

    def _apart(self, line: bytes) -> tuple[bytes, bytes, bytes]:
        """What its neighbours share before and behind, with the commas, and what lies between."""
        rest = line.split(b",", self._before)[-1]
        part = rest.rsplit(b",", self._after)[0] if self._after else rest
        return line[: len(line) - len(rest)], part, rest[len(part) :]

    def _together(
        self, block: bytes, at: int, start: bytes, part: bytes, end: bytes
    ) -> tuple[Sequence[bytes], int]:
        """What the lines from there on do not share, and where they are over. Devices of a fleet
        hold alike, so what stood together before is tried first, all of its lines at once."""
        key = start[start.rfind(b",", 0, -1) + 1 :] + part + end
        alike = self._alike.get(key)
        if alike is None:
            alike = self._alike[key] = []
        for seen in alike:
            over = seen.end_in(block, at, start, end)
            if over:
                return seen.parts, over
        parts, over = _one_by_one(block, at, start, end)
        alike.insert(1, _Seen(parts, b"\n".join(parts)))  # the first is what most hold
        del alike[_MOST_ALIKE:]
        if len(self._alike) > _MOST_FIRSTS:
            self._alike.clear()
        return parts, over


_MOST_ALIKE, _MOST_FIRSTS = 6, 1000
"""Kept of those that begin alike, and different beginnings."""


@dataclass(frozen=True, slots=True)
class _Seen:
    """Parts of lines that stood together; `joined` by the ends of these."""

    parts: Sequence[bytes]
    joined: bytes

    def end_in(self, block: bytes, at: int, start: bytes, end: bytes) -> int:
        """Behind them, if they stand there between other beginnings and ends, and no further line
        belongs to them; 0: they do not."""
        whole = start + self.joined.replace(b"\n", end + b"\n" + start) + end
        behind = at + len(whole)
        if not block.startswith(whole, at) or block[behind : behind + 1] not in (b"\n", b""):
            return 0
        return 0 if block.startswith(start, behind + 1) else behind + 1


def _one_by_one(block: bytes, at: int, start: bytes, end: bytes) -> tuple[Sequence[bytes], int]:
    parts: list[bytes] = []
    behind = -len(end) or None
    while at < len(block):
        for line in block[at : _line_end(block, at + _A_REPORT)].split(b"\n"):
            if not line.startswith(start) or not line.endswith(end):
                return tuple(parts), at
            parts.append(line[len(start) : behind])
            at += len(line) + 1
    return tuple(parts), at


def _line_end(block: bytes, at: int) -> int:
    end = block.find(b"\n", at)
    return len(block) if end < 0 else end
