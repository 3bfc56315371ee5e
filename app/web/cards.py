"""Pocket cards: printing them, and the list of those that must be taken back."""

from dataclasses import dataclass, field
from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import Response

from app.actions.cards import collect_cards, print_cards
from app.domain.errors import Fault, NotFound, Refused
from app.domain.permissions import Deed, check_may, may
from app.domain.pocket_cards import CardSize
from app.exchange.paper_cards import cards_pdf
from app.lookups.cards import CardsPage, cards, printed_cards
from app.lookups.papers import policy_paper
from app.web.notices import done
from app.web.render import render
from app.web.sessions import Member
from app.web.transactions import Now, Reading, Writing

router = APIRouter(prefix="/{agency}/cards")
Text = Annotated[str, Form(max_length=300)]
PDF = "application/pdf"
FIELDS = ("revision", "size", "model", "copies", "place")


@dataclass(frozen=True)
class CardsShown:
    found: CardsPage
    may_print: bool
    typed: dict[str, str] = field(default_factory=lambda: dict.fromkeys(FIELDS, ""))
    faults: tuple[Fault, ...] = ()
    sizes: tuple[CardSize, ...] = tuple(CardSize)


@router.get("")
def card_list(request: Request, person: Member, tx: Reading, now: Now) -> Response:
    check_may(person, Deed.SEE_POLICY)
    found = cards(tx, agency_id=person.agency_id, now=now)
    page = CardsShown(found, may(person, Deed.PRINT_CARDS))
    return render(request, "cards/list.html", page)


@router.post("")
def print_run(
    request: Request,
    person: Member,
    now: Now,
    revision: Text = "",
    size: Text = "",
    model: Text = "",
    copies: Text = "",
    place: Text = "",
) -> Response:
    check_may(person, Deed.PRINT_CARDS)
    database = request.app.state.database
    typed = {"revision": revision, "size": size, "model": model, "copies": copies, "place": place}
    try:
        with database.writing() as tx:
            printed = print_cards(
                tx,
                revision=_number(revision, "revision"),
                size=_size(size),
                model=model,
                copies=_number(copies, "copies"),
                place=place,
                by=person,
                now=now,
            )
            # Set once before it is recorded: what does not fit a card is no print run.
            _pdf(request, tx, person.agency_id, now, printed.number)
    except Refused as refused:
        with database.reading() as tx:
            found = cards(tx, agency_id=person.agency_id, now=now)
        page = CardsShown(found, may_print=True, typed=typed, faults=refused.faults)
        return render(request, "cards/list.html", page, status=422)
    said = f"Print run {printed.number} is on the list. Download it and print {printed.copies}."
    return done(f"/{person.agency}/cards", said)


def _number(typed: str, column: str) -> int:
    text = typed.strip()
    if not (text.isascii() and text.isdigit() and len(text) < 6):
        raise Refused.because("write a whole number", column=column, value=typed)
    return int(text)


def _size(typed: str) -> CardSize:
    if typed not in tuple(CardSize):
        raise Refused.because("choose one", column="size", value=typed)
    return CardSize(typed)


@router.get("/{number}/cards.pdf")
def card_file(request: Request, person: Member, tx: Reading, now: Now, number: int) -> Response:
    check_may(person, Deed.SEE_POLICY)
    name = f"{person.agency}-cards-{number}.pdf"
    return Response(
        _pdf(request, tx, person.agency_id, now, number),
        media_type=PDF,
        headers={"Content-Disposition": f'attachment; filename="{name}"'},
    )


def _pdf(request: Request, tx: Reading, agency_id: int, now: Now, number: int) -> bytes:
    printed = printed_cards(tx, agency_id=agency_id, number=number)
    if printed is None:
        raise NotFound("No such cards were printed.")
    paper = policy_paper(tx, agency_id=agency_id, number=printed.revision, now=now)
    state = request.app.state
    base = state.settings.public_url or str(request.base_url)
    return cards_pdf(state.press, paper, size=printed.size, model=printed.model, base=base)


@router.post("/{number}/collect")
def collect(person: Member, tx: Writing, now: Now, number: int, note: Text = "") -> Response:
    collect_cards(tx, number=number, note=note, by=person, now=now)
    return done(f"/{person.agency}/cards", f"Print run {number} is off the recall list.")
