"""Practice: twenty cases of the agency's own policy, and what all drills together say of it."""

import re
import secrets
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Annotated

from fastapi import APIRouter, Depends, Request
from fastapi.responses import RedirectResponse, Response

from app.actions.drills import finish_drill
from app.domain.drill_results import AIM
from app.domain.drills import CASES
from app.domain.errors import Fault, NotFound, Refused, TooMany
from app.domain.permissions import Deed, check_may
from app.lookups.drills import Drill, PractisedRevision, drill, practised
from app.web.render import render
from app.web.sessions import Member
from app.web.transactions import Now, Reading

router = APIRouter(prefix="/{agency}/practice")
_NUMBER = re.compile(r"\d{1,8}", re.ASCII)
_SEED = re.compile(r"[0-9a-f]{16}", re.ASCII)


@dataclass(frozen=True)
class StartPage:
    cases: int = CASES


@dataclass(frozen=True)
class DrillPage:
    drill: Drill
    typed: Mapping[str, str] = field(default_factory=dict)
    faults: tuple[Fault, ...] = ()
    wait: str = ""

    @property
    def missing(self) -> frozenset[str]:
        return frozenset(str(fault.column) for fault in self.faults)


@dataclass(frozen=True)
class ResultsPage:
    found: PractisedRevision
    aim: float = AIM


@router.get("")
def start(request: Request, person: Member) -> Response:
    check_may(person, Deed.PRACTISE)
    return render(request, "practice/start.html", StartPage())


@router.post("")
def begin(person: Member) -> Response:
    check_may(person, Deed.PRACTISE)
    return RedirectResponse(f"/{person.agency}/practice/{secrets.token_hex(8)}", status_code=303)


@router.get("/results")
def results(
    request: Request, person: Member, tx: Reading, now: Now, revision: int | None = None
) -> Response:
    check_may(person, Deed.PRACTISE)
    found = practised(tx, agency_id=person.agency_id, number=revision, now=now)
    return render(request, "practice/results.html", ResultsPage(found))


@router.get("/{seed}")
def cases(request: Request, person: Member, tx: Reading, now: Now, seed: str) -> Response:
    check_may(person, Deed.PRACTISE)
    found = drill(tx, agency_id=person.agency_id, seed=_seed(seed), now=now)
    template = "practice/drill.html" if found.answers is None else "practice/done.html"
    return render(request, template, DrillPage(found))


async def _answers(request: Request) -> dict[str, str]:
    return {name: str(value) for name, value in (await request.form()).items()}


@router.post("/{seed}")
def finish(
    request: Request,
    person: Member,
    now: Now,
    seed: str,
    answers: Annotated[dict[str, str], Depends(_answers)],
) -> Response:
    database = request.app.state.database
    began_with = answers.pop("revision", "")
    number = int(began_with) if _NUMBER.fullmatch(began_with) else 0
    try:
        with database.writing() as tx:
            finish_drill(
                tx,
                revision=number,
                seed=_seed(seed),
                answers=answers,
                by=person,
                now=now,
                address=request.client.host if request.client else "",
            )
    except (Refused, TooMany) as error:
        with database.reading() as tx:
            found = drill(tx, agency_id=person.agency_id, seed=seed, now=now)
        return _again(request, found, answers, error)
    return RedirectResponse(f"/{person.agency}/practice/{seed}", status_code=303)


def _again(
    request: Request, found: Drill, answers: Mapping[str, str], error: Refused | TooMany
) -> Response:
    """With everything that was chosen."""
    if isinstance(error, Refused):
        page = DrillPage(found, answers, error.faults)
    else:
        page = DrillPage(found, answers, wait=error.message)
    return render(request, "practice/drill.html", page, status=error.status)


def _seed(text: str) -> str:
    if _SEED.fullmatch(text) is None:
        raise NotFound("There is no such drill.")
    return text
