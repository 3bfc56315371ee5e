"""What every route of the API is handed: who asks, a transaction it cannot look into, the time."""

from collections.abc import Iterator
from datetime import datetime
from typing import Annotated, Any

from fastapi import Depends, Path, Request, Security
from fastapi.security import HTTPAuthorizationCredentials, HTTPBearer
from pydantic import BaseModel, Field

from app.actions.api_tokens import mark_used
from app.domain.errors import NotFound, NotSignedIn
from app.domain.people import Person
from app.lookups.api_tokens import asking
from app.lookups.sign_ins import signed_in

PROBLEM = "application/problem+json"
AgencyKey = Annotated[str, Path(description="The agency's short name, as in its addresses.")]


def _reading(request: Request) -> Iterator[Any]:
    with request.app.state.database.reading() as tx:
        yield tx


def _writing(request: Request) -> Iterator[Any]:
    with request.app.state.database.writing() as tx:
        yield tx


def _now(request: Request) -> datetime:
    now: datetime = request.app.state.clock()
    return now


Reading = Annotated[Any, Depends(_reading, scope="function")]
Writing = Annotated[Any, Depends(_writing, scope="function")]
Now = Annotated[datetime, Depends(_now)]


_TOKENS = HTTPBearer(
    scheme_name="Token of a program",
    description="An administrator gives tokens under Tokens. 120 requests a minute, then 429.",
    auto_error=False,
)


def _member(
    request: Request,
    agency: AgencyKey,
    tx: Reading,
    now: Now,
    _: Annotated[HTTPAuthorizationCredentials | None, Security(_TOKENS)],
) -> Person:
    return member(request, agency, tx, now)


def member(request: Request, agency: str, tx: Any, now: datetime) -> Person:
    """Of any other agency there is nothing to find."""
    token = _bearer(request)
    found = _person(request, tx, now) if token is None else _program(request, tx, token, now)
    request.state.person = found  # for the journal
    if found.agency != agency:
        raise NotFound("There is nothing at this address.")
    return found


def _bearer(request: Request) -> str | None:
    kind, _, token = request.headers.get("authorization", "").partition(" ")
    return token.strip() if kind.lower() == "bearer" else None


def _program(request: Request, tx: Any, token: str, now: datetime) -> Person:
    found = asking(tx, token=token, now=now)
    if found is None:
        raise NotSignedIn("This token does not work: it is unknown, expired or taken back.")
    request.app.state.rate_limits.count(found.token_id, now)
    if found.renew:
        with request.app.state.database.writing() as other:
            mark_used(other, token_id=found.token_id, now=now)
    return found.program


def _person(request: Request, tx: Any, now: datetime) -> Person:
    state = request.app.state
    token = request.cookies.get(state.session_cookie, "")
    found = signed_in(tx, token=token, now=now, idle=state.settings.session_idle) if token else None
    if found is None:
        raise NotSignedIn("Sign in first, or send a token: Authorization: Bearer …")
    return found.person


Member = Annotated[Person, Depends(_member)]


class Fault(BaseModel):
    line: int | None = None
    column: str | int | None = Field(default=None, description="The parameter or field.")
    value: str | int | float | bool | None = None
    reason: str


class Problem(BaseModel):
    """Problem details (RFC 9457)."""

    type: str
    title: str
    status: int
    detail: str
    errors: list[Fault] = Field(default=[], description="What is wrong with the input, if it is.")


def problems(**when: str) -> dict[int | str, dict[str, Any]]:
    """`problems(_404="…")`: how each refusal is described."""
    return {
        int(status.removeprefix("_")): {
            "description": description,
            "content": {PROBLEM: {"schema": Problem.model_json_schema()}},
        }
        for status, description in when.items()
    }


EVERYWHERE = problems(
    _422="The input is wrong: each fault by its field. Nothing was stored.",
    _500="Our failure. Nothing was stored.",
    _503="The data are busy or out of reach. Nothing was stored; try again.",
    _507="The disk is full. Nothing was stored.",
)
"""What any route may answer, unless it says more about it."""
