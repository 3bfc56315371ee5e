"""Papers to print, and the open page that tells whether one still holds."""

from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response

from app.domain.agencies import Agency
from app.domain.confirmations import Confirmation, read_hash
from app.domain.permissions import Deed, check_may
from app.exchange.paper_policy import policy_pdf
from app.lookups.confirmations import confirmation
from app.lookups.papers import policy_paper
from app.web.render import render
from app.web.sessions import Member
from app.web.transactions import Now, Reading

router = APIRouter(prefix="/{agency}")
PDF = "application/pdf"
_NOT_FOUND = 404


@router.get("/policy/{number}/paper.pdf")
def paper(request: Request, person: Member, tx: Reading, now: Now, number: int) -> Response:
    check_may(person, Deed.SEE_POLICY)
    found = policy_paper(tx, agency_id=person.agency_id, number=number, now=now)
    state = request.app.state
    base = state.settings.public_url or str(request.base_url)
    name = f"{person.agency}-revision-{number}.pdf"
    return Response(
        policy_pdf(state.press, found, base=base),
        media_type=PDF,
        headers={"Content-Disposition": f'attachment; filename="{name}"'},
    )


@dataclass(frozen=True)
class ConfirmPage:
    """`found` None: nothing with this fingerprint was ever signed here; `asked` is as it was read,
    empty where it was no fingerprint at all."""

    agency: Agency
    asked: str
    found: Confirmation | None


@router.get("/confirm/{fingerprint}")
def confirm(
    request: Request,
    tx: Reading,
    now: Now,
    agency: str,
    fingerprint: str,
    head: Annotated[str, Query(max_length=200)] = "",
) -> Response:
    """Nobody is asked who they are, and nothing leads from here to what is inside."""
    owner = request.app.state.agencies.of(agency)
    found = confirmation(tx, agency=owner, fingerprint=fingerprint, head=head, now=now)
    page = ConfirmPage(owner, read_hash(fingerprint) or "", found)
    response = render(
        request,
        "papers/confirm.html",
        page,
        status=200 if found else _NOT_FOUND,
        agency_name=owner.name,
        zone=owner.time_zone,
    )
    response.headers["X-Robots-Tag"] = "noindex"
    return response
