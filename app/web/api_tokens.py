"""Tokens by which programs act for the agency. A new one is shown once."""

from dataclasses import dataclass, field
from datetime import datetime
from typing import Annotated

from fastapi import APIRouter, Form, Path, Request
from fastapi.responses import Response

from app.actions.api_tokens import give_token, take_back_token
from app.domain.api_tokens import LONGEST_DAYS, ApiToken
from app.domain.errors import Fault, Refused
from app.domain.people import Person, Scope
from app.domain.permissions import Deed, check_may
from app.lookups.api_tokens import tokens_of
from app.web.notices import done
from app.web.render import render
from app.web.sessions import Member
from app.web.transactions import Now, Reading, Writing

router = APIRouter()


@dataclass(frozen=True)
class TokensPage:
    """`new`: a token just made, with its name; nobody can see it again."""

    tokens: list[ApiToken]
    now: datetime
    scopes: tuple[Scope, ...] = tuple(Scope)
    longest_days: int = LONGEST_DAYS
    typed: dict[str, str] = field(default_factory=dict)
    chosen: frozenset[str] = frozenset()
    faults: tuple[Fault, ...] = ()
    new: tuple[str, str] | None = None


@router.get("/{agency}/tokens")
def tokens(request: Request, person: Member, tx: Reading, now: Now) -> Response:
    check_may(person, Deed.GIVE_TOKENS)
    page = TokensPage(tokens_of(tx, agency_id=person.agency_id), now)
    return render(request, "tokens/list.html", page)


@router.post("/{agency}/tokens")
def give(
    request: Request,
    person: Member,
    now: Now,
    name: Annotated[str, Form(max_length=300)] = "",
    days: Annotated[str, Form(max_length=10)] = "",
    scopes: Annotated[list[str] | None, Form()] = None,
) -> Response:
    chosen = frozenset(scopes or ()) & frozenset(Scope)
    database = request.app.state.database
    try:
        with database.writing() as tx:
            token = give_token(
                tx,
                name=name,
                scopes=[Scope(scope) for scope in sorted(chosen)],
                days=int(days) if days.isascii() and days.isdigit() else 0,
                by=person,
                now=now,
            )
    except Refused as refused:
        typed = {"name": name, "days": days}
        page = TokensPage(
            _tokens(request, person), now, typed=typed, chosen=chosen, faults=refused.faults
        )
        return render(request, "tokens/list.html", page, status=422)
    page = TokensPage(_tokens(request, person), now, new=(name.strip(), token))
    return render(request, "tokens/list.html", page)


def _tokens(request: Request, person: Person) -> list[ApiToken]:
    with request.app.state.database.reading() as tx:
        return tokens_of(tx, agency_id=person.agency_id)


@router.post("/{agency}/tokens/{token_id}/take-back")
def take_back(
    person: Member, tx: Writing, now: Now, token_id: Annotated[int, Path(ge=1, lt=2**31)]
) -> Response:
    name = take_back_token(tx, token_id=token_id, by=person, now=now)
    return done(f"/{person.agency}/tokens", f"{name} was taken back; it does nothing more.")
