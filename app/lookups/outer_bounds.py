"""The outer bounds of an agency: those in force, all versions, one beside what holds."""

from dataclasses import dataclass, replace
from datetime import datetime

from sqlmodel import Session

from app.domain.bounds_changes import BoundChange, bounds_changes
from app.domain.bounds_versions import BoundsStatus, BoundsVersion, in_force_among, status_among
from app.domain.default_bounds import DEFAULT_BOUNDS
from app.domain.errors import NotFound
from app.domain.findings import Finding, Severity
from app.domain.outer_bounds import OuterBounds
from app.domain.profiles import Profile
from app.domain.rules import check
from app.exchange.stored_bounds import stored_bounds
from app.exchange.stored_profiles import stored_profile
from app.storage.outer_bounds import bounds_version_in_force, bounds_versions
from app.storage.revisions import revision_in_force


@dataclass(frozen=True)
class ListedBounds:
    version: BoundsVersion
    status: BoundsStatus


@dataclass(frozen=True)
class AgencyBounds:
    """`version` None: the default judges, which nobody here has adopted. The newest first."""

    in_force: OuterBounds
    version: BoundsVersion | None
    versions: tuple[ListedBounds, ...]


@dataclass(frozen=True)
class PolicyUnder:
    """The policy in force, judged by other bounds than now."""

    revision: int
    newly_unsafe: tuple[Finding, ...]
    unsafe_before: tuple[Finding, ...]  # and no longer


@dataclass(frozen=True)
class OpenBounds:
    """One version beside what is in force, and beside the default."""

    listed: ListedBounds
    all_versions: tuple[ListedBounds, ...]
    bounds: OuterBounds
    in_force: OuterBounds
    against_in_force: tuple[BoundChange, ...]
    against_default: tuple[BoundChange, ...]
    policy: PolicyUnder | None


def bounds_in_force(tx: Session, *, agency_id: int, at: datetime) -> OuterBounds:
    return stored_bounds(bounds_version_in_force(tx, agency_id=agency_id, at=at))


def agency_bounds(tx: Session, *, agency_id: int, now: datetime) -> AgencyBounds:
    versions = bounds_versions(tx, agency_id)
    held = in_force_among(versions, now)
    listed = (ListedBounds(one, status_among(versions, one, now)) for one in reversed(versions))
    return AgencyBounds(stored_bounds(held), held, tuple(listed))


def open_bounds(tx: Session, *, agency_id: int, number: int, now: datetime) -> OpenBounds:
    """Raises NotFound."""
    found = agency_bounds(tx, agency_id=agency_id, now=now)
    for listed in found.versions:
        if listed.version.number == number:
            bounds = stored_bounds(listed.version)
            return OpenBounds(
                listed,
                found.versions,
                bounds,
                found.in_force,
                tuple(bounds_changes(found.in_force, bounds)),
                tuple(bounds_changes(DEFAULT_BOUNDS, bounds)),
                _policy_under(tx, found.in_force, bounds, agency_id=agency_id, now=now),
            )
    raise NotFound(f"There is no version {number} of the outer bounds.")


def with_bounds(
    tx: Session, found: OpenBounds, bounds: OuterBounds, *, agency_id: int, now: datetime
) -> OpenBounds:
    """As if these were the rows of that version: what a change means before it is saved."""
    return replace(
        found,
        bounds=bounds,
        against_in_force=tuple(bounds_changes(found.in_force, bounds)),
        against_default=tuple(bounds_changes(DEFAULT_BOUNDS, bounds)),
        policy=_policy_under(tx, found.in_force, bounds, agency_id=agency_id, now=now),
    )


def _policy_under(
    tx: Session, before: OuterBounds, after: OuterBounds, *, agency_id: int, now: datetime
) -> PolicyUnder | None:
    held = revision_in_force(tx, agency_id=agency_id, at=now)
    if held is None:
        return None
    profile = stored_profile(held.document)
    old, new = _unsafe(profile, before), _unsafe(profile, after)
    return PolicyUnder(
        held.number,
        tuple(new[key] for key in new if key not in old),
        tuple(old[key] for key in old if key not in new),
    )


def _unsafe(profile: Profile, bounds: OuterBounds) -> dict[tuple[object, ...], Finding]:
    """By what they say but for the numbers: a gap that grows is no new one."""
    return {
        (found.rule, found.category, found.alarms, *sorted(map(str, _where(found)))): found
        for found in check(profile, bounds=bounds)
        if found.severity is Severity.UNSAFE
    }


def _where(found: Finding) -> list[object]:
    return [found.measured.get(key) for key in ("circumstance", "preset", "side")]
