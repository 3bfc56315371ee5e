"""What is to be changed on one device, and who has verified it."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from sqlmodel import Session

from app.domain.changeover import InForce
from app.domain.changeover_jobs import DeviceJobs, Job, JobState
from app.domain.comparison import Direction, base_alarm
from app.domain.device_reports import Reading
from app.domain.option_judgement import ANY_PRESET, option_deviations
from app.domain.packing import unpack
from app.domain.profiles import Profile
from app.domain.rendering import RenderedPreset, rendered_presets
from app.lookups.changeover_jobs import Changeover
from app.lookups.judged import Line
from app.storage.changeover_rows import readers_of
from app.storage.layouts import columns_from


@dataclass(frozen=True)
class KnownJob:
    """A job beside what the preset is known to hold; `lines` only where that has to change.
    `rendered` None: these are the options."""

    job: Job
    rendered: RenderedPreset | None
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
    known_jobs = []
    for job in told.jobs:
        if job.preset == ANY_PRESET and ANY_PRESET in readings:
            lines = _of_options(found.against.profile, told.device.model, readings[ANY_PRESET])
            known_jobs.append(KnownJob(job, None, lines))
        elif job.preset in readings:
            rendered = presets[job.preset]
            known_jobs.append(KnownJob(job, rendered, _lines(found.against, rendered, readings)))
    return known_jobs


def _of_options(profile: Profile, model: str, readings: Mapping[str, Reading]) -> tuple[Line, ...]:
    deviations = option_deviations(profile, model, readings)
    return tuple(
        Line(one.alarm, profile.options.get(one.alarm), one.found)
        for one in deviations
        if one.direction is not Direction.UNREAD
    )


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
