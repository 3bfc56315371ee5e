"""The limits in force, as crews look them up: open to everybody who knows the agency's address."""

from dataclasses import dataclass
from datetime import date, datetime

from sqlmodel import Session

from app.domain.ages import Age
from app.domain.by_hand import CategoryOnModel, by_hand_on
from app.domain.errors import NotFound
from app.domain.local_days import local_day, next_day
from app.domain.look_up import LimitsAt, limits_at, limits_of_category
from app.domain.profiles import Profile
from app.domain.revision_warnings import RevisionWarning, overdue
from app.domain.revisions import RevisionLine, Signature
from app.domain.waivers import Waiver, waived_at
from app.exchange.stored_profiles import stored_profile
from app.lookups.revision_warnings import warnings_of
from app.storage.agencies import agency_by_id
from app.storage.revisions import lines_of, load_revision
from app.storage.waivers import waivers_of


@dataclass(frozen=True)
class PolicyShown:
    """A revision that is in force, without anything that was not signed.

    `overdue`: what its director must do; the limits hold all the same. `today`: in its zone.
    `withdrawn_at` only where none is in force and this was the last: never to be taken for one.
    """

    number: int
    in_force_at: datetime
    signatures: tuple[Signature, ...]
    fingerprint: str
    profile: Profile
    waivers: tuple[Waiver, ...]
    overdue: tuple[RevisionWarning, ...]
    today: date
    review_by: date | None
    withdrawn_at: datetime | None = None

    @property
    def expired(self) -> bool:
        """Past the day by which it had to be reviewed; it still holds until something follows."""
        return self.review_by is not None and self.today > self.review_by

    def waived(self, category: str, alarm: str, circumstance: str = "") -> tuple[Waiver, ...]:
        """What its director waived about one alarm, also what has ended."""
        return tuple(waived_at(self.waivers, category, alarm, circumstance))

    def at(self, age: Age, circumstance: str = "", model: str = "") -> LimitsAt:
        """Raises NotFound where the age reaches no category, or it knows no such circumstance or
        model."""
        found = limits_at(self.profile, age, circumstance, model)
        if found is None:
            raise NotFound(f"This policy has no category for the age of {age}.")
        return found

    def of_category(self, key: str, circumstance: str = "", model: str = "") -> LimitsAt:
        """Raises NotFound."""
        found = limits_of_category(self.profile, key, circumstance, model)
        if found is None:
            raise NotFound("This policy has no such category.")
        return found

    def by_hand_on(self, model: str) -> tuple[CategoryOnModel, ...]:
        return by_hand_on(self.profile, model)


def ends_at(tx: Session, *, agency_id: int, now: datetime) -> datetime | None:
    """When what holds now will no longer hold, as far as it is decided."""
    line = next((one for one in lines_of(tx, agency_id) if one.holds_at(now)), None)
    return None if line is None else line.until


def policy_in_force(tx: Session, *, agency_id: int, now: datetime) -> PolicyShown | None:
    """None before the first revision begins and after a withdrawal: then nothing may be judged."""
    found = policy_to_show(tx, agency_id=agency_id, now=now)
    return None if found is None or found.withdrawn_at is not None else found


def policy_to_show(tx: Session, *, agency_id: int, now: datetime) -> PolicyShown | None:
    """The one in force, else the last that was, told as withdrawn; None before the first began."""
    begun = [line for line in lines_of(tx, agency_id) if line.came_into_force and _began(line, now)]
    if not begun:
        return None
    found = load_revision(tx, begun[-1])
    zone = agency_by_id(tx, agency_id).time_zone
    return PolicyShown(
        number=found.number,
        in_force_at=_begin_of(found),
        signatures=found.signatures,
        fingerprint=found.fingerprint,
        profile=stored_profile(found.document),
        waivers=waivers_of(tx, found.id),
        overdue=overdue(warnings_of(tx, found, now=now, zone=zone)),
        today=local_day(now, zone),
        review_by=found.review_by,
        withdrawn_at=None if found.holds_at(now) else found.withdrawn_at,
    )


def _began(line: RevisionLine, now: datetime) -> bool:
    return line.in_force_at is not None and line.in_force_at <= now


def _begin_of(line: RevisionLine) -> datetime:
    assert line.in_force_at is not None  # noqa: S101 - asked by the caller
    return line.in_force_at


def next_turn(tx: Session, *, agency_id: int, now: datetime) -> datetime:
    """The first moment at which the look-up may say something else without any change: a revision
    begins or ends, somebody is overdue, or a new day begins in the agency's zone."""
    zone = agency_by_id(tx, agency_id).time_zone
    lines = lines_of(tx, agency_id)
    turns = [at for line in lines for at in (line.in_force_at, line.until, line.after_review_due)]
    return min([next_day(now, zone), *(at for at in turns if at is not None and at > now)])
