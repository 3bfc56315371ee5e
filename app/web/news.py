"""News of the policy: what a revision changes for a crew, who has seen it, and who has not."""

from dataclasses import dataclass
from datetime import datetime
from typing import Annotated

from fastapi import APIRouter, Form, Query, Request
from fastapi.responses import Response
from pydantic import BaseModel, Field

from app.actions.acknowledgements import acknowledge
from app.domain.errors import Fault, Refused
from app.domain.people import Person
from app.domain.permissions import Deed, check_may, may
from app.domain.redline import Rank
from app.domain.revisions import RevisionLine
from app.domain.seen_revisions import BEFORE_SHARE, Reach
from app.lookups.seen_revisions import AskedFor, News, news, reach_of, reaches, to_be_seen
from app.web.by_hand import HandSet, hand_sets
from app.web.notices import done
from app.web.render import render
from app.web.sessions import Member
from app.web.transactions import Now, Reading

router = APIRouter(prefix="/{agency}/news")
Word = Annotated[str, Field(max_length=200)]


class Asked(BaseModel):
    station: Word = ""
    model: Word = ""
    category: Word = ""


@dataclass(frozen=True)
class NewsList:
    """`unseen`: what this person has still to see."""

    reaches: list[tuple[RevisionLine, Reach]]
    unseen: frozenset[int]
    may_see_reach: bool


@dataclass(frozen=True)
class NewsPage:
    found: News
    sets: list[HandSet]
    may_see_reach: bool
    typed: str = ""
    faults: tuple[Fault, ...] = ()
    ranks: tuple[Rank, ...] = tuple(rank for rank in Rank if rank is not Rank.WORDS)


@dataclass(frozen=True)
class ReachPage:
    number: int
    reach: Reach
    now: datetime
    before_percent: int = round(100 * BEFORE_SHARE)


@router.get("")
def news_list(request: Request, person: Member, tx: Reading, now: Now) -> Response:
    check_may(person, Deed.ACKNOWLEDGE)
    unseen = frozenset(line.number for line in to_be_seen(tx, person=person, now=now))
    found = reaches(tx, agency_id=person.agency_id, now=now)
    page = NewsList(found, unseen, may(person, Deed.SEE_REACH))
    return render(request, "news/list.html", page)


@router.get("/{number}")
def one(
    request: Request,
    person: Member,
    tx: Reading,
    now: Now,
    number: int,
    asked: Annotated[Asked, Query()],
) -> Response:
    check_may(person, Deed.ACKNOWLEDGE)
    found = news(tx, person=person, number=number, asked=_asked_for(asked), now=now)
    return render(request, "news/one.html", _page(found, person))


def _asked_for(asked: Asked) -> AskedFor:
    return AskedFor(asked.station, asked.model, asked.category)


def _page(found: News, person: Person, typed: str = "", faults: tuple[Fault, ...] = ()) -> NewsPage:
    may_see = may(person, Deed.SEE_REACH)
    return NewsPage(found, hand_sets(found.on_model), may_see, typed, faults)


@router.post("/{number}/seen")
def seen(
    request: Request,
    person: Member,
    now: Now,
    number: int,
    station: Annotated[str, Form(max_length=300)] = "",
) -> Response:
    database = request.app.state.database
    try:
        with database.writing() as tx:
            acknowledge(tx, revision=number, station=station, by=person, now=now)
    except Refused as refused:
        with database.reading() as tx:
            found = news(tx, person=person, number=number, asked=AskedFor(), now=now)
        page = _page(found, person, station, refused.faults)
        return render(request, "news/one.html", page, status=422)
    return done(f"/{person.agency}/news/{number}", f"You have seen revision {number}. Thank you.")


@router.get("/{number}/reach")
def who(request: Request, person: Member, tx: Reading, now: Now, number: int) -> Response:
    check_may(person, Deed.SEE_REACH)
    found = reach_of(tx, agency_id=person.agency_id, number=number)
    return render(request, "news/reach.html", ReachPage(number, found, now))
