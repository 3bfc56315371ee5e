"""A revision as a workbook, for programs that hand it to people."""

import json
from typing import Annotated

from fastapi import APIRouter, Path, Response

from app.api.access import Member, Now, Reading, problems
from app.api.bodies import XLSX
from app.domain.permissions import Deed, check_may
from app.exchange.profile_xlsx import write_workbook
from app.lookups import revisions as lookups

router = APIRouter(tags=["policy"])
Number = Annotated[int, Path(ge=1, le=1_000_000, description="The revision's number.")]


@router.get(
    "/{agency}/revisions/{number}/profile.xlsx",
    summary="A revision as a workbook (XLSX) to fill in",
    response_class=Response,
    responses={
        200: {
            "description": "Every part of the document, a sheet a noun; no cell is a formula.",
            "content": {XLSX: {"schema": {"type": "string", "format": "binary"}}},
        },
        **problems(
            _401="Nobody is signed in.",
            _404="No such agency or revision.",
            _422="The number is no number.",
        ),
    },
)
def workbook(number: Number, person: Member, tx: Reading, now: Now) -> Response:
    """What comes back unchanged has the same fingerprint."""
    check_may(person, Deed.SEE_POLICY)
    found = lookups.revision(tx, agency_id=person.agency_id, number=number, now=now)
    raw = write_workbook(json.loads(found.document), edit_version=found.edit_version)
    return Response(raw, media_type=XLSX)
