"""Samples of the fleet: drawing one, and what reading it says of the rest."""

import secrets
from dataclasses import dataclass, field
from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import Response

from app.actions.draws import draw_devices
from app.domain.draws import CENSUS_UP_TO, StoredDraw, Strata
from app.domain.errors import Fault, Refused
from app.domain.people import Person
from app.domain.permissions import Deed, check_may, may
from app.domain.sampling import parse_share
from app.lookups.draws import DrawnDevice, DrawPage, all_draws, draw_page
from app.web.notices import done
from app.web.render import render
from app.web.sessions import Member
from app.web.transactions import Now, Reading, Transaction

router = APIRouter(prefix="/{agency}/fleet/samples")
Text = Annotated[str, Form(max_length=300)]
_TYPED = {"tolerate": "5%", "confidence": "95%", "purpose": "", "strata": Strata.NONE.value}


@dataclass(frozen=True)
class SamplesPage:
    draws: list[StoredDraw]
    may_draw: bool
    census: int = CENSUS_UP_TO
    strata: tuple[Strata, ...] = tuple(Strata)
    typed: dict[str, str] = field(default_factory=lambda: dict(_TYPED))
    faults: tuple[Fault, ...] = ()


@dataclass(frozen=True)
class SamplePage:
    found: DrawPage
    may_read: bool

    @property
    def left(self) -> list[DrawnDevice]:
        return [one for one in self.found.devices if not one.read]

    @property
    def read(self) -> list[DrawnDevice]:
        return [one for one in self.found.devices if one.read]


@router.get("")
def samples(request: Request, person: Member, tx: Reading) -> Response:
    check_may(person, Deed.SEE_FLEET)
    return render(request, "fleet/samples.html", _samples(tx, person))


def _samples(tx: Transaction, person: Person) -> SamplesPage:
    return SamplesPage(all_draws(tx, agency_id=person.agency_id), may(person, Deed.DRAW_SAMPLE))


@router.post("")
def draw(
    request: Request,
    person: Member,
    now: Now,
    purpose: Text = "",
    strata: Text = "",
    tolerate: Text = "",
    confidence: Text = "",
) -> Response:
    check_may(person, Deed.DRAW_SAMPLE)
    database = request.app.state.database
    typed = {"purpose": purpose, "strata": strata, "tolerate": tolerate, "confidence": confidence}
    try:
        with database.writing() as tx:
            drawn = draw_devices(
                tx,
                purpose=purpose,
                strata=_strata(strata),
                tolerate=parse_share(tolerate, column="tolerate"),
                confidence=parse_share(confidence, column="confidence"),
                seed=secrets.token_hex(16),
                by=person,
                now=now,
            )
    except Refused as refused:
        with database.reading() as tx:
            page = _samples(tx, person)
        again = SamplesPage(page.draws, page.may_draw, typed=typed, faults=refused.faults)
        return render(request, "fleet/samples.html", again, status=422)
    count = len(drawn.draw.chosen)
    said = f"{count} of {len(drawn.draw.listed)} devices were drawn."
    return done(f"/{person.agency}/fleet/samples/{drawn.number}", said)


def _strata(typed: str) -> Strata:
    if typed not in tuple(Strata):
        raise Refused.because("choose one", column="strata", value=typed)
    return Strata(typed)


@router.get("/{number}")
def sample(request: Request, person: Member, tx: Reading, now: Now, number: int) -> Response:
    check_may(person, Deed.SEE_FLEET)
    found = draw_page(tx, agency_id=person.agency_id, number=number, now=now)
    return render(request, "fleet/sample.html", SamplePage(found, may(person, Deed.READ_DEVICE)))
