"""The signed paper, for programs that keep or print it."""

from typing import Annotated

from fastapi import APIRouter, Path, Request, Response

from app.api.access import Member, Now, Reading, problems
from app.domain.permissions import Deed, check_may
from app.exchange.paper_policy import policy_pdf
from app.lookups.papers import policy_paper

router = APIRouter(tags=["policy"])
Number = Annotated[int, Path(ge=1, le=1_000_000, description="The revision's number.")]
PDF = "application/pdf"


@router.get(
    "/{agency}/revisions/{number}/paper.pdf",
    summary="A revision as its paper (PDF)",
    response_class=Response,
    responses={
        200: {
            "description": "The paper; one of a draft says so on every page.",
            "content": {PDF: {"schema": {"type": "string", "format": "binary"}}},
        },
        **problems(
            _401="Nobody is signed in.",
            _404="No such agency or revision.",
            _422="The number is no number.",
        ),
    },
)
def paper(request: Request, number: Number, person: Member, tx: Reading, now: Now) -> Response:
    """Every setting and rendered preset, the signatures, the fingerprint and the ledger's head."""
    check_may(person, Deed.SEE_POLICY)
    found = policy_paper(tx, agency_id=person.agency_id, number=number, now=now)
    state = request.app.state
    base = state.settings.public_url or str(request.base_url)
    return Response(policy_pdf(state.press, found, base=base), media_type=PDF)
