"""Any two revisions of the policy held against each other."""

from collections.abc import Iterable
from typing import Annotated

from fastapi import APIRouter, Query
from pydantic import BaseModel, Field

from app.api.access import Member, Now, Reading, problems
from app.api.limits import CAUTION
from app.api.revisions import Number
from app.domain.age_strip import StripLine
from app.domain.errors import NotFound
from app.domain.permissions import Deed, check_may
from app.domain.redline import Change, Redline
from app.domain.redline_effects import Arrival, Held, TellingAge, VitalEffect
from app.domain.redline_words import gap_words_at_age, silent_values
from app.domain.silence import Silence
from app.lookups.redlines import ComparedRevisions, VoidOnModel, compared_revisions

router = APIRouter(tags=["policy"])
Ages = list[str | None]


class PartShape(BaseModel):
    part: str
    before: str
    after: str
    direction: str


class ChangeShape(BaseModel):
    rank: str = Field(description="How grave: opens a silence comes first, words only last.")
    direction: str
    sentence: str
    ages: Ages | None = Field(description="From and to; None for an option of the device.")
    alarm: str | None
    option: str | None
    circumstance: str | None = Field(description="Its label, where the change holds under one.")
    parts: list[PartShape]
    newly_silent: list[str]
    reason: str


class HandShape(BaseModel):
    ages: Ages
    before: str | None = Field(description="The category that held these ages.")
    after: str | None


class SilenceShape(BaseModel):
    ages: Ages
    grade: str
    values: str
    source: str


class ArrivalShape(BaseModel):
    mean: float = Field(description="Share of healthy people, 0 to 1, over the ages that change.")
    worst: float
    worst_age: str


class HeldShape(BaseModel):
    silent: list[SilenceShape]
    arrival: ArrivalShape | None = Field(description="None: no centiles are published.")


class AtAgeShape(BaseModel):
    limits: str
    silent: list[str]
    on_arrival: float | None = Field(description="0 to 1; None: no centiles are published.")


class TellingAgeShape(BaseModel):
    age: str
    before: AtAgeShape | None = Field(description="None: nothing is said at this age.")
    after: AtAgeShape | None


class EffectShape(BaseModel):
    vital_signs: list[str]
    ages: list[Ages]
    telling_ages: list[TellingAgeShape]
    before: HeldShape
    after: HeldShape
    source: str | None


class VoidPresetShape(BaseModel):
    preset: str
    alarms: list[str]
    new: bool


class StationShape(BaseModel):
    station: str
    devices: int
    tags: list[str] = Field(description="Empty where there are too many to list, or nothing to do.")


class VoidModelShape(BaseModel):
    model: str
    devices: int
    stays: bool = Field(description="What the model shows stays the same.")
    presets: list[VoidPresetShape]
    gone: list[str]
    options: list[str]
    stations: list[StationShape]


class VoidCardsShape(BaseModel):
    category: str
    why: str
    models: list[str] = Field(description="Empty: the printed cards for every model.")


class RedlineShape(BaseModel):
    caution: str
    revision: int
    against: int
    bounds: str
    categories: list[HandShape]
    relabelled: list[list[str]] = Field(description="Before and after.")
    circumstances: list[str]
    models: dict[str, list[str]]
    changes: list[ChangeShape]
    effects: list[EffectShape]
    devices_to_set: int
    void_models: list[VoidModelShape]
    void_cards: list[VoidCardsShape]


@router.get(
    "/{agency}/revisions/{number}/redline",
    summary="What changed between two revisions, and what it does",
    responses=problems(
        _401="Nobody is signed in.",
        _404="No such agency or revision, or no other one to compare with.",
        _422="A number is no number.",
    ),
)
def redline_of_revision(
    number: Number,
    person: Member,
    tx: Reading,
    now: Now,
    against: Annotated[
        int | None,
        Query(ge=1, le=1_000_000, description="Default: the one in force, else the one before."),
    ] = None,
) -> RedlineShape:
    """The gravest change first; each says what it means before any number."""
    check_may(person, Deed.SEE_POLICY)
    asked = compared_revisions(
        tx, agency_id=person.agency_id, number=number, against=against, now=now
    )
    if asked.compared is None:
        raise NotFound("There is no revision to compare with.")
    return _shape(asked.compared)


def _shape(found: ComparedRevisions) -> RedlineShape:
    red = found.redline
    return RedlineShape(
        caution=CAUTION,
        revision=found.after.number,
        against=found.before.number,
        bounds=found.bounds.name,
        categories=list(_hands(red)),
        relabelled=[list(pair) for pair in red.relabelled],
        circumstances=[one.sentence for one in red.circumstances],
        models={one.model: list(one.sentences) for one in red.models},
        changes=[_change(one) for one in red.changes],
        effects=[_effect(one) for one in found.effects],
        devices_to_set=found.to_set,
        void_models=[_model(one) for one in found.models],
        void_cards=[
            VoidCardsShape(category=one.category, why=one.why, models=list(one.models))
            for one in found.cards
        ],
    )


def _hands(red: Redline) -> Iterable[HandShape]:
    for hand in red.hands:
        yield HandShape(
            ages=hand.ages.words(),
            before=hand.before.key if hand.before else None,
            after=hand.after.key if hand.after else None,
        )


def _change(one: Change) -> ChangeShape:
    parts = [
        PartShape(part=part.label, before=part.before, after=part.after, direction=part.lean)
        for part in one.parts
    ]
    return ChangeShape(
        rank=one.rank,
        direction=one.direction,
        sentence=one.sentence,
        ages=one.ages.words() if one.ages else None,
        alarm=one.alarm.key if one.alarm else None,
        option=one.option,
        circumstance=one.circumstance or None,
        parts=parts,
        newly_silent=list(one.silent),
        reason=one.reason,
    )


def _effect(one: VitalEffect) -> EffectShape:
    return EffectShape(
        vital_signs=[vital.key for vital in one.vitals],
        ages=[span.words() for span in one.ages],
        telling_ages=[_telling(one, told) for told in one.telling],
        before=_held(one, one.before),
        after=_held(one, one.after),
        source=one.source,
    )


def _telling(effect: VitalEffect, told: TellingAge) -> TellingAgeShape:
    before, after = effect.before, effect.after
    return TellingAgeShape(
        age=str(told.age),
        before=_at_age(told.before, before.silent_at(told.age), effect.vital.shown),
        after=_at_age(told.after, after.silent_at(told.age), effect.vital.shown),
    )


def _at_age(line: StripLine | None, silent: Iterable[Silence], unit: str) -> AtAgeShape | None:
    if line is None:
        return None
    told = [gap_words_at_age(gap, unit) for gap in silent]
    return AtAgeShape(limits=line.words, silent=told, on_arrival=line.outside)


def _held(effect: VitalEffect, held: Held) -> HeldShape:
    silent = [
        SilenceShape(
            ages=gap.ages.words(),
            grade=gap.bound.grade,
            values=silent_values(gap, effect.vital.shown),
            source=gap.bound.source,
        )
        for gap in held.silent
    ]
    return HeldShape(silent=silent, arrival=_arrival(held.arrival))


def _arrival(found: Arrival | None) -> ArrivalShape | None:
    if found is None:
        return None
    return ArrivalShape(mean=found.mean, worst=found.worst, worst_age=str(found.worst_age))


def _model(one: VoidOnModel) -> VoidModelShape:
    effect = one.effect
    return VoidModelShape(
        model=effect.model,
        devices=one.count,
        stays=effect.stays,
        presets=[
            VoidPresetShape(
                preset=preset.preset, alarms=[a.key for a in preset.alarms], new=preset.new
            )
            for preset in effect.presets
        ],
        gone=list(effect.gone),
        options=list(effect.options),
        stations=[
            StationShape(station=at.station, devices=at.count, tags=list(at.tags))
            for at in one.stations
        ],
    )
