"""What a file of readings would change, before anything of it is taken in."""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlmodel import Session

from app.domain.audit import DeviceDeviation
from app.domain.bounds_versions import BoundsVersion, in_force_among
from app.domain.errors import Fault
from app.domain.findings import Severity
from app.domain.fleet import judge
from app.domain.new_reports import NewReport
from app.domain.rendering import rendered_presets
from app.exchange.report_files import KnownFleet, fingerprint_of, read_report_file
from app.exchange.stored_bounds import stored_bounds
from app.storage import devices, reports, revisions
from app.storage.outer_bounds import bounds_versions

MOST_TOLD = 200


@dataclass(frozen=True)
class FilePreview:
    """`deviations` are the first of the `weights`, the gravest first.

    `known`: reports that were sent before; `unjudged`: no policy was in force when they were read.
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

    @property
    def not_shown(self) -> int:
        return sum(self.weights.values()) - len(self.deviations)


def preview_file(
    tx: Session, *, agency_id: int, name: str, content: bytes, now: datetime
) -> FilePreview:
    """Raises Refused where nothing can be read at all."""
    known = KnownFleet(devices.models_of(tx, agency_id), revisions.policies_of(tx, agency_id))
    found = read_report_file(content, known, now=now)
    found = found.beside(
        reports.keys_of(tx, agency_id=agency_id, devices=found.devices, since=found.oldest(now))
    )
    new = [one.report for one in found.reports]
    versions = bounds_versions(tx, agency_id)
    deviations = sorted(_deviations(new, known, versions), key=_gravest)
    return FilePreview(
        name=name,
        fingerprint=fingerprint_of(content),
        devices=len(found.devices),
        reports=len(new),
        readings=found.readings,
        known=found.known,
        unjudged=sum(known.document_at(report.read_at) is None for report in new),
        refused=found.refused,
        faults=found.faults,
        takes=found.takes,
        weights=dict(Counter(one.deviation.severity for one in deviations)),
        deviations=tuple(deviations[:MOST_TOLD]),
    )


def _gravest(found: DeviceDeviation) -> tuple[int, str, str]:
    return found.deviation.severity.weight, found.device, found.preset


def _deviations(
    new: Sequence[NewReport], known: KnownFleet, versions: Sequence[BoundsVersion]
) -> Iterator[DeviceDeviation]:
    for report in new:
        profile, model = known.profile_at(report.read_at), known.models[report.device]
        if profile is None:
            continue
        judgement = judge(
            profile,
            model=model,
            preset=report.preset,
            state_read=report.state_read,
            readings=report.readings,
            bounds=stored_bounds(in_force_among(versions, report.read_at)),
        )
        rendered = rendered_presets(profile, model)[report.preset]
        for deviation in judgement.deviations:
            yield DeviceDeviation(
                report.device,
                report.preset,
                deviation,
                report.read_at,
                report.state_read,
                rendered,
            )
