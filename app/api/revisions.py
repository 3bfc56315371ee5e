"""The policy: its revisions, the one in force, new drafts, and what the rules find in it."""

import json
from datetime import date, datetime
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Path, Response
from pydantic import BaseModel, Field

from app.actions.revisions import start_draft
from app.api.access import Member, Now, Reading, Writing, problems
from app.api.bodies import JSON, XLSX, body_of, described, schema_of
from app.domain.errors import NotFound
from app.domain.permissions import Deed, check_may
from app.domain.revisions import RevisionLine, Signature, StoredRevision
from app.domain.rules import check
from app.exchange.profile_files import read_profile_file
from app.exchange.profile_schema import ProfileFile
from app.exchange.result_json import CheckShape, check_json
from app.exchange.stored_profiles import stored_profile
from app.lookups import revisions as lookups
from app.lookups.outer_bounds import bounds_in_force

router = APIRouter(tags=["policy"])
Number = Annotated[int, Path(ge=1, le=1_000_000, description="The revision's number.")]
PROFILE_EXAMPLE = {
    "format": "marchstone-profile/1",
    "agency": "Skerry Isles Ambulance",
    "profile": "Ground and air",
    "revision": 1,
    "categories": [{"key": "infant", "label": "Infant", "from": "28 d", "to": "1 y"}],
    "settings": {
        "infant": {
            "heart-rate-low": {
                "state": "on",
                "limit": 90,
                "priority": "medium",
                "delay_s": 5,
                "latching": False,
                "reason": "agreed by the clinical group",
                "source": "common practice",
            },
        },
    },
}


class SignatureShape(BaseModel):
    name: str
    roles: list[str] = Field(description="The roles held when signing.")
    at: datetime
    meaning: str
    fingerprint: str = Field(description="Of the document that was signed.")


class RevisionShape(BaseModel):
    """A revision with its document; once signed it never changes."""

    number: int
    status: str
    fingerprint: str = Field(description="SHA-256 of the RFC 8785 form of the document.")
    in_force_at: datetime | None
    review_by: date | None = Field(description="Its last day; a revision that is overdue holds.")
    emergency: str | None = Field(description="Why one person signed it alone, if so.")
    signatures: list[SignatureShape]
    document: dict[str, Any] = Field(description="The profile, in the format marchstone-profile/1.")


class RevisionLineShape(BaseModel):
    number: int
    status: str = Field(description="draft, in-review, signed, in-force, superseded or withdrawn")
    fingerprint: str
    created_at: datetime
    changed_at: datetime
    signed_at: datetime | None
    in_force_at: datetime | None
    review_by: date | None
    until: datetime | None = Field(description="When the next one began, or it was withdrawn.")


@router.get(
    "/{agency}/revisions",
    summary="All revisions of the policy, without their documents",
    responses=problems(
        _401="Nobody is signed in.",
        _404="No such agency.",
        _422="The address is malformed.",
    ),
)
def all_revisions(person: Member, tx: Reading, now: Now) -> list[RevisionLineShape]:
    """The oldest number first."""
    check_may(person, Deed.SEE_POLICY)
    return [_line(one) for one in lookups.all_revisions(tx, agency_id=person.agency_id, now=now)]


def _line(one: RevisionLine) -> RevisionLineShape:
    return RevisionLineShape(
        number=one.number,
        status=one.status.value,
        fingerprint=one.fingerprint,
        created_at=one.created_at,
        changed_at=one.changed_at,
        signed_at=one.signed_at,
        in_force_at=one.in_force_at,
        review_by=one.review_by,
        until=one.until,
    )


@router.post(
    "/{agency}/revisions",
    status_code=201,
    summary="Start a draft from a profile",
    responses=problems(
        _401="Nobody is signed in.",
        _403="The person may not, or the request comes from another site.",
        _404="No such agency.",
        _413="The body is too large.",
        _415="The body is neither JSON nor a workbook (XLSX).",
        _422="It is no profile: each fault by line and column, or by cell. Nothing was stored.",
    ),
    openapi_extra=described(JSON, schema_of(ProfileFile), PROFILE_EXAMPLE, also=XLSX),
)
def add_draft(
    person: Member,
    raw: Annotated[bytes, Depends(body_of(JSON, XLSX))],
    tx: Writing,
    now: Now,
    response: Response,
) -> RevisionShape:
    """It gets the next number, and the agency's name; those of the document are overwritten."""
    check_may(person, Deed.EDIT_DRAFT)
    profile = read_profile_file(raw).profile
    started = start_draft(tx, document=profile.document, by=person, now=now)
    response.headers["Location"] = f"/api/v1/{person.agency}/revisions/{started.number}"
    return whole(started)


@router.get(
    "/{agency}/revisions/in-force",
    summary="The revision in force now",
    responses=problems(
        _401="Nobody is signed in.",
        _404="No such agency, or no revision is in force.",
        _422="The address is malformed.",
    ),
)
def revision_in_force(person: Member, tx: Reading, now: Now) -> RevisionShape:
    """The document exactly as signed, with its fingerprint and every signature."""
    check_may(person, Deed.SEE_POLICY)
    found = lookups.in_force(tx, agency_id=person.agency_id, at=now)
    if found is None:
        raise NotFound("No revision is in force.")
    return whole(found)


def whole(found: StoredRevision) -> RevisionShape:
    return RevisionShape(
        number=found.number,
        status=found.status.value,
        fingerprint=found.fingerprint,
        in_force_at=found.in_force_at,
        review_by=found.review_by,
        emergency=found.emergency,
        signatures=[_signature(one) for one in found.signatures],
        document=json.loads(found.document),
    )


def _signature(one: Signature) -> SignatureShape:
    return SignatureShape(
        name=one.name,
        roles=list(one.roles),
        at=one.at,
        meaning=one.meaning,
        fingerprint=one.fingerprint,
    )


@router.get(
    "/{agency}/revisions/{number}",
    summary="A revision with its document",
    responses=problems(
        _401="Nobody is signed in.",
        _404="No such agency or revision.",
        _422="The number is no number.",
    ),
)
def one_revision(number: Number, person: Member, tx: Reading, now: Now) -> RevisionShape:
    """Exactly as signed, or as a draft stands now."""
    check_may(person, Deed.SEE_POLICY)
    return whole(lookups.revision(tx, agency_id=person.agency_id, number=number, now=now))


@router.get(
    "/{agency}/revisions/{number}/check",
    summary="What the rules find in a revision",
    responses=problems(
        _401="Nobody is signed in.",
        _404="No such agency or revision.",
        _422="The number is no number.",
    ),
)
def check_of_revision(number: Number, person: Member, tx: Reading, now: Now) -> CheckShape:
    """The gravest first: unsafe, off-protocol, note. As `marchstone check --json` prints it."""
    check_may(person, Deed.SEE_POLICY)
    found = lookups.revision(tx, agency_id=person.agency_id, number=number, now=now)
    bounds = bounds_in_force(tx, agency_id=person.agency_id, at=now)
    findings = check(stored_profile(found.document), bounds=bounds)
    return CheckShape.model_validate(check_json(found.fingerprint, bounds.name, findings))
