"""How far a revision has reached the fleet: a job for every preset of every device."""

from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal
from functools import cache

import numpy as np
from sqlmodel import Session

from app.domain.agency_choices import AgencyChoices
from app.domain.block_gaps import BlockAgainst
from app.domain.changeover import InForce
from app.domain.changeover_curve import ChangeoverCurve, changeover_curve
from app.domain.changeover_jobs import (
    Beginning,
    DeviceJobs,
    JobState,
    job,
    jobs_of,
    unchanged_presets,
    verified_at,
)
from app.domain.errors import NotFound
from app.domain.fleet import critical_of
from app.domain.moves import RevisionStatus
from app.domain.option_judgement import ANY_PRESET
from app.domain.packing import COULD_NOT_READ, NOT_READ
from app.domain.power_pauses import counts
from app.domain.profiles import Profile
from app.domain.reading_block import reading_block
from app.domain.rendering import RenderedPreset, rendered_presets
from app.domain.revisions import RevisionLine, earlier_numbers, in_order_of_force
from app.exchange.stored_bounds import stored_bounds
from app.exchange.stored_profiles import stored_profile
from app.lookups.policy_standing import PolicyStanding, standing_beside
from app.storage.agencies import agency_by_id
from app.storage.changeover_rows import (
    Conforming,
    KnownDevice,
    conforming_since,
    known_devices,
    not_blind_since,
)
from app.storage.layouts import columns_from
from app.storage.outer_bounds import bounds_version_in_force
from app.storage.revisions import documents_of, lines_of
from app.storage.uncollected import without_collecting

_REACHING = (RevisionStatus.IN_FORCE, RevisionStatus.SIGNED)
_UNREAD = np.array([NOT_READ, COULD_NOT_READ], np.int16)
Presets = Mapping[str, RenderedPreset]


@dataclass(frozen=True)
class Changeover:
    """`revision` None: nothing is in force and nothing is signed for later.

    `curve` counts the devices on which there is anything to do. `next`: a later revision that is
    signed already. `overdue`: the time in which every device was to be verified is over.
    """

    revision: RevisionLine | None
    against: InForce | None
    devices: tuple[DeviceJobs, ...]
    curve: ChangeoverCurve
    choices: AgencyChoices
    now: datetime
    standing: PolicyStanding
    next: RevisionLine | None = None
    known: Mapping[str, KnownDevice] = field(default_factory=dict)

    @property
    def overdue(self) -> bool:
        began = None if self.revision is None else self.revision.in_force_at
        return began is not None and self.now >= began + self.choices.changeover

    @property
    def profile(self) -> Profile | None:
        return None if self.against is None else self.against.profile

    @property
    def ahead(self) -> bool:
        """It is not in force yet."""
        return self.revision is not None and self.revision.status is RevisionStatus.SIGNED

    def number(self, state: JobState) -> int:
        """Of jobs in that state."""
        return sum(one.state is state for device in self.devices for one in device.jobs)


@without_collecting()
def changeover(
    tx: Session, *, agency_id: int, now: datetime, number: int | None = None
) -> Changeover:
    """Nine statements, however large the fleet. Raises NotFound where the revision neither is in
    force nor comes into force later."""
    agency = agency_by_id(tx, agency_id)
    choices = agency.choices
    lines = [line.as_of(now) for line in lines_of(tx, agency_id)]
    reaching = [line for line in in_order_of_force(lines) if line.status in _REACHING]
    line = _chosen(reaching, number)
    standing = standing_beside(tx, line, zone=agency.time_zone, now=now)
    if line is None or line.in_force_at is None:
        return Changeover(None, None, (), _curve([], now, now, choices), choices, now, standing)
    profile, before = _profiles(tx, agency_id, lines, line.number)
    bounds = stored_bounds(bounds_version_in_force(tx, agency_id=agency_id, at=now))
    today = InForce(line.number, line.in_force_at, profile, bounds, {}, choices.changeover)
    known = known_devices(tx, agency_id)
    not_blind = not_blind_since(tx, agency_id, line.in_force_at)
    first = _first_read(conforming_since(tx, agency_id, line.in_force_at), profile, choices, known)
    begins = Beginning(line.in_force_at, now, now - choices.check_interval, not_blind)
    devices = tuple(_jobs(known, today, before, begins, first))
    return Changeover(
        line,
        today,
        _urgent_first(devices),
        _curve(devices, line.in_force_at, now, choices),
        choices,
        now,
        standing,
        next(iter(reaching[reaching.index(line) + 1 :]), None),
        {one.device.tag: one for one in known},
    )


def _profiles(
    tx: Session, agency_id: int, lines: Sequence[RevisionLine], number: int
) -> tuple[Profile, Profile | None]:
    """Of that revision, and of the one before it."""
    older = earlier_numbers(lines, number, most=1)
    documents = documents_of(tx, agency_id=agency_id, numbers=[number, *older])
    return stored_profile(documents[number]), stored_profile(documents[older[0]]) if older else None


def _chosen(reaching: Sequence[RevisionLine], number: int | None) -> RevisionLine | None:
    """Unless asked otherwise the one in force, before that the first that will be."""
    if number is None:
        return next(iter(reaching), None)
    found = next((line for line in reaching if line.number == number), None)
    if found is None:
        raise NotFound(f"Revision {number} is not in force and does not come into force later.")
    return found


def _curve(
    devices: Iterable[DeviceJobs], began: datetime, now: datetime, choices: AgencyChoices
) -> ChangeoverCurve:
    return changeover_curve(
        [one.verified_at for one in devices if one.jobs and not one.nothing_to_do],
        began=began,
        now=now,
        most_days=choices.most_changed_days,
        all_days=choices.changeover_days,
    )


def _urgent_first(devices: Iterable[DeviceJobs]) -> tuple[DeviceJobs, ...]:
    """Those that are as urgent stay in the order of stations and tags."""
    order: dict[JobState | None, int] = {state: rank for rank, state in enumerate(JobState)}
    return tuple(sorted(devices, key=lambda one: order.get(one.worst, len(order))))


def _jobs(
    known: Sequence[KnownDevice],
    today: InForce,
    before: Profile | None,
    begins: Beginning,
    first: Mapping[str, Mapping[str, datetime]],
) -> Iterator[DeviceJobs]:
    unchanged = cache(lambda model: unchanged_presets(before, today.profile, model))
    offered = cache(lambda model: jobs_of(today.profile, model))
    astray = _astray(known, today)
    for one in known:
        model, tag, presets = one.device.model, one.device.tag, one.presets
        jobs = tuple(
            job(
                preset,
                presets.get(preset),
                begins,
                unchanged=preset in unchanged(model),
                deviates=preset in astray.get(tag, ()),
            )
            for preset in offered(model)
        )
        yield DeviceJobs(one.device, jobs, verified_at(jobs, first.get(tag, {}), begins.began))


def _astray(known: Iterable[KnownDevice], today: InForce) -> dict[str, frozenset[str]]:
    """By device the presets on which something else is known to be held."""
    alike: dict[tuple[str, str], list[KnownDevice]] = defaultdict(list)
    for one in known:
        if one.is_known:
            alike[one.device.model, one.columns].append(one)
    found = {}
    for (model, columns), some in alike.items():
        block = reading_block(columns_from(columns), [one.packed for one in some])
        against = BlockAgainst(today, model, block.layout)
        told = against.astray(block, against.deviations(block))
        for one, row in zip(some, told.tolist(), strict=True):
            if any(row):
                names = (name for name, off in zip(against.presets, row, strict=True) if off)
                found[one.device.tag] = frozenset(names)
    return found


def _first_read(
    found: Iterable[Conforming],
    profile: Profile,
    choices: AgencyChoices,
    known: Iterable[KnownDevice],
) -> dict[str, dict[str, datetime]]:
    """By device and preset, when it was first read as signed, every critical alarm of it."""
    models = {one.device.tag: one.device.model for one in known}
    places = cache(_asked(profile, choices))
    retention_of = cache(lambda model: _retention(profile, model))
    first: dict[str, dict[str, datetime]] = {}
    for one in found:
        model = models.get(one.device)
        if model is None or one.preset in first.get(one.device, {}):
            continue
        asked, retention = places(model, one.preset, one.columns), retention_of(model)
        if asked is None or not counts(one.state_read, one.minutes_off, retention):
            continue
        if not np.isin(np.frombuffer(one.vals, "<i2")[asked], _UNREAD).any():
            first.setdefault(one.device, {})[one.preset] = one.read_at
    return first


def _asked(profile: Profile, choices: AgencyChoices) -> Callable[[str, str, str], list[int] | None]:
    """Where the critical alarms of a preset, or all options that the policy states, stand in a
    layout; None: not all of them do, or the model has no such preset."""

    def places(model: str, preset: str, columns: str) -> list[int] | None:
        if preset not in jobs_of(profile, model):
            return None
        at = {column: place for place, column in enumerate(columns_from(columns))}
        wanted: Collection[tuple[str, str]] = [(preset, key) for key in keys_of(model, preset)]
        return [at[one] for one in wanted] if all(one in at for one in wanted) else None

    def keys_of(model: str, preset: str) -> Collection[str]:
        if preset == ANY_PRESET:
            return list(profile.options)
        return critical_of(rendered_presets(profile, model)[preset], choices)

    return places


def _retention(profile: Profile, model: str) -> Decimal | None:
    """Minutes; of the model, so each of its presets has the same."""
    presets = rendered_presets(profile, model).values()
    return next((one.retention_min for one in presets), None)
