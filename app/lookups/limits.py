"""The limits in force, as crews look them up: open to everybody who knows the agency's address."""

from dataclasses import dataclass
from datetime import datetime

from sqlmodel import Session

from app.domain.ages import Age
from app.domain.by_hand import CategoryOnModel, by_hand_on
from app.domain.errors import NotFound
from app.domain.look_up import LimitsAt, limits_at, limits_of_category
from app.domain.profiles import Profile
from app.domain.revisions import Signature
from app.exchange.stored_profiles import stored_profile
from app.storage.revisions import revision_in_force


@dataclass(frozen=True)
class PolicyInForce:
    """A revision that is in force, without anything that was not signed."""

    number: int
    in_force_at: datetime
    signatures: tuple[Signature, ...]
    fingerprint: str
    profile: Profile

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


def policy_in_force(tx: Session, *, agency_id: int, now: datetime) -> PolicyInForce | None:
    """None before the first revision begins and after a withdrawal: then nothing may be shown."""
    found = revision_in_force(tx, agency_id=agency_id, at=now)
    if found is None or found.in_force_at is None:
        return None
    return PolicyInForce(
        number=found.number,
        in_force_at=found.in_force_at,
        signatures=found.signatures,
        fingerprint=found.fingerprint,
        profile=stored_profile(found.document),
    )
