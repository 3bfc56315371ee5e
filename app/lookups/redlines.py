"""Any two revisions side by side: what changed, what it does, and what it makes void."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from sqlmodel import Session

from app.domain.outer_bounds import OuterBounds
from app.domain.profiles import Profile
from app.domain.redline import Redline, redline
from app.domain.redline_effects import VitalEffect, effects
from app.domain.redline_voids import ModelVoid, VoidCards, void_cards, void_models
from app.domain.revisions import RevisionLine, StoredRevision, earlier_numbers
from app.exchange.stored_bounds import stored_bounds
from app.exchange.stored_profiles import stored_profile
from app.lookups.revisions import all_revisions, revision
from app.storage import devices
from app.storage.outer_bounds import bounds_version_in_force

MOST_TAGS = 500
"""Above it stations tell counts alone."""


@dataclass(frozen=True)
class AtStation:
    """`tags` is empty where the fleet is too large to list."""

    station: str
    count: int
    tags: tuple[str, ...]


@dataclass(frozen=True)
class VoidOnModel:
    """What one model shows otherwise, and where the agency's devices of that model are."""

    effect: ModelVoid
    stations: tuple[AtStation, ...]

    @property
    def count(self) -> int:
        return sum(one.count for one in self.stations)


@dataclass(frozen=True)
class ComparedRevisions:
    """From `before`, the one compared against, to `after`; judged by the bounds in force now."""

    after: StoredRevision
    before: StoredRevision
    profile: Profile
    redline: Redline
    effects: tuple[VitalEffect, ...]
    models: tuple[VoidOnModel, ...]
    cards: tuple[VoidCards, ...]
    bounds: OuterBounds

    @property
    def to_set(self) -> int:
        return sum(one.count for one in self.models if not one.effect.stays)

    @property
    def stay(self) -> int:
        return sum(one.count for one in self.models if one.effect.stays)


@dataclass(frozen=True)
class AskedComparison:
    """`compared` None: there is no other revision. `others` may be compared against."""

    revision: StoredRevision
    others: tuple[RevisionLine, ...]
    compared: ComparedRevisions | None


def compared_revisions(
    tx: Session, *, agency_id: int, number: int, against: int | None, now: datetime
) -> AskedComparison:
    """`against` None: the one in force, or for that one and those after it what was before."""
    found = revision(tx, agency_id=agency_id, number=number, now=now)
    lines = all_revisions(tx, agency_id=agency_id, now=now)
    others = tuple(line for line in reversed(lines) if line.number != number)
    chosen = usual_against(found, others, now) if against is None else against
    if chosen is None:
        return AskedComparison(found, others, None)
    other = revision(tx, agency_id=agency_id, number=chosen, now=now)
    bounds = stored_bounds(bounds_version_in_force(tx, agency_id=agency_id, at=now))
    return AskedComparison(found, others, _compared(tx, agency_id, other, found, bounds))


def usual_against(found: RevisionLine, others: Iterable[RevisionLine], now: datetime) -> int | None:
    """What is in force, for whatever has not been; else the latest that was before it."""
    held = [one.number for one in others if one.holds_at(now)]
    began = found.came_into_force and found.in_force_at is not None and found.in_force_at <= now
    if held and not began:
        return held[0]
    was_held = earlier_numbers([*others, found], found.number, most=1)
    drafted = [one.number for one in others if one.number < found.number]
    return next(iter(was_held), max(drafted, default=None))


def _compared(
    tx: Session,
    agency_id: int,
    before: StoredRevision,
    after: StoredRevision,
    bounds: OuterBounds,
) -> ComparedRevisions:
    old, new = stored_profile(before.document), stored_profile(after.document)
    changes = redline(old, new, bounds)
    return ComparedRevisions(
        after=after,
        before=before,
        profile=new,
        redline=changes,
        effects=effects(old, new, changes, bounds=bounds),
        models=_on_models(tx, agency_id, old, new),
        cards=tuple(void_cards(old, new)),
        bounds=bounds,
    )


def _on_models(
    tx: Session, agency_id: int, before: Profile, after: Profile
) -> tuple[VoidOnModel, ...]:
    """What has to be set first; models that the agency does not own last."""
    places = devices.count_by_place(tx, agency_id)
    owned = [model for model, _ in places]
    found = void_models(before, after, [*after.models, *before.models, *owned])
    void = [one.model for one in found if not one.stays]
    few = sum(count for (model, _), count in places.items() if model in void) <= MOST_TAGS
    tags = devices.devices_of_models(tx, agency_id, void) if few else []
    told = []
    for effect in found:
        stations = tuple(
            AtStation(
                station,
                count,
                tuple(d.tag for d in tags if (d.model, d.station) == (model, station)),
            )
            for (model, station), count in places.items()
            if model == effect.model
        )
        told.append(VoidOnModel(effect, stations))
    return tuple(sorted(told, key=lambda one: (not one.count, one.effect.stays)))
