"""Devices that may have strayed with one that was found astray, as a page and as a list."""

from fastapi import APIRouter, Request
from fastapi.responses import Response

from app.domain.permissions import Deed, check_may
from app.exchange.safe_csv import written
from app.lookups.finding_stories import SiblingsAtRisk, siblings_at_risk
from app.web.findings import as_file
from app.web.render import render
from app.web.sessions import Member
from app.web.transactions import Reading

router = APIRouter(prefix="/{agency}/findings/{number}/siblings")


@router.get("")
def siblings(request: Request, person: Member, number: int, tx: Reading) -> Response:
    check_may(person, Deed.SEE_FLEET)
    found = siblings_at_risk(tx, agency_id=person.agency_id, finding_id=number)
    return render(request, "findings/siblings.html", found)


@router.get(".csv")
def siblings_file(person: Member, number: int, tx: Reading) -> Response:
    """A list to work through."""
    check_may(person, Deed.SEE_FLEET)
    found = siblings_at_risk(tx, agency_id=person.agency_id, finding_id=number)
    return as_file(_job_list(found), f"siblings-of-finding-{number}.csv")


def _job_list(found: SiblingsAtRisk) -> bytes:
    rows = [
        (
            one.device,
            one.station,
            one.model,
            None if one.last_read_at is None else one.last_read_at.isoformat(),
            "; ".join(one.ties),
        )
        for one in found.siblings
    ]
    return written(("device", "station", "model", "last_read_at", "why"), rows)
