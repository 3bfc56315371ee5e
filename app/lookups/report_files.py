"""What a file of readings would change, before anything of it is taken in."""

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from heapq import nsmallest
from itertools import islice

from sqlmodel import Session

from app.domain.audit import DeviceDeviation
from app.domain.device_reports import Reading
from app.domain.errors import Fault, NotNow
from app.domain.findings import Severity
from app.domain.people import Person
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
    reading: Reading


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
    deviations: tuple[DeviceDeviation, ...]
    source: str
    sample: tuple[SampleRow, ...]

    @property
    def not_shown(self) -> int:
        return sum(self.weights.values()) - len(self.deviations)


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
        deviations=tuple(gravest),
        source=file.rows.by.source if isinstance(file.rows, MappedRows) else "",
        sample=tuple(islice(_understood(read.judged), MOST_SAMPLED)),
    )


def _understood(judged: Iterable[Judged]) -> Iterator[SampleRow]:
    for report, *_ in judged:
        for alarm, reading in report.found.readings.items():
            state = report.state_read.value
            yield SampleRow(report.device, report.read_at, state, report.preset, alarm, reading)


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
