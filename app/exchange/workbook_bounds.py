"""Is this spreadsheet (XLSX) safe to open? Asked before any reader unpacks it.

A small file may unpack to gigabytes, one cell far out makes a reader reserve every cell before it,
and a formula shows a number that nobody typed. All are refused here, the cells by name.
"""

import io
import re
import zipfile
import zlib
from collections.abc import Collection, Iterator
from dataclasses import dataclass, field
from pathlib import PurePosixPath
from xml.parsers import expat

from app.domain.errors import Fault, Refused

MOST_BYTES = 20 * 2**20
MOST_UNPACKED = 64 * 2**20
MOST_RATIO = 200
MOST_PARTS = 300
MOST_ROWS, MOST_COLUMNS, MOST_CELLS = 5000, 60, 60_000
LONGEST_TEXT = 32_767


@dataclass(frozen=True)
class Room:
    """How much a workbook may hold, by what it is for."""

    rows: int = MOST_ROWS
    columns: int = MOST_COLUMNS
    cells: int = MOST_CELLS
    unpacked: int = MOST_UNPACKED  # bytes


FOR_A_PROFILE = Room()
MOST_TEXT = 250_000_000
"""Characters, were every cell to repeat the longest text: a workbook holds each text but once."""
_MAGIC = b"PK\x03\x04"
_DAMAGED = (zipfile.BadZipFile, zlib.error, NotImplementedError, RuntimeError, EOFError)
_CHUNK = 64 * 1024
_XML = (".xml", ".rels", ".vml")
_PLACE = re.compile(r"([A-Z]{1,3})([1-9]\d{0,6})", re.ASCII)
_WORKBOOK, _LINKS = "xl/workbook.xml", "xl/_rels/workbook.xml.rels"


def is_workbook(raw: bytes) -> bool:
    """Told by its first bytes, whatever its name says."""
    return raw.startswith(_MAGIC)


def check_workbook(raw: bytes, room: Room = FOR_A_PROFILE) -> None:
    """Raises Refused; what passes may be opened, and no cell of it is unfit."""
    faults = unfit_cells(raw, room)
    if faults:
        raise Refused(faults)


def unfit_cells(raw: bytes, room: Room = FOR_A_PROFILE) -> list[Fault]:
    """Those with a formula or an error in them. Raises Refused if it may not be opened at all."""
    if len(raw) > MOST_BYTES:
        raise Refused.because(f"the file is larger than {MOST_BYTES // 2**20} MiB")
    try:
        with zipfile.ZipFile(io.BytesIO(raw)) as archive:
            _check_sizes(archive.infolist(), room)
            parts = {
                one.filename: _Part(room) for one in archive.infolist() if _is_xml(one.filename)
            }
            for name, part in parts.items():
                _parse(archive, name, part)
    except _DAMAGED as error:
        raise Refused.because("this is no spreadsheet (XLSX): it cannot be unpacked") from error
    _check_texts(parts.values())
    return [*_cell_faults(parts)]


def _check_texts(parts: Collection["_Part"]) -> None:
    longest = max(part.longest for part in parts) if parts else 0
    if longest > LONGEST_TEXT:
        raise Refused.because(f"a text is longer than {LONGEST_TEXT} characters")
    if longest * sum(part.cells for part in parts) > MOST_TEXT:
        raise Refused.because("so many cells hold so long a text that it is more than such a file")


def _is_xml(name: str) -> bool:
    return name.lower().endswith(_XML)


def _check_sizes(parts: list[zipfile.ZipInfo], room: Room) -> None:
    unpacked = sum(part.file_size for part in parts)
    packed = sum(part.compress_size for part in parts)
    if len(parts) > MOST_PARTS or len({part.filename.lower() for part in parts}) < len(parts):
        raise Refused.because("this is no spreadsheet (XLSX) that people made: too many parts")
    if unpacked > room.unpacked or unpacked > MOST_RATIO * max(packed, _CHUNK):
        raise Refused.because(
            f"the file unpacks to {unpacked // 2**20} MiB, more than such a file needs"
        )


@dataclass
class _Part:
    """What one part of the archive holds: cells if it is a sheet, else names and links."""

    room: Room
    row: int = 0
    column: int = 0
    cells: int = 0
    text: int = 0
    longest: int = 0
    in_text: bool = False  # within the shared texts, which any number of cells may repeat
    wrong: list[tuple[str, str]] = field(default_factory=list)  # cell, reason
    sheets: dict[str, str] = field(default_factory=dict)  # link, name
    links: dict[str, str] = field(default_factory=dict)  # link, part

    def start(self, name: str, told: dict[str, str]) -> None:
        kind = name.rpartition(" ")[2]
        if kind == "row":
            self.row, self.column = int(told.get("r", self.row + 1)), 0
        elif kind == "c":
            self._cell(told)
        elif kind == "f":
            self.wrong.append((self.place, "holds a formula: write the value itself"))
        elif kind in ("si", "is"):
            self.in_text, self.text = kind == "si", 0
        elif kind == "sheet":
            link = next((told[key] for key in told if key.endswith(" id")), "")
            self.sheets[link] = told.get("name", "")
        elif kind == "Relationship":
            self.links[told.get("Id", "")] = told.get("Target", "")

    def _cell(self, told: dict[str, str]) -> None:
        found = _PLACE.fullmatch(told.get("r", ""))
        self.row = int(found[2]) if found else self.row
        self.column = _number(found[1]) if found else self.column + 1
        self.cells += 1
        room = self.room
        if self.row > room.rows or self.column > room.columns or self.cells > room.cells:
            raise Refused.because(
                f"a sheet goes on to {self.place}: at most {room.rows} rows, {room.columns} "
                f"columns and {room.cells} cells are read"
            )
        if told.get("t") == "e":
            self.wrong.append((self.place, "holds an error of the spreadsheet program"))

    def words(self, text: str) -> None:
        self.text += len(text)
        if self.in_text:
            self.longest = max(self.longest, self.text)

    @property
    def place(self) -> str:
        return f"{column_name(self.column)}{self.row}"


def _number(letters: str) -> int:
    found = 0
    for letter in letters:
        found = found * 26 + ord(letter) - ord("A") + 1
    return found


def column_name(number: int) -> str:
    """1 is A, 27 is AA."""
    letters = ""
    while number > 0:
        number, rest = divmod(number - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return letters


def _parse(archive: zipfile.ZipFile, name: str, part: _Part) -> None:
    parser = expat.ParserCreate(namespace_separator=" ")
    parser.StartElementHandler = part.start
    parser.CharacterDataHandler = part.words
    parser.StartDoctypeDeclHandler = _no_doctype
    try:
        with archive.open(name) as source:
            while chunk := source.read(_CHUNK):
                parser.Parse(chunk, False)  # noqa: FBT003 - its only form
        parser.Parse(b"", True)  # noqa: FBT003 - its only form
    except (expat.ExpatError, ValueError) as error:
        raise Refused.because(f"this is no spreadsheet (XLSX): {name} is damaged") from error


def _no_doctype(*_: object) -> None:
    """A document type could name other files, or entities that grow without end."""
    raise Refused.because("the file holds a document type, which no spreadsheet needs")


def _cell_faults(parts: dict[str, _Part]) -> Iterator[Fault]:
    book, links = parts.get(_WORKBOOK), parts.get(_LINKS)
    if book is None or links is None or not book.sheets:
        raise Refused.because("this is no spreadsheet (XLSX): it has no sheets")
    for link, sheet in book.sheets.items():
        target = links.links.get(link, "")
        part = parts.get(target.lstrip("/")) or parts.get(str(PurePosixPath("xl") / target))
        if part is None:
            raise Refused.because(f"this is no spreadsheet (XLSX): the sheet {sheet!r} is missing")
        for place, reason in part.wrong:
            yield Fault(reason, column=f"{sheet}!{place}")
