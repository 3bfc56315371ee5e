"""Noise and silence: a revision's limits against recorded trends."""

from typing import Annotated, Any

from fastapi import APIRouter, Form, Query, Request
from fastapi.responses import Response

from app.actions.evidence import keep_evidence
from app.domain.permissions import Deed, check_may, may
from app.exchange.paper_evidence import evidence_pdf
from app.lookups.evidence import (
    answer_to,
    asked_evidence,
    printed_answers,
    trends_of,
)
from app.lookups.papers import policy_paper
from app.lookups.policy import open_revision
from app.lookups.policy_judged import judged
from app.web.noise_pages import NoisePage, NoiseQuestion, line_shown, noise_address
from app.web.notices import done
from app.web.policy_desk import desk_of
from app.web.policy_pages import base_of
from app.web.render import render
from app.web.sessions import Member
from app.web.transactions import Now, Reading

router = APIRouter(prefix="/{agency}/policy/{number}/noise")


@router.get("")
def noise_page(
    request: Request,
    person: Member,
    tx: Reading,
    now: Now,
    number: int,
    question: Annotated[NoiseQuestion, Query()],
) -> Response:
    check_may(person, Deed.SEE_POLICY)
    asked = asked_evidence(
        tx,
        agency_id=person.agency_id,
        number=number,
        category=question.category or None,
        circumstance=question.circumstance,
        or_plain=True,
        now=now,
    )
    shown = line_shown(asked, question)
    opened = open_revision(tx, agency_id=person.agency_id, number=number, now=now)
    desk = desk_of(opened, judged(opened).findings, person)
    page = NoisePage(
        base_of(person, number),
        asked,
        may(person, Deed.REPLAY),
        shown,
        desk,
        wanted=question.circumstance,
    )
    return render(request, "policy/noise.html", page)


@router.post("")
def replay(
    request: Request,
    person: Member,
    now: Now,
    number: int,
    category: Annotated[str, Form(max_length=100)] = "",
    circumstance: Annotated[str, Form(max_length=100)] = "",
) -> Response:
    """Read, then reckoned without holding anybody up, then kept."""
    check_may(person, Deed.REPLAY)
    _replay_and_keep(request.app.state.database, person, number, (category, circumstance), now)
    address = noise_address(base_of(person, number), category, circumstance)
    return done(address, "The recordings were replayed against this revision.")


def _replay_and_keep(
    database: Any, person: Member, number: int, limits: tuple[str, str], now: Any
) -> None:
    category, circumstance = limits
    with database.reading() as tx:
        asked = asked_evidence(
            tx,
            agency_id=person.agency_id,
            number=number,
            category=category or None,
            circumstance=circumstance,
            now=now,
        )
        trends = trends_of(tx, asked)
    found = answer_to(asked, trends)
    with database.writing() as tx:
        keep_evidence(
            tx,
            found,
            revision_id=asked.revision.id,
            told_from=asked.fingerprints,
            by=person,
            now=now,
        )


@router.get("/annex.pdf")
def annex(request: Request, person: Member, tx: Reading, now: Now, number: int) -> Response:
    """Of every category that was replayed as it stands."""
    check_may(person, Deed.SEE_POLICY)
    answers = printed_answers(tx, agency_id=person.agency_id, number=number, now=now)
    paper = policy_paper(tx, agency_id=person.agency_id, number=number, now=now)
    name = f"{person.agency}-revision-{number}-noise-and-silence.pdf"
    return Response(
        evidence_pdf(request.app.state.press, paper, answers),
        media_type="application/pdf",
        headers={"Content-Disposition": f'attachment; filename="{name}"'},
    )
