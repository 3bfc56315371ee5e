"""A revision on its way: submitted, reviewed, sent back, signed, withdrawn."""

from datetime import date, datetime
from typing import Annotated

from fastapi import APIRouter
from pydantic import AwareDatetime, BaseModel, ConfigDict, Field

from app.actions.revisions import move_revision, record_review
from app.actions.signing import sign_revision
from app.api.access import Member, Now, Writing, problems
from app.api.revisions import Number, RevisionShape, whole
from app.domain.moves import RevisionStatus
from app.domain.people import Person
from app.domain.signing import SigningTerms

router = APIRouter(tags=["policy"])
REFUSALS = problems(
    _401="Nobody is signed in.",
    _403="The person may not, or the request comes from another site.",
    _404="No such agency or revision.",
    _409="Its state does not allow it, or it is no longer what was shown.",
    _422="Something is missing, wrong or in the way: each is named. Nothing was stored.",
    _429="Too many wrong passwords.",
)


class NoteBody(BaseModel):
    model_config = ConfigDict(json_schema_extra={"example": {"note": "85 is meant, not 58"}})

    note: Annotated[str, Field(max_length=4000)] = ""


class SigningBody(BaseModel):
    """The signer's password is asked for again, and the fingerprint of what was seen."""

    model_config = ConfigDict(
        json_schema_extra={
            "example": {
                "fingerprint": "9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08",
                "meaning": "approved as our alarm-limit policy",
                "password": "the signer's own",
                "review_by": "2027-03-01",
            }
        }
    )

    fingerprint: Annotated[str, Field(max_length=64)]
    meaning: Annotated[str, Field(max_length=300)]
    password: Annotated[str, Field(max_length=1000)]
    in_force_at: AwareDatetime | None = Field(default=None, description="None: at once.")
    review_by: date | None = Field(default=None, description="None: in a year.")
    emergency: Annotated[str, Field(max_length=4000)] = Field(
        default="", description="Why no second person looks first; then one must within 30 days."
    )


@router.post(
    "/{agency}/revisions/{number}/submit",
    summary="Submit a draft for review",
    responses=REFUSALS,
)
def submit(number: Number, person: Member, body: NoteBody, tx: Writing, now: Now) -> RevisionShape:
    """From then on nobody edits it."""
    return _moved(tx, number, RevisionStatus.IN_REVIEW, person, body, now)


@router.post(
    "/{agency}/revisions/{number}/send-back",
    summary="Send a revision back, with what must change",
    responses=REFUSALS,
)
def send_back(
    number: Number, person: Member, body: NoteBody, tx: Writing, now: Now
) -> RevisionShape:
    """It is a draft again; the next reviewer starts afresh."""
    return _moved(tx, number, RevisionStatus.DRAFT, person, body, now)


@router.post(
    "/{agency}/revisions/{number}/withdraw",
    summary="Withdraw a signed revision, with the reason",
    responses=REFUSALS,
)
def withdraw(
    number: Number, person: Member, body: NoteBody, tx: Writing, now: Now
) -> RevisionShape:
    """Nothing takes its place: from then on no revision is in force."""
    return _moved(tx, number, RevisionStatus.WITHDRAWN, person, body, now)


def _moved(
    tx: Writing, number: int, to: RevisionStatus, person: Person, body: NoteBody, now: datetime
) -> RevisionShape:
    return whole(move_revision(tx, number=number, to=to, by=person, now=now, note=body.note))


@router.post(
    "/{agency}/revisions/{number}/review",
    summary="Record a review, before the signature or after an emergency",
    responses=REFUSALS,
)
def review(number: Number, person: Member, body: NoteBody, tx: Writing, now: Now) -> RevisionShape:
    """By somebody who wrote none of it, nor signed it alone."""
    return whole(record_review(tx, number=number, by=person, now=now, note=body.note))


@router.post(
    "/{agency}/revisions/{number}/sign",
    summary="Sign a revision",
    responses=REFUSALS,
)
def sign(number: Number, person: Member, body: SigningBody, tx: Writing, now: Now) -> RevisionShape:
    """Everything unsafe is waived, nothing is blank and every comment is resolved, or it fails."""
    signed = sign_revision(
        tx,
        number=number,
        fingerprint=body.fingerprint,
        meaning=body.meaning,
        password=body.password,
        by=person,
        now=now,
        terms=SigningTerms(body.in_force_at, body.review_by, body.emergency),
    )
    return whole(signed)
