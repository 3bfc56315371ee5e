"""A revision judged and drawn. The last of each is kept, so a change costs only what it touches."""

from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass
from threading import Lock

from app.domain.corridor import Corridor, corridor
from app.domain.findings import Finding
from app.domain.outer_bounds import OuterBounds
from app.domain.profiles import Profile
from app.domain.rules import check
from app.domain.rules.again import check_again
from app.lookups.policy import OpenRevision

_KEPT = 64


@dataclass(frozen=True)
class JudgedRevision:
    """`held` is the profile in force, drawn behind it."""

    profile: Profile
    held: Profile | None
    bounds: OuterBounds
    findings: Sequence[Finding]
    corridor: Corridor


_last: OrderedDict[int, JudgedRevision] = OrderedDict()
_lock = Lock()


def judged(found: OpenRevision) -> JudgedRevision:
    held = found.profile_in_force
    with _lock:
        before = _last.get(found.revision.id)
    fresh = _judge(before, found.profile, held, found.bounds)
    with _lock:
        _last[found.revision.id] = fresh
        _last.move_to_end(found.revision.id)
        while len(_last) > _KEPT:
            _last.popitem(last=False)
    return fresh


def _judge(
    before: JudgedRevision | None, profile: Profile, held: Profile | None, bounds: OuterBounds
) -> JudgedRevision:
    """Asked about what changed since; an equal answer whatever was kept."""
    if before is None or (before.held, before.bounds) != (held, bounds):
        drawn = corridor(profile, held, bounds=bounds)
        return JudgedRevision(profile, held, bounds, check(profile, bounds=bounds), drawn)
    if before.profile is profile:
        return before
    drawn = corridor(profile, held, bounds=bounds, redrawn=(before.profile, before.corridor))
    found = check_again(before.profile, before.findings, profile, bounds=bounds)
    return JudgedRevision(profile, held, bounds, found, drawn)
