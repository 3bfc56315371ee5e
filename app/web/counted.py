"""Every figure leads to its readings: a month of a run chart, and what was looked at again."""

from dataclasses import dataclass
from datetime import timedelta
from typing import Annotated

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response

from app.domain.permissions import Deed, check_may
from app.lookups.counted import LooksCounted, looks_counted, month_counted
from app.web.render import render
from app.web.sessions import Member
from app.web.transactions import Now, Reading

router = APIRouter(prefix="/{agency}/fleet/measures")


@dataclass(frozen=True)
class LooksPage:
    days: int
    found: LooksCounted


@router.get("/looks")
def looks(
    request: Request,
    person: Member,
    tx: Reading,
    now: Now,
    days: Annotated[int, Query(ge=1, le=3660)] = 90,
) -> Response:
    check_may(person, Deed.SEE_FLEET)
    since = now - timedelta(days=days)
    found = looks_counted(tx, agency_id=person.agency_id, since=since)
    return render(request, "fleet/counted_looks.html", LooksPage(days, found))


@router.get("/months/{label}")
def month(request: Request, person: Member, tx: Reading, label: str) -> Response:
    check_may(person, Deed.SEE_FLEET)
    found = month_counted(tx, agency_id=person.agency_id, label=label)
    return render(request, "fleet/counted_month.html", found)
