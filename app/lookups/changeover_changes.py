"""What is to be changed on one device, and who has verified it."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from sqlmodel import Session

from app.domain.changeover import InForce
from app.domain.changeover_jobs import DeviceJobs, Job, JobState
from app.domain.comparison import base_alarm
from app.domain.device_reports import Reading
from app.domain.packing import unpack
from app.domain.rendering import RenderedPreset, rendered_presets
from app.lookups.changeover_jobs import Changeover
from app.lookups.judged import Line
from app.storage.changeover_rows import readers_of
from app.storage.layouts import columns_from


@dataclass(frozen=True)
class KnownJob:
    """A job beside what the preset is known to hold; `lines` only where that has to change."""

    job: Job
    rendered: RenderedPreset
    lines: tuple[Line, ...]


def changes_of(found: Changeover, told: DeviceJobs) -> list[KnownJob]:
    """Of one device, every preset of which anything is known."""
    known = found.known.get(told.device.tag)
    if known is None or found.against is None or not known.is_known:
        return []
    readings: dict[str, dict[str, Reading]] = defaultdict(dict)
    for (preset, alarm), reading in unpack(columns_from(known.columns), known.packed).items():
        readings[preset][alarm] = reading
    presets = rendered_presets(found.against.profile, told.device.model)
    return [
        KnownJob(job, presets[job.preset], _lines(found.against, presets[job.preset], readings))
        for job in told.jobs
        if job.preset in readings
    ]


def _lines(
    against: InForce, rendered: RenderedPreset, readings: Mapping[str, Mapping[str, Reading]]
) -> tuple[Line, ...]:
    deviations = against.deviations(rendered, readings[rendered.preset])
    return tuple(
        Line(one.alarm, rendered.settings.get(base_alarm(one.alarm)), one.found)
        for one in deviations
    )


def reader_names(tx: Session, jobs: Iterable[Job]) -> dict[int, str]:
    """By report, of those that verified."""
    verified = [job.report for job in jobs if job.state is JobState.VERIFIED and job.report]
    return readers_of(tx, verified)
