"""The register: every device with its place, its software and whether it may be used as it is."""

from dataclasses import dataclass
from typing import Annotated
from urllib.parse import urlencode

from fastapi import APIRouter, Query, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import BaseModel, Field

from app.domain.clearances import ClearanceState
from app.domain.device_tags import not_found_words
from app.domain.devices import RegisterStatus
from app.domain.permissions import Deed, check_may, may
from app.domain.register_filter import Registered, Wanted
from app.exchange.register_csv import register_csv
from app.lookups import register as lookups
from app.lookups.register import Places
from app.web.render import render
from app.web.sessions import Member
from app.web.transactions import Now, Reading

router = APIRouter(prefix="/{agency}/register")
MOST_ROWS = 500
_LAST_PAGE = 10_000
Word = Annotated[str, Field(max_length=200)]


class Asked(BaseModel):
    station: Word = ""
    model: Word = ""
    status: Word = ""
    clearance: Word = ""
    overdue: Word = ""

    def wanted(self) -> Wanted:
        return Wanted(self.station, self.model, self.status, self.clearance, bool(self.overdue))

    @property
    def query(self) -> str:
        return urlencode({name: value for name, value in self.model_dump().items() if value})


@dataclass(frozen=True)
class RegisterPage:
    """`listed` is one page of the `matching` devices."""

    listed: tuple[Registered, ...]
    matching: int
    page: int
    known: Places
    asked: Asked
    may_keep: bool
    typed: str = ""
    not_found: str = ""
    statuses: tuple[RegisterStatus, ...] = tuple(RegisterStatus)
    clearances: tuple[ClearanceState, ...] = tuple(ClearanceState)

    @property
    def pages(self) -> int:
        return max(-(-self.matching // MOST_ROWS), 1)

    @property
    def first(self) -> int:
        return (self.page - 1) * MOST_ROWS + 1

    def at_page(self, page: int) -> str:
        asked = self.asked.query
        return f"?{asked}&page={page}" if asked else f"?page={page}"


@router.get("")
def register(
    request: Request,
    person: Member,
    tx: Reading,
    now: Now,
    asked: Annotated[Asked, Query()],
    tag: str = "",
    page: Annotated[int, Query(ge=1, le=_LAST_PAGE)] = 1,
) -> Response:
    """`tag`: leads to that device, or tells what may have been meant."""
    check_may(person, Deed.SEE_FLEET)
    known = lookups.places(tx, agency_id=person.agency_id)
    typed = tag.strip()[:60]
    if typed in known.tags:
        return RedirectResponse(f"/{person.agency}/devices/{typed}", status_code=303)
    found = lookups.register_part(
        tx,
        agency_id=person.agency_id,
        now=now,
        wanted=asked.wanted(),
        first=(page - 1) * MOST_ROWS,
        most=MOST_ROWS,
    )
    shown = RegisterPage(
        listed=found.lines,
        matching=found.matching,
        page=page,
        known=known,
        asked=asked,
        may_keep=may(person, Deed.KEEP_REGISTER),
        typed=typed,
        not_found=not_found_words(typed, known.tags) if typed else "",
    )
    status = 404 if shown.not_found else 200
    return render(request, "register/list.html", shown, status=status)


@router.get("/list.csv")
def as_csv(person: Member, tx: Reading, now: Now, asked: Annotated[Asked, Query()]) -> Response:
    """The same narrowing as on the page."""
    check_may(person, Deed.SEE_FLEET)
    found = lookups.register(tx, agency_id=person.agency_id, now=now, wanted=asked.wanted())
    headers = {"Content-Disposition": f'attachment; filename="{person.agency}-register.csv"'}
    return Response(register_csv(found), media_type="text/csv; charset=utf-8", headers=headers)
