"""What every route of the API is handed: who asks, a transaction it cannot look into, the time."""

from collections.abc import Iterator
from datetime import datetime
from typing import Annotated, Any

from fastapi import Depends, Path, Request
from pydantic import BaseModel, Field

from app.domain.errors import NotFound, NotSignedIn
from app.domain.people import Person
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


def _member(request: Request, agency: AgencyKey, tx: Reading, now: Now) -> Person:
    """Of any other agency there is nothing to find."""
    state = request.app.state
    token = request.cookies.get(state.session_cookie, "")
    found = signed_in(tx, token=token, now=now, idle=state.settings.session_idle) if token else None
    if found is None:
        raise NotSignedIn("Sign in first; the session cookie tells who asks.")
    if found.person.agency != agency:
        raise NotFound("There is nothing at this address.")
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
