"""What a revision asks to be done on every device: one job a preset, and how far it is."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from functools import cached_property, lru_cache

from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.domain.devices import Device
from app.domain.findings import Severity
from app.domain.known_devices import PresetNow, StateNow
from app.domain.option_judgement import ANY_PRESET
from app.domain.profiles import Profile
from app.domain.rendering import RenderedPreset, rendered_presets
from app.domain.settings_of_alarms import Off, On, Setting
from app.domain.shown_settings import shown_setting


class JobState(StrEnum):
    """`HOLDS`: nothing on this preset is changed, and it conformed when it was last read."""

    UNSAFE = "unsafe"
    DIFFERS = "differs"
    NEVER_READ = "never read"
    NOT_SINCE = "not read since"
    WAITS = "waits for another look"
    IN_PART = "read in part"
    NOT_BLIND = "conforms, but nobody read it blind"
    VERIFIED = "verified"
    HOLDS = "holds already"

    @property
    def done(self) -> bool:
        return self in (JobState.VERIFIED, JobState.HOLDS)


_ORDER = {state: rank for rank, state in enumerate(JobState)}


@dataclass(frozen=True)
class Job:
    """`preset`: `*` are the options. `report`: the one that tells, if it was ever read. `to_set`:
    it is known to hold something else than what is to be set, or nobody knows what it holds."""

    preset: str
    state: JobState
    report: int | None = None
    read_at: datetime | None = None
    to_set: bool = True


@dataclass(frozen=True)
class DeviceJobs:
    """`verified_at`: when the last of its presets was first read as signed; None: not all were.

    `nothing_to_do`: the revision changes nothing on it, and it held when last read.
    """

    device: Device
    jobs: tuple[Job, ...]
    verified_at: datetime | None = None

    @cached_property
    def done(self) -> bool:
        return bool(self.jobs) and all(job.state.done for job in self.jobs)

    @cached_property
    def nothing_to_do(self) -> bool:
        return bool(self.jobs) and all(job.state is JobState.HOLDS for job in self.jobs)

    @cached_property
    def worst(self) -> JobState | None:
        """What needs somebody first; None: the revision has no presets for its model."""
        return min((job.state for job in self.jobs), key=_ORDER.__getitem__, default=None)


@dataclass(frozen=True)
class Beginning:
    """`began` may be still to come. `not_blind`: reports since then that nobody is known to have
    read blind. `unchanged`: presets on which the revision changes nothing."""

    began: datetime
    now: datetime
    overdue_before: datetime
    not_blind: Collection[int]


def job(
    preset: str, known: PresetNow | None, begins: Beginning, *, unchanged: bool, deviates: bool
) -> Job:
    """`deviates`: what it is known to hold is not what this revision wants."""
    if known is None:
        return _never_read(preset)
    told = known.telling
    state = _since(told, begins) if told.read_at >= begins.began else None
    if state is None:
        whole = told.tally.worst is None and not told.tally.missing and not told.waits
        recent = known.read_at >= begins.overdue_before
        holds = unchanged and whole and recent and not deviates
        state = JobState.HOLDS if holds else JobState.NOT_SINCE
    return Job(preset, state, told.report, told.read_at, to_set=deviates)


@lru_cache(maxsize=1024)
def _never_read(preset: str) -> Job:
    return Job(preset, JobState.NEVER_READ)


def _since(told: StateNow, begins: Beginning) -> JobState:
    """By the reading that tells, which this revision judged."""
    if told.tally.worst is Severity.UNSAFE:
        return JobState.UNSAFE
    if told.tally.worst is not None:
        return JobState.DIFFERS
    if told.waits:
        return JobState.WAITS
    if told.tally.missing:
        return JobState.IN_PART
    return JobState.NOT_BLIND if told.report in begins.not_blind else JobState.VERIFIED


def unchanged_presets(before: Profile | None, after: Profile, model: str) -> frozenset[str]:
    """On which a device of that model is to hold the same as before."""
    if before is None:
        return frozenset()
    old, new = rendered_presets(before, model), rendered_presets(after, model)
    same = {name for name in new if name in old and _same(old[name], new[name])}
    if after.options and _values(before) == _values(after):
        same.add(ANY_PRESET)
    return frozenset(same)


def jobs_of(profile: Profile, model: str) -> tuple[str, ...]:
    """The presets of that model, and its options as one more where the policy states any."""
    presets = tuple(rendered_presets(profile, model))
    return (*presets, ANY_PRESET) if presets and profile.options else presets


def _values(profile: Profile) -> dict[str, object]:
    return {key: option.value for key, option in profile.options.items()}


def _same(old: RenderedPreset, new: RenderedPreset) -> bool:
    return all(_held(old, alarm) == _held(new, alarm) for alarm in ALARM_CONDITIONS)


def _held(preset: RenderedPreset, alarm: str) -> object:
    """Without what stands on paper only: reason, source and latitude."""
    if not isinstance(preset.settings.get(alarm), On | Off):
        return None
    shown: Setting = shown_setting(preset, alarm)
    if not isinstance(shown, On):
        return shown.state
    return shown.limit, shown.unit, shown.priority, shown.delay_s, shown.latching, shown.deep


def verified_at(
    jobs: Sequence[Job], first_read: Mapping[str, datetime], began: datetime
) -> datetime | None:
    """`first_read`: by preset, the first whole conforming blind reading since it began."""
    if not jobs or not all(job.state.done for job in jobs):
        return None
    done = [
        began if one.state is JobState.HOLDS else first_read.get(one.preset, one.read_at)
        for one in jobs
    ]
    return max(at for at in done if at is not None)
