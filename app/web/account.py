"""One's own account: the password, and where one is signed in."""

from dataclasses import dataclass, replace
from datetime import timedelta
from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import Response

from app.actions.accounts import (
    change_password,
    close_own_account,
    end_other_sessions,
    end_session,
)
from app.domain.errors import Fault, NotNow, Refused, TooMany
from app.domain.open_sessions import OpenSession
from app.domain.people import Person
from app.lookups.sign_ins import sessions_of
from app.web.notices import done
from app.web.render import render
from app.web.sessions import COOKIE, Member
from app.web.transactions import Now, Reading, Transaction

router = APIRouter(prefix="/{agency}/account")
Secret = Annotated[str, Form(max_length=1000)]


@dataclass(frozen=True)
class AccountPage:
    """Passwords never come back."""

    person: Person
    sessions: list[OpenSession]
    idle: timedelta
    faults: tuple[Fault, ...] = ()
    wait: str = ""
    kept_open: str = ""
    not_ended: str = ""

    @property
    def others(self) -> int:
        return sum(not one.here for one in self.sessions)


def _token(request: Request) -> str:
    return request.cookies.get(COOKIE, "")


def _page(request: Request, tx: Transaction, person: Person, now: Now) -> AccountPage:
    idle = request.app.state.settings.session_idle
    found = sessions_of(tx, person=person, token=_token(request), now=now, idle=idle)
    return AccountPage(person, found, idle)


@router.get("")
def account(request: Request, person: Member, tx: Reading, now: Now) -> Response:
    return render(request, "people/account.html", _page(request, tx, person, now))


@router.post("/password")
def password(
    request: Request,
    person: Member,
    now: Now,
    old_password: Secret = "",
    password: Secret = "",
) -> Response:
    database = request.app.state.database
    try:
        with database.writing() as tx:
            ended = change_password(
                tx,
                old=old_password,
                new=password,
                token=_token(request),
                by=person,
                now=now,
                leaks=request.app.state.settings.leaked_passwords,
            )
    except (Refused, TooMany) as error:
        with database.reading() as tx:
            page = _page(request, tx, person, now)
        faults = error.faults if isinstance(error, Refused) else ()
        told = AccountPage(person, page.sessions, page.idle, faults, error.message)
        return render(request, "people/account.html", told, status=error.status)
    return done(_here(person), f"Your password is changed. {_ended(ended)}")


@router.post("/sessions/others/end")
def end_others(
    request: Request, person: Member, now: Now, session_password: Secret = ""
) -> Response:
    try:
        with request.app.state.database.writing() as tx:
            ended = end_other_sessions(
                tx, token=_token(request), password=session_password, by=person, now=now
            )
    except (Refused, TooMany) as error:
        return _sessions_kept(request, person, now, error)
    return done(_here(person), _ended(ended))


@router.post("/sessions/{session}/end")
def end(
    request: Request, person: Member, now: Now, session: int, session_password: Secret = ""
) -> Response:
    try:
        with request.app.state.database.writing() as tx:
            end_session(tx, session=session, password=session_password, by=person, now=now)
    except (Refused, TooMany) as error:
        return _sessions_kept(request, person, now, error)
    return done(_here(person), "That session is ended.")


def _sessions_kept(
    request: Request, person: Person, now: Now, error: Refused | TooMany
) -> Response:
    with request.app.state.database.reading() as tx:
        page = _page(request, tx, person, now)
    told = replace(page, not_ended=error.message)
    return render(request, "people/account.html", told, status=error.status)


@router.post("/close")
def close(request: Request, person: Member, now: Now, closing_password: Secret = "") -> Response:
    """For good, as far as this person can tell: only an administrator opens it again."""
    database = request.app.state.database
    try:
        with database.writing() as tx:
            close_own_account(tx, password=closing_password, by=person, now=now)
    except (Refused, TooMany, NotNow) as error:
        with database.reading() as tx:
            page = _page(request, tx, person, now)
        told = replace(page, kept_open=error.message)
        return render(request, "people/account.html", told, status=error.status)
    return done(f"/sign-in?agency={person.agency}", "Your account is closed.")


def _ended(count: int) -> str:
    if not count:
        return "You were signed in nowhere else."
    return f"{count} other session{' is' if count == 1 else 's are'} ended."


def _here(person: Person) -> str:
    return f"/{person.agency}/account"
