"""May this person do this? One table, role by deed; the state of things is asked elsewhere."""

from enum import StrEnum

from app.domain.errors import NotAllowed
from app.domain.people import Person, Program, Role, Scope


class Deed(StrEnum):
    SEE_POLICY = "see drafts and findings of the policy"
    EDIT_DRAFT = "edit a draft"
    SUBMIT_DRAFT = "submit a draft for review"
    REVIEW_DRAFT = "review a draft"
    SIGN_REVISION = "sign a revision"
    SEND_BACK = "send a revision back"
    WAIVE_FINDING = "waive an unsafe finding"
    COMMENT = "comment on a revision"
    SEE_FLEET = "see the fleet"
    READ_DEVICE = "read a device"
    UPLOAD_READINGS = "take in a file of readings"
    WORK_FINDING = "move a finding"
    ACCEPT_FINDING = "accept a finding for a time"
    COMMENT_FINDING = "comment on a finding"
    RELEASE_DEVICE = "release a device from quarantine"
    SKIP_LOG = "let a device be corrected without its log"
    KEEP_REGISTER = "keep the register of devices"
    CHANGE_DEVICE = "change a device on the register"
    RECORD_MODEL = "record what a device model does"
    OVERRIDE_CLEARANCE = "override a clearance"
    DRAW_SAMPLE = "draw a sample"
    MAKE_INSPECTION_FILE = "make an inspection file"
    REAUDIT = "hold the whole fleet against the policy again"
    SEE_WORK = "see work that is done beside the pages"
    PRINT_CARDS = "print and collect pocket cards"
    KEEP_RECORDINGS = "keep recordings of trends"
    REPLAY = "replay recordings against a revision"
    MANAGE_PEOPLE = "add people and give roles"
    END_ACCESS = "see who has an account and end their access"
    GIVE_TOKENS = "give tokens to programs"
    CHOOSE = "set what the agency decides about checking"
    SEE_INSTALLATION = "see the service itself: version, backup, ledger"
    ACKNOWLEDGE = "say that you have seen a revision"
    SEE_REACH = "see who has not seen a revision"
    PRACTISE = "practise with the policy"


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
    Deed.WAIVE_FINDING: frozenset({Role.MEDICAL_DIRECTOR}),
    Deed.COMMENT: _POLICY,
    Deed.SEE_FLEET: _STAFF,
    Deed.READ_DEVICE: _FLEET | {Role.CREW},
    Deed.UPLOAD_READINGS: _FLEET,
    Deed.WORK_FINDING: _FLEET | {Role.MEDICAL_DIRECTOR},
    Deed.ACCEPT_FINDING: frozenset({Role.MEDICAL_DIRECTOR}),
    Deed.COMMENT_FINDING: _STAFF,
    Deed.RELEASE_DEVICE: frozenset({Role.MEDICAL_DIRECTOR, Role.FLEET_MANAGER}),
    Deed.SKIP_LOG: frozenset({Role.MEDICAL_DIRECTOR}),
    Deed.KEEP_REGISTER: frozenset({Role.FLEET_MANAGER}),
    Deed.CHANGE_DEVICE: _FLEET,
    Deed.RECORD_MODEL: _FLEET,
    Deed.OVERRIDE_CLEARANCE: frozenset({Role.MEDICAL_DIRECTOR}),
    Deed.PRINT_CARDS: frozenset({Role.MEDICAL_DIRECTOR, Role.FLEET_MANAGER, Role.EDUCATOR}),
    Deed.KEEP_RECORDINGS: frozenset({Role.MEDICAL_DIRECTOR, Role.AUTHOR, Role.QUALITY_OFFICER}),
    Deed.REPLAY: _POLICY | {Role.QUALITY_OFFICER},
    Deed.REAUDIT: frozenset({Role.FLEET_MANAGER, Role.MEDICAL_DIRECTOR}),
    Deed.SEE_WORK: _FLEET | {Role.MEDICAL_DIRECTOR},
    Deed.MAKE_INSPECTION_FILE: frozenset(
        {Role.QUALITY_OFFICER, Role.MEDICAL_DIRECTOR, Role.FLEET_MANAGER, Role.ADMINISTRATOR}
    ),
    Deed.DRAW_SAMPLE: frozenset({Role.FLEET_MANAGER, Role.QUALITY_OFFICER}),
    Deed.MANAGE_PEOPLE: frozenset({Role.ADMINISTRATOR}),
    Deed.END_ACCESS: frozenset({Role.ADMINISTRATOR}),
    Deed.GIVE_TOKENS: frozenset({Role.ADMINISTRATOR}),
    Deed.CHOOSE: frozenset({Role.ADMINISTRATOR, Role.MEDICAL_DIRECTOR}),
    Deed.SEE_INSTALLATION: frozenset({Role.ADMINISTRATOR}),
    Deed.ACKNOWLEDGE: _STAFF,
    Deed.SEE_REACH: frozenset({Role.EDUCATOR, Role.MEDICAL_DIRECTOR, Role.QUALITY_OFFICER}),
    Deed.PRACTISE: _STAFF,
}

DEEDS_IN: dict[Scope, frozenset[Deed]] = {
    Scope.READ_FLEET: frozenset({Deed.SEE_FLEET, Deed.SEE_POLICY}),
    Scope.SEND_READINGS: frozenset({Deed.READ_DEVICE, Deed.UPLOAD_READINGS, Deed.SEE_WORK}),
    Scope.END_ACCESS: frozenset({Deed.END_ACCESS}),
}
"""All that a program can ever be allowed. None makes an account or a link to set a password: by it
somebody could sign."""


def may(person: Person, deed: Deed) -> bool:
    if isinstance(person, Program):
        return any(deed in DEEDS_IN[scope] for scope in person.scopes)
    return bool(person.roles & ALLOWED[deed])


def check_may(person: Person, deed: Deed) -> None:
    if not may(person, deed) and isinstance(person, Program):
        raise NotAllowed(f"This token does not allow to {deed.value}.")
    if not may(person, deed):
        holders = ", ".join(sorted(role.words for role in ALLOWED[deed]))
        raise NotAllowed(f"You may not {deed.value}. Allowed: {holders}.")
