"""How a file of another system is read: which of its columns and words stand for which of ours."""

import hashlib
import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum
from typing import Any, Self
from zoneinfo import ZoneInfo, available_timezones

from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.domain.errors import Fault, Refused

MOST_WORDS = 200
LONGEST = 200
TRANSLATED = ("state_read", "preset", "alarm", "reading", "priority")
"""Our columns whose words may differ; the device may, too, but that is mended in the register."""


class TimeFormat(StrEnum):
    ISO = "iso"
    DAY_FIRST = "day-first"
    MONTH_FIRST = "month-first"

    @property
    def words(self) -> str:
        return _FORMATS[self][0]

    @property
    def patterns(self) -> tuple[str, ...]:
        return _FORMATS[self][1]


_FORMATS: dict[TimeFormat, tuple[str, tuple[str, ...]]] = {
    TimeFormat.ISO: ("2026-03-31 14:05", ()),
    TimeFormat.DAY_FIRST: (
        "31/03/2026 14:05",
        ("%d/%m/%Y %H:%M:%S", "%d/%m/%Y %H:%M", "%d.%m.%Y %H:%M:%S", "%d.%m.%Y %H:%M"),
    ),
    TimeFormat.MONTH_FIRST: ("03/31/2026 14:05", ("%m/%d/%Y %H:%M:%S", "%m/%d/%Y %H:%M")),
}


@dataclass(frozen=True)
class ColumnMap:
    """Keys are our columns, but for `alarms`.

    `columns`: theirs that holds it. `always`: what stands for it in every row. `words`: ours by
    theirs. `alarms`: the alarm by their column, where each alarm has a column of its own; rows
    then hold no `alarm` and no `reading`. `zone`: of times that name none; empty: they must.
    """

    source: str
    header: tuple[str, ...]
    columns: Mapping[str, str] = field(default_factory=dict)
    always: Mapping[str, str] = field(default_factory=dict)
    words: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    alarms: Mapping[str, str] = field(default_factory=dict)
    times: TimeFormat = TimeFormat.ISO
    zone: str = ""

    @property
    def signature(self) -> str:
        return signature_of(self.header)

    @property
    def given(self) -> list[str]:
        """Our columns that it fills."""
        wide = ["alarm", "reading"] if self.alarms else []
        return [*self.columns, *self.always, *wide]

    def word(self, column: str, theirs: str) -> str:
        found = self.words.get(column, {}).get(theirs.casefold(), theirs)
        return self.moment(found) if column == "read_at" else found

    def moment(self, theirs: str) -> str:
        """As ISO 8601 with the zone, if it can be made out; else as it was."""
        found = _parsed(theirs, self.times)
        if found is None:
            return theirs
        if found.tzinfo is None and self.zone:
            return _placed(found, ZoneInfo(self.zone)) or theirs
        return found.isoformat()

    def kept(self) -> dict[str, Any]:
        return {**vars(self), "header": list(self.header), "times": self.times.value}

    @classmethod
    def from_kept(cls, kept: Mapping[str, Any]) -> Self:
        times, header = TimeFormat(kept["times"]), tuple(kept["header"])
        return cls(**{**kept, "times": times, "header": header})


def _parsed(text: str, times: TimeFormat) -> datetime | None:
    for pattern in times.patterns:
        try:
            return datetime.strptime(text, pattern)  # noqa: DTZ007 - its zone is given after that
        except ValueError:
            continue
    try:
        return datetime.fromisoformat(text)
    except ValueError:
        return None


def _placed(found: datetime, zone: ZoneInfo) -> str | None:
    """None for an hour that the clocks skipped or had twice: nobody can tell which was meant."""
    early, late = found.replace(tzinfo=zone, fold=0), found.replace(tzinfo=zone, fold=1)
    same = early.utcoffset() == late.utcoffset()
    return early.isoformat() if same else None


def signature_of(header: Sequence[str]) -> str:
    text = json.dumps([name.strip().casefold() for name in header], ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()


def check_map(found: ColumnMap, *, required: Sequence[str], known: Sequence[str]) -> None:
    """Raises Refused with everything that is wrong."""
    faults = [*_faults(found, required, known)]
    if faults:
        raise Refused(faults)


def _faults(found: ColumnMap, required: Sequence[str], known: Sequence[str]) -> Iterator[Fault]:
    yield from _faults_of_the_whole(found)
    yield from _faults_of_columns(found, required, known)
    yield from _faults_of_choices(found)
    yield from _faults_of_alarms(found)


def _faults_of_the_whole(found: ColumnMap) -> Iterator[Fault]:
    if not found.source.strip() or len(found.source) > LONGEST:
        yield Fault("name the system that the file comes from", column="source")
    if found.zone and found.zone not in available_timezones():
        yield Fault("there is no such time zone", column="zone", value=found.zone)
    if sum(map(len, found.words.values())) > MOST_WORDS:
        yield Fault(f"at most {MOST_WORDS} words can be told", column="words")


def _faults_of_columns(
    found: ColumnMap, required: Sequence[str], known: Sequence[str]
) -> Iterator[Fault]:
    for name in required:
        if name not in found.given:
            yield Fault("choose a column, or what stands for it in every row", column=name)
    for name in found.given:
        if name not in known:
            yield Fault("we have no such column", column=name)


def _faults_of_choices(found: ColumnMap) -> Iterator[Fault]:
    chosen = [*found.columns.values(), *found.alarms]
    for name, theirs in found.columns.items():
        if theirs not in found.header:
            yield Fault("the file has no such column", column=name, value=theirs)
        if chosen.count(theirs) > 1:
            yield Fault("the same column is chosen twice", column=name, value=theirs)
        if name in found.always:
            yield Fault("choose a column or a fixed word, not both", column=name)


def _faults_of_alarms(found: ColumnMap) -> Iterator[Fault]:
    for theirs, alarm in found.alarms.items():
        if theirs not in found.header or alarm not in ALARM_CONDITIONS:
            yield Fault("there is no such column or alarm condition", column=theirs, value=alarm)
    if found.alarms and {"alarm", "reading"} & {*found.columns, *found.always}:
        yield Fault("an alarm has its own column, or its name stands in one", column="alarm")
