"""May this person do this? One table, role by deed; the state of things is asked elsewhere."""

from enum import StrEnum

from app.domain.errors import NotAllowed
from app.domain.people import Person, Role


class Deed(StrEnum):
    SEE_POLICY = "see drafts and findings of the policy"
    EDIT_DRAFT = "edit a draft"
    SUBMIT_DRAFT = "submit a draft for review"
    REVIEW_DRAFT = "review a draft"
    SIGN_REVISION = "sign a revision"
    SEND_BACK = "send a revision back"
    SEE_FLEET = "see the fleet"
    READ_DEVICE = "read a device"
    UPLOAD_READINGS = "take in a file of readings"
    WORK_FINDING = "move a finding"
    ADD_DEVICE = "add a device"
    MANAGE_PEOPLE = "add people and give roles"
    CHOOSE = "set what the agency decides about checking"


_STAFF = frozenset(Role)
_POLICY = frozenset({Role.AUTHOR, Role.REVIEWER, Role.MEDICAL_DIRECTOR})
_FLEET = frozenset({Role.FLEET_MANAGER, Role.TECHNICIAN})

ALLOWED: dict[Deed, frozenset[Role]] = {
    Deed.SEE_POLICY: _STAFF,
    Deed.EDIT_DRAFT: frozenset({Role.AUTHOR, Role.MEDICAL_DIRECTOR}),
    Deed.SUBMIT_DRAFT: frozenset({Role.AUTHOR, Role.MEDICAL_DIRECTOR}),
    Deed.REVIEW_DRAFT: frozenset({Role.REVIEWER, Role.MEDICAL_DIRECTOR}),
    Deed.SIGN_REVISION: frozenset({Role.MEDICAL_DIRECTOR}),
    Deed.SEND_BACK: frozenset({Role.REVIEWER, Role.MEDICAL_DIRECTOR}),
    Deed.SEE_FLEET: _STAFF,
    Deed.READ_DEVICE: _FLEET | {Role.CREW},
    Deed.UPLOAD_READINGS: _FLEET,
    Deed.WORK_FINDING: _FLEET | {Role.MEDICAL_DIRECTOR},
    Deed.ADD_DEVICE: frozenset({Role.FLEET_MANAGER}),
    Deed.MANAGE_PEOPLE: frozenset({Role.ADMINISTRATOR}),
    Deed.CHOOSE: frozenset({Role.ADMINISTRATOR, Role.MEDICAL_DIRECTOR}),
}


def may(person: Person, deed: Deed) -> bool:
    return bool(person.roles & ALLOWED[deed])


def check_may(person: Person, deed: Deed) -> None:
    if not may(person, deed):
        holders = ", ".join(sorted(role.words for role in ALLOWED[deed]))
        raise NotAllowed(f"You may not {deed.value}. Allowed: {holders}.")
