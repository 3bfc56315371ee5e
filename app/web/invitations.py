"""Whoever holds a link that an administrator made sets their own password here."""

from dataclasses import dataclass
from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import Response

from app.actions.invitations import GONE, set_password_by_link
from app.domain.errors import Fault, NotAllowed, Refused
from app.domain.people import Person
from app.lookups.invitations import invited
from app.web.notices import done
from app.web.render import render
from app.web.transactions import Now, Reading

router = APIRouter()


@dataclass(frozen=True)
class InvitationPage:
    person: Person
    token: str
    faults: tuple[Fault, ...] = ()


@router.get("/invitation/{token}")
def invitation(request: Request, token: str, tx: Reading, now: Now) -> Response:
    person = invited(tx, token=token, now=now)
    if person is None:
        raise NotAllowed(GONE)
    return render(request, "people/invitation.html", InvitationPage(person, token))


@router.post("/invitation/{token}")
def set_password(
    request: Request,
    token: str,
    now: Now,
    password: Annotated[str, Form(max_length=1000)] = "",
) -> Response:
    database, leaks = request.app.state.database, request.app.state.settings.leaked_passwords
    try:
        with database.writing() as tx:
            person = set_password_by_link(tx, token=token, password=password, now=now, leaks=leaks)
    except Refused as refused:
        with database.reading() as tx:
            whose = invited(tx, token=token, now=now)
        if whose is None:
            raise NotAllowed(GONE) from None
        page = InvitationPage(whose, token, refused.faults)
        return render(request, "people/invitation.html", page, status=422)
    return done(
        f"/sign-in?agency={person.agency}",
        f"Your password is set. Sign in as {person.username} with it.",
    )
