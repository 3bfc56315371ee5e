"""Band advice: the best age bands of one vital sign beside today's, and a draft taken from them."""

from dataclasses import replace
from typing import Annotated

from fastapi import APIRouter, Form, Query, Request
from fastapi.responses import Response
from pydantic import Field

from app.actions.band_drafts import draft_from_bands
from app.domain.band_advice import confirmed_bands
from app.domain.errors import Conflict, Refused
from app.domain.people import Person
from app.domain.permissions import Deed, check_may
from app.lookups.band_advice import advised_bands
from app.lookups.policy import open_revision
from app.web.band_pages import BandsEntry, BandsPage, bands_page, unasked_page
from app.web.notices import done
from app.web.policy_pages import base_of
from app.web.render import render
from app.web.sessions import Member
from app.web.transactions import Now, Reading, Transaction

router = APIRouter(prefix="/{agency}/policy/{number}/bands")


class ConfirmedEntry(BandsEntry):
    """`confirm` holds the marks of the bands that are wanted."""

    confirm: Annotated[
        list[Annotated[str, Field(max_length=60)]],
        Field(default_factory=list, max_length=20),
    ]
    fingerprint: Annotated[str, Field(max_length=64)] = ""


@router.get("")
def bands(
    request: Request,
    person: Member,
    tx: Reading,
    now: Now,
    number: int,
    entry: Annotated[BandsEntry, Query()],
) -> Response:
    check_may(person, Deed.SEE_POLICY)
    page = _page(tx, person, number, entry, now)
    return render(request, "policy/bands.html", page, status=422 if page.faults else 200)


@router.post("")
def take_over(
    request: Request,
    person: Member,
    now: Now,
    number: int,
    entry: Annotated[ConfirmedEntry, Form()],
) -> Response:
    """A new draft; the revision that the advice is about stays as it is."""
    check_may(person, Deed.EDIT_DRAFT)
    database = request.app.state.database
    with database.reading() as tx:
        page = _page(tx, person, number, entry, now)
    if page.plan is None or page.advice is None:
        return render(request, "policy/bands.html", page, status=422)
    try:
        wanted = confirmed_bands(page.plan, entry.confirm)
        with database.writing() as tx:
            started = draft_from_bands(
                tx,
                number=number,
                fingerprint=entry.fingerprint,
                vital=page.advice.vital,
                bands=wanted,
                by=person,
                now=now,
            )
    except (Refused, Conflict) as error:
        told = replace(page, confirmed=frozenset(entry.confirm), changed=_reason(error))
        return render(request, "policy/bands.html", told, status=error.status)
    notice = "A draft with these bands. Every reason and source of a new limit is left to you."
    return done(base_of(person, started.number), notice)


def _reason(error: Refused | Conflict) -> str:
    return error.faults[0].reason if isinstance(error, Refused) else error.message


def _page(tx: Transaction, person: Person, number: int, entry: BandsEntry, now: Now) -> BandsPage:
    try:
        question = entry.question()
    except Refused as refused:
        found = open_revision(tx, agency_id=person.agency_id, number=number, now=now)
        return unasked_page(found, entry, person, refused.faults)
    answer = advised_bands(
        tx, agency_id=person.agency_id, number=number, question=question, now=now
    )
    return bands_page(answer, entry, person)
