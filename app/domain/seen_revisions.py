"""Whether a new revision has reached the people who work by it.

Aims: 95 percent before it comes into force, everybody within 14 days after it (a judgement; no
published rule gives them).
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from app.domain.people import Person, Role
from app.domain.phone_clocks import PhoneClock

BEFORE_SHARE = 0.95
ALL_WITHIN = timedelta(days=14)
NOT_TOLD = "station not told yet"


@dataclass(frozen=True)
class Said:
    """On a phone without signal. `reader`: whoever was signed in, empty if that is not known."""

    reader: str
    clock: PhoneClock


@dataclass(frozen=True)
class Seen:
    person_id: int
    station: str
    at: datetime


@dataclass(frozen=True)
class AtStation:
    """`missing` by name: they are reminded, not judged."""

    station: str
    people: int
    seen: int
    missing: tuple[str, ...]


@dataclass(frozen=True)
class Reach:
    """How one revision has reached the crews. `all_by`: the day by which everybody should know."""

    people: int
    seen: int
    before: int
    in_force_at: datetime
    stations: tuple[AtStation, ...]

    @property
    def all_by(self) -> datetime:
        return self.in_force_at + ALL_WITHIN

    @property
    def enough_before(self) -> bool:
        return self.people > 0 and self.before >= BEFORE_SHARE * self.people

    @property
    def everybody(self) -> bool:
        return self.seen == self.people

    def late(self, now: datetime) -> bool:
        return not self.everybody and now >= self.all_by


def must_see(person: Person) -> bool:
    """Who looks limits up beside a patient."""
    return Role.CREW in person.roles


def reach(
    crew: Iterable[Person],
    seen: Iterable[Seen],
    last_stations: Mapping[int, str],
    *,
    in_force_at: datetime,
) -> Reach:
    """`seen` by others than the crew is worth nothing here: they look nothing up."""
    people = [person for person in crew if must_see(person)]
    told = {one.person_id: one for one in seen}
    has_seen = [told[person.id] for person in people if person.id in told]
    return Reach(
        people=len(people),
        seen=len(has_seen),
        before=sum(one.at < in_force_at for one in has_seen),
        in_force_at=in_force_at,
        stations=tuple(_stations(people, told, last_stations)),
    )


def _stations(
    people: list[Person], told: Mapping[int, Seen], last: Mapping[int, str]
) -> Iterable[AtStation]:
    of = {p.id: told[p.id].station if p.id in told else last.get(p.id, NOT_TOLD) for p in people}
    for station in sorted(set(of.values()), key=lambda one: (one == NOT_TOLD, one)):
        there = [person for person in people if of[person.id] == station]
        missing = tuple(sorted(person.name for person in there if person.id not in told))
        yield AtStation(station, len(there), len(there) - len(missing), missing)
