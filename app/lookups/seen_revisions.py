"""What a new revision changes for a crew, and how far the word of it has gone."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime

from sqlmodel import Session

from app.domain.by_hand import CategoryOnModel, by_hand_on
from app.domain.changes_for_me import ChangesForMe, changes_for_me
from app.domain.errors import NotFound
from app.domain.moves import RevisionStatus
from app.domain.patient_categories import PatientCategory
from app.domain.people import Person
from app.domain.redline_voids import VoidCards
from app.domain.revisions import RevisionLine
from app.domain.seen_revisions import Reach, Seen, must_see, reach
from app.exchange.stored_profiles import stored_profile
from app.lookups.redlines import AtStation, VoidOnModel, compared_revisions
from app.storage import devices
from app.storage.acknowledgements import (
    acknowledged,
    acknowledgements_of,
    last_stations,
    seen_by,
)
from app.storage.people import people_of
from app.storage.revisions import find_revision, lines_of

_NEWS = frozenset({RevisionStatus.SIGNED, RevisionStatus.IN_FORCE})


@dataclass(frozen=True)
class AskedFor:
    """What a crew is asked about itself; empty leaves nothing out."""

    station: str = ""
    model: str = ""
    category: str = ""


@dataclass(frozen=True)
class ToSet:
    """Devices of one model that hold other values until somebody sets them."""

    model: str
    station: AtStation


@dataclass(frozen=True)
class News:
    """`before` None: there was no revision before it, so all of it is new. `models` and `stations`
    are those of the agency's devices; `on_model` is told where a model was asked for."""

    revision: RevisionLine
    signed_by: tuple[str, ...]
    before: RevisionLine | None
    asked: AskedFor
    stations: tuple[str, ...]
    models: tuple[str, ...]
    categories: tuple[PatientCategory, ...]
    changes: ChangesForMe | None
    to_set: tuple[ToSet, ...]
    cards: tuple[VoidCards, ...]
    on_model: tuple[CategoryOnModel, ...]
    seen: Seen | None
    last_station: str


def to_be_seen(tx: Session, *, person: Person, now: datetime) -> tuple[RevisionLine, ...]:
    """Signed or in force, not yet seen by somebody who must; the newest first."""
    if not must_see(person):
        return ()
    lines = [line.as_of(now) for line in lines_of(tx, person.agency_id)]
    news = [line for line in lines if line.status in _NEWS]
    known = seen_by(tx, person_id=person.id, revision_ids=[line.id for line in news])
    return tuple(line for line in reversed(news) if line.id not in known)


def news(tx: Session, *, person: Person, number: int, asked: AskedFor, now: datetime) -> News:
    found = compared_revisions(tx, agency_id=person.agency_id, number=number, against=None, now=now)
    revision, compared = found.revision, found.compared
    if revision.signed_at is None:
        raise NotFound(f"Revision {number} is not signed, so it changes nothing yet.")
    profile = stored_profile(revision.document)
    category = profile.category(asked.category)
    places = devices.count_by_place(tx, person.agency_id)
    return News(
        revision=revision,
        signed_by=tuple(one.name for one in revision.signatures),
        before=None if compared is None else compared.before,
        asked=asked,
        stations=tuple(sorted({station for _, station in places})),
        models=tuple(sorted({model for model, _ in places})),
        categories=profile.categories,
        changes=None
        if compared is None
        else changes_for_me(compared.redline, category=category, model=asked.model),
        to_set=() if compared is None else tuple(_to_set(compared.models, asked)),
        cards=() if compared is None else compared.cards,
        on_model=tuple(
            one
            for one in by_hand_on(profile, asked.model)
            if category is None or one.category.key == category.key
        ),
        seen=acknowledged(tx, revision_id=revision.id, person_id=person.id),
        last_station=last_stations(tx, person.agency_id).get(person.id, ""),
    )


def _to_set(models: Iterable[VoidOnModel], asked: AskedFor) -> Iterator[ToSet]:
    for one in models:
        if one.effect.stays or asked.model not in ("", one.effect.model):
            continue
        for place in one.stations:
            if asked.station in ("", place.station):
                yield ToSet(one.effect.model, place)


def reach_of(tx: Session, *, agency_id: int, number: int) -> Reach:
    found = find_revision(tx, agency_id=agency_id, number=number)
    if found is None or found.in_force_at is None:
        raise NotFound(f"There is no signed revision {number}.")
    return reach(
        people_of(tx, agency_id),
        acknowledgements_of(tx, found.id),
        last_stations(tx, agency_id),
        in_force_at=found.in_force_at,
    )


def reaches(
    tx: Session, *, agency_id: int, now: datetime, most: int = 6
) -> list[tuple[RevisionLine, Reach]]:
    """Of the newest signed revisions, the newest first."""
    lines = [line.as_of(now) for line in lines_of(tx, agency_id) if line.in_force_at is not None]
    wanted = [line for line in reversed(lines) if line.status is not RevisionStatus.WITHDRAWN]
    return [(line, reach_of(tx, agency_id=agency_id, number=line.number)) for line in wanted[:most]]
