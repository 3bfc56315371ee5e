"""Band advice for a revision, and a new draft from the bands that an author confirms."""

from dataclasses import dataclass
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Path, Query, Response
from pydantic import BaseModel, ConfigDict, Field

from app.actions.band_drafts import draft_from_bands
from app.api.access import Member, Now, Reading, Writing, problems
from app.api.limits import CAUTION
from app.api.revisions import Number
from app.domain.ages import Age
from app.domain.band_advice import (
    HEAVIEST,
    MOST_BANDS,
    BandAdvice,
    BandQuestion,
    confirmed_bands,
    whole_months,
)
from app.domain.band_costs import Weights
from app.domain.band_search import Aim
from app.domain.errors import Refused
from app.domain.people import Person
from app.domain.permissions import Deed, check_may
from app.exchange.band_json import bands_json
from app.exchange.band_shapes import BandsShape
from app.lookups.band_advice import AdvisedBands, advised_bands

router = APIRouter(tags=["policy"])
Points = Annotated[
    float,
    Query(ge=0, le=HEAVIEST, description="Points a silent unit costs; a point is one in a hundred"),
]
Vital = Annotated[str, Path(description="A vital sign with published centiles.")]


@dataclass(frozen=True)
class Asked:
    """What is weighed against what."""

    aim: Annotated[Aim, Query(description="The worst month, or the mean of all.")] = Aim.WORST
    danger: Points = 10
    caution: Points = 1
    until: Annotated[
        str, Query(max_length=20, description="Whole months or years, up to 18 y.")
    ] = "18 y"

    def question(self, vital: str) -> BandQuestion:
        try:
            until = whole_months(Age.parse(self.until))
        except ValueError as error:
            raise Refused.because(str(error), column="until", value=self.until) from None
        return BandQuestion(vital, self.aim, Weights(self.danger, self.caution), until)


class RevisionBandsShape(BandsShape):
    caution: str
    revision: int
    fingerprint: str = Field(description="Of the revision that the advice is about.")


class ConfirmedBody(BaseModel):
    model_config = ConfigDict(
        extra="forbid",
        json_schema_extra={
            "example": {
                "fingerprint": "0" * 64,
                "bands": 3,
                "confirm": ["0-12:80:180"],
            }
        },
    )

    fingerprint: Annotated[str, Field(max_length=64)]
    bands: Annotated[int, Field(ge=1, le=MOST_BANDS, description="Of which plan the bands are.")]
    confirm: Annotated[
        list[Annotated[str, Field(max_length=60)]],
        Field(min_length=1, max_length=MOST_BANDS, description="Marks of the bands wanted."),
    ]


class StartedShape(BaseModel):
    number: int
    fingerprint: str


Weighing = Annotated[Asked, Depends()]


@router.get(
    "/{agency}/revisions/{number}/bands/{vital}",
    summary="The age bands and limits that cost least, beside those of a revision",
    responses=problems(
        _401="Nobody is signed in.",
        _404="No such agency or revision.",
        _422="Nothing can be weighed: no centiles, no bounds, or no limit that can be set.",
    ),
)
def bands_of_revision(
    number: Number, vital: Vital, person: Member, tx: Reading, now: Now, asked: Weighing
) -> RevisionBandsShape:
    """A proposal from published ranges and the outer bounds in force; it changes nothing."""
    check_may(person, Deed.SEE_POLICY)
    found, advice = _advised(tx, person, number, asked.question(vital), now)
    told: dict[str, Any] = bands_json(advice)
    revision = found.found.revision
    return RevisionBandsShape(
        caution=CAUTION, revision=number, fingerprint=revision.fingerprint, **told
    )


def _advised(
    tx: Any, person: Person, number: int, question: BandQuestion, now: Any
) -> tuple[AdvisedBands, BandAdvice]:
    found = advised_bands(tx, agency_id=person.agency_id, number=number, question=question, now=now)
    if found.advice is None:
        raise found.refused or Refused([])
    return found, found.advice


@router.post(
    "/{agency}/revisions/{number}/bands/{vital}/draft",
    summary="Start a draft with the bands that are confirmed",
    status_code=201,
    responses=problems(
        _401="Nobody is signed in.",
        _403="Only authors and the medical director write drafts.",
        _404="No such agency or revision.",
        _409="The revision or the advice is another one by now.",
        _422="Nothing can be weighed, or nothing is confirmed.",
    ),
)
def draft_of_bands(
    number: Number,
    vital: Vital,
    body: ConfirmedBody,
    person: Member,
    tx: Writing,
    now: Now,
    asked: Weighing,
    response: Response,
) -> StartedShape:
    """Asked with the same weights as the advice. Reasons and sources are left to the author."""
    check_may(person, Deed.EDIT_DRAFT)
    _, advice = _advised(tx, person, number, asked.question(vital), now)
    started = draft_from_bands(
        tx,
        number=number,
        fingerprint=body.fingerprint,
        vital=advice.vital,
        bands=confirmed_bands(advice.with_bands(body.bands), body.confirm),
        by=person,
        now=now,
    )
    response.headers["Location"] = f"/api/v1/{person.agency}/revisions/{started.number}"
    return StartedShape(number=started.number, fingerprint=started.fingerprint)
