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
