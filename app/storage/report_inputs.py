"""The input of reports as it came, for whoever doubts what was made of it.

A report by itself keeps its own. Of thousands from a file many found just the same, so the text of
what was found is kept once and they point at it; whatever else the file told of a report stands in
columns of its own, and with it where in the file its rows are.
"""

import hashlib
import json
import zlib
from collections.abc import Iterable
from dataclasses import asdict

import sqlalchemy as sa
from sqlalchemy import CheckConstraint, UniqueConstraint
from sqlmodel import Field, Session, col

from app.domain.new_reports import NewReport
from app.domain.reading_sets import Cell, ReadingSet
from app.storage.base import NumberedRow, batches, sha256_hex
from app.storage.many_rows import insert_many
from app.storage.numbering import new_numbers

_QUICK = 1  # of zlib's levels


class ReportInputRow(NumberedRow, table=True):
    """`content`: the JSON of the readings, packed; `digest`: SHA-256 of that JSON."""

    __tablename__ = "report_input"
    __table_args__ = (
        UniqueConstraint("agency_id", "digest"),
        sha256_hex("digest"),
        CheckConstraint("length(content) > 0", name="content_filled"),
    )

    agency_id: int = Field(foreign_key="agency.id")
    digest: str
    content: bytes


def packed_input(report: NewReport) -> bytes:
    return zlib.compress(input_text(report).encode())


def input_text(report: NewReport) -> str:
    readings = {
        alarm: {"state": reading.state, **asdict(reading)}
        for alarm, reading in report.readings.items()
    }
    given = {**vars(report), "readings": readings, "read_at": report.read_at.isoformat()}
    return json.dumps(given, sort_keys=True, default=str)


class SharedInputs:
    """The number of the input that each set of readings is; new ones are written."""

    def __init__(self, tx: Session, agency_id: int) -> None:
        self._tx, self._agency_id = tx, agency_id
        self._cells: dict[Cell, str] = {}
        self._numbers: dict[ReadingSet, int] = {}

    def number(self, found: ReadingSet) -> int:
        return self._numbers[found]

    def keep(self, found: Iterable[ReadingSet]) -> None:
        """Few statements for many sets; to be called before their numbers are asked for."""
        new = [one for one in dict.fromkeys(found) if one not in self._numbers]
        for some in batches(new):
            texts = {one: self._text(one) for one in some}
            digests = {one: hashlib.sha256(text).hexdigest() for one, text in texts.items()}
            known = self._stored(list(digests.values()))
            by_digest = {digest: texts[one] for one, digest in digests.items()}
            fresh = [digest for digest in by_digest if digest not in known]
            numbers = new_numbers(self._tx, ReportInputRow, len(fresh)) if fresh else []
            rows = [
                (number, self._agency_id, digest, zlib.compress(by_digest[digest], _QUICK))
                for number, digest in zip(numbers, fresh, strict=True)
            ]
            insert_many(self._tx, ReportInputRow, ("id", "agency_id", "digest", "content"), rows)
            known |= dict(zip(fresh, numbers, strict=True))
            self._numbers |= {one: known[digest] for one, digest in digests.items()}

    def _stored(self, digests: list[str]) -> dict[str, int]:
        row = ReportInputRow
        wanted = sa.select(col(row.digest), col(row.id)).where(
            col(row.agency_id) == self._agency_id, col(row.digest).in_(digests)
        )
        return dict(self._tx.execute(wanted).all())

    def _text(self, found: ReadingSet) -> bytes:
        """In the order of the alarms, as `input_text` writes it."""
        return f"{{{', '.join(map(self._cell, found.cells))}}}".encode()

    def _cell(self, cell: Cell) -> str:
        text = self._cells.get(cell)
        if text is None:
            reading = {"state": cell.reading.state, **asdict(cell.reading)}
            text = json.dumps({cell.alarm: reading}, sort_keys=True, default=str)[1:-1]
            self._cells[cell] = text
        return text
