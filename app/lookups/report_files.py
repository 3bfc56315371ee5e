"""What a file of readings would change, before anything of it is taken in."""

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from heapq import nsmallest
from itertools import islice

from pydantic import TypeAdapter
from sqlmodel import Session

from app.domain.audit import DeviceDeviation
from app.domain.device_reports import FoundOn, FoundText, Reading
from app.domain.errors import Fault, NotNow
from app.domain.findings import Severity
from app.domain.option_judgement import preset_words
from app.domain.people import Person
from app.domain.settings_of_alarms import show_number
from app.exchange.deviation_words import consequence
from app.exchange.judged_files import Judged, JudgedFile
from app.exchange.mapped_rows import MappedRows
from app.storage import pending_uploads
from app.storage.pending_uploads import PendingUpload

MOST_TOLD = 200
MOST_SAMPLED = 8


@dataclass(frozen=True)
class SampleRow:
    """A reading as it was understood."""

    device: str
    read_at: datetime
    state_read: str
    preset: str
    alarm: str
    reading: str


@dataclass(frozen=True)
class ToldDeviation:
    where: str
    sentence: str
    severity: str
    direction: str


@dataclass(frozen=True)
class FilePreview:
    """`deviations` are the first of the `weights`, the gravest first.

    `known`: reports that were sent before; `unjudged`: no policy was in force when they were read.
    `source`: the system by whose column map it was read, and then `sample` shows how; else empty.
    """

    name: str
    fingerprint: str
    devices: int
    reports: int
    readings: int
    known: int
    unjudged: int
    refused: int
    faults: tuple[Fault, ...]
    takes: bool
    weights: dict[Severity, int]
    deviations: tuple[ToldDeviation, ...]
    source: str
    sample: tuple[SampleRow, ...]

    @property
    def not_shown(self) -> int:
        return sum(self.weights.values()) - len(self.deviations)


_KEPT = TypeAdapter(FilePreview)


def preview_file(read: JudgedFile, *, name: str) -> FilePreview:
    file = read.file
    weights = Counter(
        found.severity for *_, judgement in read.judged for found in judgement.deviations
    )
    gravest = nsmallest(MOST_TOLD, _deviations(read.judged), key=_gravest)
    return FilePreview(
        name=name,
        fingerprint=read.fingerprint,
        devices=len(file.devices),
        reports=len(file.reports),
        readings=file.readings,
        known=file.known,
        unjudged=sum(verdict is None for _, _, verdict, _ in read.judged),
        refused=file.refused,
        faults=file.faults,
        takes=file.takes,
        weights=dict(sorted(weights.items(), key=lambda one: one[0].weight)),
        deviations=tuple(map(_told, gravest)),
        source=file.rows.by.source if isinstance(file.rows, MappedRows) else "",
        sample=tuple(islice(_understood(read.judged), MOST_SAMPLED)),
    )


def _understood(judged: Iterable[Judged]) -> Iterator[SampleRow]:
    for report, *_ in judged:
        for alarm, reading in report.found.readings.items():
            state = report.state_read.value
            words = _words(reading)
            yield SampleRow(report.device, report.read_at, state, report.preset, alarm, words)


def _words(reading: Reading) -> str:
    if isinstance(reading, FoundText):
        return reading.text
    if not isinstance(reading, FoundOn) or reading.limit is None:
        return reading.state
    return f"{show_number(reading.limit)} {reading.unit or ''}".rstrip()


def _told(found: DeviceDeviation) -> ToldDeviation:
    ages = "" if found.rendered is None else f" ({found.rendered.ages})"
    return ToldDeviation(
        where=f"{found.device}, {found.state_read}, {preset_words(found.preset)}{ages}",
        sentence=consequence(found),
        severity=found.deviation.severity.value,
        direction=found.deviation.direction.value,
    )


def preview_text(found: FilePreview) -> str:
    """To be kept beside the file, and read again by `kept_preview`."""
    return _KEPT.dump_json(found).decode()


def kept_preview(tx: Session, *, person: Person, now: datetime) -> FilePreview | None:
    """What was found out beside the pages of the file that is held for this person."""
    text = pending_uploads.find_preview(tx, of=person, now=now)
    return None if text is None else _KEPT.validate_json(text)


def held_file(tx: Session, *, of: Person, now: datetime) -> PendingUpload:
    """The file that is kept for this person until it is decided on."""
    found = pending_uploads.find_upload(tx, of=of, now=now)
    if found is None:
        raise NotNow("This file is kept no longer, or was taken in already. Choose it again.")
    return found


def _gravest(found: DeviceDeviation) -> tuple[int, str, str]:
    return found.deviation.severity.weight, found.device, found.preset


def _deviations(judged: Iterable[Judged]) -> Iterator[DeviceDeviation]:
    for report, _, verdict, judgement in judged:
        for deviation in judgement.deviations:
            yield DeviceDeviation(
                report.device,
                report.preset,
                deviation,
                report.read_at,
                report.state_read,
                None if verdict is None else verdict.rendered,
            )
