"""The limits in force, as crews look them up: open to everybody who knows the agency's address."""

from dataclasses import dataclass
from datetime import date, datetime

from sqlmodel import Session

from app.domain.ages import Age
from app.domain.by_hand import CategoryOnModel, by_hand_on
from app.domain.errors import NotFound
from app.domain.local_days import local_day
from app.domain.look_up import LimitsAt, limits_at, limits_of_category
from app.domain.profiles import Profile
from app.domain.revision_warnings import RevisionWarning, overdue
from app.domain.revisions import Signature
from app.domain.waivers import Waiver, waived_at
from app.exchange.stored_profiles import stored_profile
from app.lookups.revision_warnings import warnings_of
from app.storage.agencies import agency_by_id
from app.storage.revisions import lines_of, revision_in_force
from app.storage.waivers import waivers_of


@dataclass(frozen=True)
class PolicyInForce:
    """A revision that is in force, without anything that was not signed.

    `overdue`: what its director must do; the limits hold all the same. `today`: in its zone.
    """

    number: int
    in_force_at: datetime
    signatures: tuple[Signature, ...]
    fingerprint: str
    profile: Profile
    waivers: tuple[Waiver, ...]
    overdue: tuple[RevisionWarning, ...]
    today: date

    def waived(self, category: str, alarm: str, circumstance: str = "") -> tuple[Waiver, ...]:
        """What its director waived about one alarm, also what has ended."""
        return tuple(waived_at(self.waivers, category, alarm, circumstance))

    def at(self, age: Age, circumstance: str = "") -> LimitsAt:
        """Raises NotFound where the age reaches no category, or it knows no such circumstance."""
        found = limits_at(self.profile, age, circumstance)
        if found is None:
            raise NotFound(f"This policy has no category for the age of {age}.")
        return found

    def of_category(self, key: str, circumstance: str = "") -> LimitsAt:
        """Raises NotFound."""
        found = limits_of_category(self.profile, key, circumstance)
        if found is None:
            raise NotFound("This policy has no such category.")
        return found

    def by_hand_on(self, model: str) -> tuple[CategoryOnModel, ...]:
        return by_hand_on(self.profile, model)


def ends_at(tx: Session, *, agency_id: int, now: datetime) -> datetime | None:
    """When what holds now will no longer hold, as far as it is decided."""
    line = next((one for one in lines_of(tx, agency_id) if one.holds_at(now)), None)
    return None if line is None else line.until


def policy_in_force(tx: Session, *, agency_id: int, now: datetime) -> PolicyInForce | None:
    """None before the first revision begins and after a withdrawal: then nothing may be shown."""
    found = revision_in_force(tx, agency_id=agency_id, at=now)
    if found is None or found.in_force_at is None:
        return None
    zone = agency_by_id(tx, agency_id).time_zone
    return PolicyInForce(
        number=found.number,
        in_force_at=found.in_force_at,
        signatures=found.signatures,
        fingerprint=found.fingerprint,
        profile=stored_profile(found.document),
        waivers=waivers_of(tx, found.id),
        overdue=overdue(warnings_of(tx, found, now=now, zone=zone)),
        today=local_day(now, zone),
    )
