"""Every figure leads to its readings: a month of a run chart, and what was looked at again."""

from dataclasses import dataclass
from datetime import timedelta
from typing import Annotated

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response

from app.domain.permissions import Deed, check_may
from app.lookups.astray import Astray, astray_now
from app.lookups.counted import LooksCounted, looks_counted, month_counted
from app.web.compared import label_of
from app.web.render import render
from app.web.sessions import Member
from app.web.transactions import Now, Reading

router = APIRouter(prefix="/{agency}/fleet/measures")
LEANS = {"looser": "looser or off", "tighter": "tighter or on", "other": "otherwise"}


@dataclass(frozen=True)
class LooksPage:
    days: int
    found: LooksCounted


@dataclass(frozen=True)
class AstrayPage:
    """`about`: which of them these are, in words."""

    found: list[Astray]
    about: str

    def label(self, one: Astray) -> str:
        return label_of(one.alarm)

    @property
    def devices(self) -> int:
        return len({one.device for one in self.found})


@router.get("/astray")
def astray(
    request: Request, person: Member, tx: Reading, now: Now, lean: str = "", alarm: str = ""
) -> Response:
    """What the ratio of looser to tighter and the alarms that stray most were counted from."""
    check_may(person, Deed.SEE_FLEET)
    found = [
        one
        for one in astray_now(tx, agency_id=person.agency_id, now=now)
        if lean in ("", one.lean) and alarm in ("", one.alarm)
    ]
    about = [label_of(found[0].alarm)] if alarm and found else []
    about += [LEANS[lean]] if lean in LEANS else []
    return render(request, "fleet/counted_astray.html", AstrayPage(found, ", ".join(about)))


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
