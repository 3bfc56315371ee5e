"""What a category's limits cost in recorded trends: noise, silence, and what they were told from.

Kept as it was found, with the fingerprints of policy, bounds and recordings.
"""

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass

Table = tuple[tuple[int, ...], ...]
"""By delay, then by limit."""


@dataclass(frozen=True)
class Used:
    """A recording that was replayed; `synthetic` says how it was invented, empty for a real one."""

    number: int
    name: str
    fingerprint: str
    synthetic: str
    patients: int
    hours: float


@dataclass(frozen=True)
class Policy:
    revision: int
    fingerprint: str


@dataclass(frozen=True)
class Measured:
    """What a line (or all of them) does under one policy; `low` and `high`: of `per_hour`, by
    drawing patients, None with a single patient. `limit` None: of all lines."""

    limit: float | None
    delay_s: float
    count: int
    per_hour: float
    seconds: float
    patients: int
    worst_tenth: float | None
    low: float | None
    high: float | None


@dataclass(frozen=True)
class SilentBeyond:
    """Beyond one outer bound: all there is, and what passes unannounced at each limit."""

    value: float
    grade: str
    source: str
    beyond_seconds: int
    beyond_episodes: int
    beyond_patients: int
    seconds: Table
    episodes: Table
    patients: Table


@dataclass(frozen=True)
class LineEvidence:
    """`revision`, `against`: None where the line is not on there. `change_low`, `change_high`: of
    alarms an hour, this revision less the other, on the same patients."""

    alarm: str
    hours: float
    patients: int
    limits: tuple[float, ...]
    delays: tuple[float, ...]
    counts: Table
    seconds: Table
    alarmed: Table
    silence: tuple[SilentBeyond, ...]
    revision: Measured | None
    against: Measured | None
    change_low: float | None
    change_high: float | None


@dataclass(frozen=True)
class Evidence:
    """`against`: what it is held against, in force or before it; None where there is no other.
    `circumstance`: the key of that in which the limits stand, empty for the plain ones. `whole`
    and `whole_against` are of all lines that the recordings can sound."""

    category: str
    policy: Policy
    against: Policy | None
    bounds: str
    bounds_fingerprint: str
    recordings: tuple[Used, ...]
    hours: float
    patients: int
    whole: Measured
    whole_against: Measured | None
    lines: tuple[LineEvidence, ...]
    not_replayed: tuple[str, ...]
    seed: int
    draws: int
    circumstance: str = ""

    @property
    def synthetic(self) -> bool:
        return any(one.synthetic for one in self.recordings)

    def line(self, alarm: str) -> LineEvidence | None:
        return next((line for line in self.lines if line.alarm == alarm), None)


def recordings_fingerprint(fingerprints: Sequence[str]) -> str:
    """Of a set of recordings, whatever their order."""
    return hashlib.sha256("\n".join(sorted(fingerprints)).encode()).hexdigest()


def question_fingerprint(
    category: str,
    policy: str,
    against: str | None,
    bounds: str,
    recordings: str,
    *more: str,
) -> str:
    """The same question has the same answer, so it need not be asked again. `more`: the
    circumstance, and what the models of the fleet can be set to."""
    parts = "\n".join([category, policy, against or "", bounds, recordings, *more])
    return hashlib.sha256(parts.encode()).hexdigest()
