"""How files of other systems are read, and what such a file holds that is not understood yet."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import BinaryIO

from sqlmodel import Session

from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.domain.column_maps import TRANSLATED, ColumnMap, signature_of
from app.domain.device_reports import StateRead
from app.domain.errors import NotFound
from app.domain.settings_of_alarms import Priority
from app.exchange.csv_text import Faults
from app.exchange.mapped_rows import their_words
from app.exchange.numbers import plain_number
from app.exchange.report_sources import rows_as_written
from app.storage import column_maps

MOST_WORDS = 60
_OURS: dict[str, frozenset[str]] = {
    "state_read": frozenset(StateRead),
    "alarm": frozenset([*ALARM_CONDITIONS, *(f"{alarm}.deep" for alarm in ALARM_CONDITIONS)]),
    "reading": frozenset({"on", "off", "not-fitted"}),
    "priority": frozenset(Priority),
    "preset": frozenset(),
}


@dataclass(frozen=True)
class ForeignFile:
    """`words`: by our column, those of the file that are not ours, with what the map says."""

    header: tuple[str, ...]
    known: ColumnMap | None
    words: dict[str, dict[str, str]]


def maps_of(tx: Session, *, agency_id: int) -> list[ColumnMap]:
    return column_maps.maps_of(tx, agency_id)


def map_of(tx: Session, *, agency_id: int, source: str) -> ColumnMap:
    found = next((one for one in maps_of(tx, agency_id=agency_id) if one.source == source), None)
    if found is None:
        raise NotFound("There is no such column map.")
    return found


def foreign_file(content: BinaryIO, maps: Sequence[ColumnMap]) -> ForeignFile:
    """Raises Refused where it cannot be read at all."""
    header = tuple(rows_as_written(content, Faults()).header)
    signature = signature_of(header)
    known = next((one for one in maps if one.signature == signature), None)
    words = {} if known is None else _words(content, known)
    return ForeignFile(header, known, {name: found for name, found in words.items() if found})


def _words(content: BinaryIO, known: ColumnMap) -> dict[str, dict[str, str]]:
    rows = rows_as_written(content, Faults())
    found = their_words(rows, known, TRANSLATED, most=MOST_WORDS)
    return {
        column: {
            theirs: known.words.get(column, {}).get(theirs.casefold(), "")
            for theirs in words
            if theirs not in _OURS[column] and not (column == "reading" and _is_plain(theirs))
        }
        for column, words in found.items()
    }


def _is_plain(theirs: str) -> bool:
    return plain_number(theirs) is not None or theirs.startswith("could-not-read:")
