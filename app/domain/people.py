"""Who acts: people and their roles within one agency."""

from dataclasses import dataclass
from enum import StrEnum


class Role(StrEnum):
    ADMINISTRATOR = "administrator"
    AUTHOR = "author"
    REVIEWER = "reviewer"
    MEDICAL_DIRECTOR = "medical-director"
    FLEET_MANAGER = "fleet-manager"
    TECHNICIAN = "technician"
    CREW = "crew"
    QUALITY_OFFICER = "quality-officer"
    EDUCATOR = "educator"

    @property
    def words(self) -> str:
        return self.value.replace("-", " ")


@dataclass(frozen=True)
class Person:
    """Somebody signed in; `agency` is the key of the only agency whose data they can see."""

    id: int
    agency_id: int
    agency: str
    username: str
    name: str
    roles: frozenset[Role]


class Scope(StrEnum):
    """What a program may do that an agency gave a token to."""

    READ_FLEET = "read-fleet"
    SEND_READINGS = "send-readings"
    END_ACCESS = "end-access"

    @property
    def words(self) -> str:
        return _SCOPE_WORDS[self]


_SCOPE_WORDS = {
    Scope.READ_FLEET: "see the fleet, its findings and the policy",
    Scope.SEND_READINGS: "send in readings of devices",
    Scope.END_ACCESS: "see who has an account, close accounts and end sessions",
}


@dataclass(frozen=True)
class Program(Person):
    """It holds no role and is nobody: it may do what its scopes say, and no more."""

    scopes: frozenset[Scope] = frozenset()
