"""Whether every device has had its shift check, and what crews found at theirs."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Annotated, Any

from fastapi import APIRouter, Form, Query, Request
from fastapi.responses import Response

from app.actions.shift_checks import put_right
from app.domain.errors import Fault, Refused
from app.domain.people import Person
from app.domain.permissions import Deed, check_may, may
from app.domain.shift_rounds import DeviceRound
from app.lookups.shift_checks import ChecksPage, checks_page
from app.web.notices import done
from app.web.render import render
from app.web.sessions import Member
from app.web.transactions import Now, Reading, Transaction

router = APIRouter(prefix="/{agency}/checks")
Text = Annotated[str, Form(max_length=4000)]
MOST_ROWS, _LAST_PAGE = 200, 100_000


@dataclass(frozen=True)
class RoundsShown:
    """`asked`: which page of the devices. `of`: the check whose form is shown again, with what was
    typed and what is wrong."""

    found: ChecksPage
    may_check: bool
    may_put_right: bool
    asked: int = 1
    of: int = 0
    typed: str = ""
    faults: tuple[Fault, ...] = ()

    @property
    def pages(self) -> int:
        return max(-(-len(self.found.rounds.devices) // MOST_ROWS), 1)

    @property
    def page(self) -> int:
        return min(self.asked, self.pages)

    @property
    def first(self) -> int:
        return (self.page - 1) * MOST_ROWS + 1

    @property
    def listed(self) -> Sequence[DeviceRound]:
        return self.found.rounds.devices[self.first - 1 : self.first - 1 + MOST_ROWS]

    @property
    def percent(self) -> float:
        return 100 * self.found.rounds.done / self.found.rounds.wanted


@router.get("")
def listed(
    request: Request,
    person: Member,
    tx: Reading,
    now: Now,
    page: Annotated[int, Query(ge=1, le=_LAST_PAGE)] = 1,
) -> Response:
    check_may(person, Deed.SEE_FLEET)
    return render(request, "checks/list.html", _shown(tx, person, now, asked=page))


def _shown(tx: Transaction, person: Person, now: datetime, **again: Any) -> RoundsShown:
    found = checks_page(tx, agency_id=person.agency_id, now=now)
    deeds = may(person, Deed.READ_DEVICE), may(person, Deed.WORK_FINDING)
    return RoundsShown(found, *deeds, **again)


@router.post("/{number}/put-right")
def mend(request: Request, person: Member, number: int, now: Now, note: Text = "") -> Response:
    check_may(person, Deed.WORK_FINDING)
    database = request.app.state.database
    try:
        with database.writing() as tx:
            put_right(tx, number=number, told=note, by=person, now=now)
    except Refused as refused:
        with database.reading() as tx:
            again = _shown(tx, person, now, of=number, typed=note, faults=refused.faults)
        return render(request, "checks/list.html", again, status=422)
    return done(f"/{person.agency}/checks", "Put right. The check itself stays as it was.")
