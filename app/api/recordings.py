"""Recorded trends, and what they say of a revision: for programs."""

from datetime import datetime
from typing import Annotated, Any, BinaryIO

from fastapi import APIRouter, Depends, Path, Query, Request, Response
from pydantic import BaseModel, Field

from app.actions.evidence import keep_evidence
from app.actions.recordings import add_recording, pack_trends
from app.api.access import Member, Now, Reading, problems
from app.api.bodies import CSV, file_of
from app.domain.errors import NotFound, Refused
from app.domain.permissions import Deed, check_may
from app.domain.recordings import NewRecording, Recording, check_size
from app.domain.vital_signs import VITAL_SIGNS
from app.exchange.evidence_json import evidence_json
from app.exchange.paper_evidence import evidence_pdf
from app.exchange.trend_columns import check_patients
from app.exchange.trends_files import read_trends_file
from app.lookups.evidence import (
    all_recordings,
    answer_to,
    asked_evidence,
    categories_to_record,
    printed_answers,
    trends_of,
)
from app.lookups.papers import policy_paper

router = APIRouter(tags=["policy"])
PARQUET = "application/vnd.apache.parquet"
PDF = "application/pdf"
Number = Annotated[int, Path(ge=1, le=1_000_000, description="The revision's number.")]
Category = Annotated[str, Query(max_length=100, description="Key of a category.")]
InCircumstance = Annotated[
    str, Query(max_length=100, description="Key of a circumstance; empty: the plain limits.")
]
REFUSALS = problems(
    _401="Nobody is signed in, or the token does not work.",
    _403="The person or the token may not, or the request comes from another site.",
    _404="No such agency, revision or category, or nothing was replayed yet.",
    _409="There is no recording of this category.",
    _413="The body is too large.",
    _415="The body is of another kind.",
    _422="The input is wrong: each fault by line and column. Nothing was stored.",
)
EXAMPLE = "patient,second,heart-rate,spo2\np1,0,112,97\np1,1,113,96\n"
BODY: dict[str, Any] = {
    "requestBody": {
        "required": True,
        "content": {
            CSV: {"schema": {"type": "string"}, "example": EXAMPLE},
            PARQUET: {"schema": {"type": "string", "format": "binary"}},
        },
    }
}
EVIDENCE: dict[int | str, dict[str, Any]] = {
    200: {
        "description": "What the category's limits cost in its recordings: loads, and the curves "
        "of every line by delay and limit. `synthetic` is true where patients are invented.",
        "content": {"application/json": {"schema": {"type": "object"}}},
    },
    **REFUSALS,
}


class RecordingShape(BaseModel):
    number: int
    name: str
    category: str
    origin: str
    synthetic: str = Field(description="How it was invented; empty for a real one.")
    fingerprint: str = Field(description="SHA-256 of the trends, whatever file they came in.")
    patients: int
    hours: float
    step_s: int
    vital_signs: list[str]
    added_at: datetime
    added_by: str


@router.get("/{agency}/recordings", summary="The library of recorded trends", responses=REFUSALS)
def recordings(person: Member, tx: Reading) -> list[RecordingShape]:
    """What drafts are replayed against: by number, without the trends."""
    check_may(person, Deed.SEE_POLICY)
    return [_shape(one) for one in all_recordings(tx, agency_id=person.agency_id)]


@router.post(
    "/{agency}/recordings",
    status_code=201,
    summary="Add a recording",
    responses=REFUSALS,
    openapi_extra=BODY,
)
def add(
    request: Request,
    person: Member,
    now: Now,
    content: Annotated[BinaryIO, Depends(file_of(CSV, PARQUET))],
    name: Annotated[str, Query(max_length=200)],
    category: Category,
    origin: Annotated[str, Query(max_length=200, description="Where from, on what terms.")] = "",
) -> RecordingShape:
    """Columns `patient, second` and vital signs; any other is refused, above all what tells who
    somebody is. Patients are numbered anew."""
    check_may(person, Deed.KEEP_RECORDINGS)
    database = request.app.state.database
    with database.reading() as tx:
        known = categories_to_record(tx, agency_id=person.agency_id, now=now)
    if category not in {one.key for one in known}:
        raise Refused.because("no category of the newest revision", column="category")
    trends, names = read_trends_file(content, frozenset(VITAL_SIGNS), check_size)
    check_patients(names)
    packed = pack_trends(trends)
    new = NewRecording(name, category, origin)
    with database.writing() as tx:
        return _shape(add_recording(tx, new, trends, packed, by=person, now=now))


@router.get(
    "/{agency}/revisions/{number}/evidence",
    summary="What a category's limits cost in recorded trends",
    responses=EVIDENCE,
)
def evidence(
    person: Member,
    tx: Reading,
    now: Now,
    number: Number,
    category: Category,
    circumstance: InCircumstance = "",
) -> dict[str, Any]:
    """As it was kept when exactly this was replayed; nothing is reckoned anew."""
    check_may(person, Deed.SEE_POLICY)
    agency = person.agency_id
    asked = asked_evidence(
        tx, agency_id=agency, number=number, category=category, circumstance=circumstance, now=now
    )
    if asked.answer is None:
        raise NotFound("This revision was not replayed against these recordings as it stands.")
    return evidence_json(asked.answer.evidence)


@router.post(
    "/{agency}/revisions/{number}/evidence",
    summary="Replay a category's recordings against a revision",
    responses=EVIDENCE,
)
def replay(
    request: Request,
    person: Member,
    now: Now,
    number: Number,
    category: Category,
    circumstance: InCircumstance = "",
) -> dict[str, Any]:
    """Kept with the fingerprints of policy, bounds and recordings. The same gives the same."""
    check_may(person, Deed.REPLAY)
    database = request.app.state.database
    with database.reading() as tx:
        asked = asked_evidence(
            tx,
            agency_id=person.agency_id,
            number=number,
            category=category,
            circumstance=circumstance,
            now=now,
        )
        trends = trends_of(tx, asked)
    found = answer_to(asked, trends)
    keys = asked.fingerprints
    with database.writing() as tx:
        keep_evidence(tx, found, revision_id=asked.revision.id, told_from=keys, by=person, now=now)
    return evidence_json(found)


@router.get(
    "/{agency}/revisions/{number}/evidence.pdf",
    summary="The annex to a revision's paper: noise and silence (PDF)",
    response_class=Response,
    responses={
        200: {
            "description": "Every category that was replayed as it stands.",
            "content": {PDF: {"schema": {"type": "string", "format": "binary"}}},
        },
        **REFUSALS,
    },
)
def annex(request: Request, person: Member, tx: Reading, now: Now, number: Number) -> Response:
    """Noise and silence of every category, and the fingerprints of what they were told from."""
    check_may(person, Deed.SEE_POLICY)
    answers = printed_answers(tx, agency_id=person.agency_id, number=number, now=now)
    paper = policy_paper(tx, agency_id=person.agency_id, number=number, now=now)
    return Response(evidence_pdf(request.app.state.press, paper, answers), media_type=PDF)


def _shape(one: Recording) -> RecordingShape:
    return RecordingShape(
        number=one.number,
        name=one.name,
        category=one.category,
        origin=one.origin,
        synthetic=one.synthetic,
        fingerprint=one.fingerprint,
        patients=one.patients,
        hours=one.hours,
        step_s=one.step_s,
        vital_signs=list(one.vital_signs),
        added_at=one.added_at,
        added_by=one.added_by,
    )
