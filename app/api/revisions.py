"""The policy in force, and what the rules find in a revision."""

import json
from datetime import datetime
from typing import Annotated, Any

from fastapi import APIRouter, Path
from pydantic import BaseModel, Field

from app.api.access import Member, Now, Reading, problems
from app.domain.errors import NotFound
from app.domain.permissions import Deed, check_may
from app.domain.revisions import Signature
from app.domain.rules import check
from app.exchange.result_json import CheckShape, check_json
from app.exchange.stored_profiles import stored_profile
from app.lookups import revisions as lookups
from app.lookups.outer_bounds import bounds_in_force

router = APIRouter(tags=["policy"])


class SignatureShape(BaseModel):
    name: str
    roles: list[str] = Field(description="The roles held when signing.")
    at: datetime
    meaning: str
    fingerprint: str = Field(description="Of the document that was signed.")


class RevisionShape(BaseModel):
    """A revision as it was signed."""

    number: int
    status: str
    fingerprint: str = Field(description="SHA-256 of the RFC 8785 form of the document.")
    in_force_at: datetime | None
    signatures: list[SignatureShape]
    document: dict[str, Any] = Field(description="The profile, in the format marchstone-profile/1.")


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
    return RevisionShape(
        number=found.number,
        status=found.status.value,
        fingerprint=found.fingerprint,
        in_force_at=found.in_force_at,
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
    "/{agency}/revisions/{number}/check",
    summary="What the rules find in a revision",
    responses=problems(
        _401="Nobody is signed in.",
        _404="No such agency or revision.",
        _422="The number is no number.",
    ),
)
def check_of_revision(
    number: Annotated[int, Path(ge=1, le=1_000_000, description="The revision's number.")],
    person: Member,
    tx: Reading,
    now: Now,
) -> CheckShape:
    """The gravest first: unsafe, off-protocol, note. As `marchstone check --json` prints it."""
    check_may(person, Deed.SEE_POLICY)
    found = lookups.revision(tx, agency_id=person.agency_id, number=number, now=now)
    bounds = bounds_in_force(tx, agency_id=person.agency_id, at=now)
    findings = check(stored_profile(found.document), bounds=bounds)
    return CheckShape.model_validate(check_json(found.fingerprint, bounds.name, findings))
