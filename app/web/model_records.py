"""The register of device models: what the fleet's own tests have shown of each."""

import re
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Annotated, Any, Self

from fastapi import APIRouter, Form, Request
from fastapi.responses import Response
from pydantic import BaseModel, Field

from app.actions.model_records import record_model
from app.domain.device_models import DeviceModel
from app.domain.errors import Fault, NotFound, Refused
from app.domain.model_records import (
    Happening,
    ModelFacts,
    ModelRecord,
    Outcome,
    grid_from,
)
from app.domain.people import Person
from app.domain.permissions import Deed, check_may, may
from app.domain.settings_of_alarms import show_number
from app.lookups.model_records import KnownModel, earlier_records, known_model, known_models
from app.web.dates import typed_day
from app.web.grid_entry import GridRow, grid_rows, typed_grid
from app.web.model_pages import UNITS
from app.web.notices import done
from app.web.render import render
from app.web.sessions import Member
from app.web.transactions import Now, Reading, Transaction
from app.web.typed import typed_in

router = APIRouter(prefix="/{agency}/models")
Word = Annotated[str, Field(max_length=200)]
Text = Annotated[str, Field(max_length=4000)]
_MINUTES = re.compile(r"\d{1,5}(\.\d{1,2})?", re.ASCII)


class FactsEntry(BaseModel):
    """As typed; what a model does after each happening is a field of its name."""

    label: Word = ""
    etco2_unit: Word = "mm[Hg]"
    retention_min: Word = ""
    presets: Text = ""
    software: Word = ""
    tested_on: Word = ""
    tested_by: Word = ""
    audible: Text = ""
    note: Text = ""

    def facts(self, typed: dict[str, str]) -> ModelFacts:
        """Raises Refused."""
        if self.etco2_unit not in dict(UNITS):
            raise Refused.because("choose one", column="etco2_unit")
        return ModelFacts(
            label=self.label,
            presets=tuple(line for line in self.presets.splitlines() if line.strip()),
            grid=grid_from(typed_grid(typed)),
            etco2_unit=self.etco2_unit,
            retention_min=self.retention(),
            reverts={one: _outcome(typed.get(one.value, "")) for one in Happening},
            software=self.software,
            tested_on=typed_day(self.tested_on, column="tested_on"),
            tested_by=self.tested_by,
            audible=self.audible,
            note=self.note,
        )

    def retention(self) -> Decimal | None:
        typed = self.retention_min.strip()
        if not typed:
            return None
        if _MINUTES.fullmatch(typed) is None:
            told = "write minutes as a number such as 2, or nothing"
            raise Refused.because(told, column="retention_min", value=typed)
        return Decimal(typed)

    @classmethod
    def of(cls, facts: ModelFacts) -> Self:
        held = facts.retention_min
        return cls(
            label=facts.label,
            etco2_unit=facts.etco2_unit,
            retention_min="" if held is None else show_number(held),
            presets="\n".join(facts.presets),
            software=facts.software,
            tested_on="" if facts.tested_on is None else facts.tested_on.isoformat(),
            tested_by=facts.tested_by,
            audible=facts.audible,
            note=facts.note,
        )


def _outcome(typed: str) -> Outcome:
    if typed not in tuple(Outcome):
        return Outcome.NOT_TESTED
    return Outcome(typed)


@dataclass(frozen=True)
class ModelsPage:
    models: list[KnownModel]
    may_record: bool
    typed: str = ""
    faults: tuple[Fault, ...] = ()


@dataclass(frozen=True)
class ModelPage:
    """`copied`: the form shows what is signed, and nothing of it is recorded yet."""

    known: KnownModel
    entry: FactsEntry
    outcomes: dict[Happening, Outcome]
    grid: tuple[GridRow, ...]
    earlier: list[ModelRecord]
    may_record: bool
    copied: bool = False
    faults: tuple[Fault, ...] = ()
    units: tuple[tuple[str, str], ...] = UNITS

    @property
    def offered(self) -> tuple[Outcome, ...]:
        return tuple(Outcome)


@router.get("")
def models(request: Request, person: Member, tx: Reading, now: Now) -> Response:
    check_may(person, Deed.SEE_FLEET)
    found = known_models(tx, agency_id=person.agency_id, now=now)
    page = ModelsPage(found, may(person, Deed.RECORD_MODEL))
    return render(request, "register/models.html", page)


@router.get("/{key}")
def model(
    request: Request, person: Member, tx: Reading, now: Now, key: str, copy: str = ""
) -> Response:
    """`copy=policy`: filled in with what is signed of it."""
    check_may(person, Deed.SEE_FLEET)
    known = _known(tx, person, key, now)
    copied = copy == "policy" and known.signed is not None
    facts = _facts(known, copied=copied)
    return render(request, "register/model.html", _page(tx, person, known, facts, copied=copied))


def _known(tx: Transaction, person: Person, key: str, now: datetime) -> KnownModel:
    """One that nobody knows yet can be recorded; nobody else finds it."""
    found = known_model(tx, agency_id=person.agency_id, key=key, now=now)
    if found is None and not may(person, Deed.RECORD_MODEL):
        raise NotFound(f"There is no device model {key}.")
    return found or KnownModel(key, None, None, 0)


def _facts(known: KnownModel, *, copied: bool) -> ModelFacts:
    held = ModelFacts() if known.record is None else known.record.facts
    if not copied or known.signed is None:
        return held
    signed = known.signed
    return ModelFacts(
        label=held.label or known.key,
        presets=tuple(preset.key for preset in signed.presets),
        grid=signed.grid,
        etco2_unit=signed.etco2_unit,
        retention_min=held.retention_min,
        reverts=held.reverts,
        software=held.software,
        tested_on=held.tested_on,
        tested_by=held.tested_by,
        audible=held.audible,
        note=held.note,
    )


def _page(
    tx: Transaction, person: Person, known: KnownModel, facts: ModelFacts, **more: Any
) -> ModelPage:
    shown = DeviceModel(known.key, (), facts.grid, facts.etco2_unit)
    wanted: dict[str, Any] = {
        "entry": FactsEntry.of(facts),
        "outcomes": {one: facts.outcome(one) for one in Happening},
        "grid": grid_rows(shown),
        "earlier": earlier_records(tx, agency_id=person.agency_id, key=known.key),
        "may_record": may(person, Deed.RECORD_MODEL),
    }
    return ModelPage(known, **(wanted | more))


@router.post("/{key}")
def record(
    request: Request, person: Member, now: Now, key: str, entry: Annotated[FactsEntry, Form()]
) -> Response:
    check_may(person, Deed.RECORD_MODEL)
    typed, database = dict(typed_in(request)), request.app.state.database
    try:
        with database.writing() as tx:
            record_model(tx, key=key, facts=entry.facts(typed), by=person, now=now)
    except Refused as refused:
        with database.reading() as tx:
            page = _typed_page(tx, person, key, now, entry, typed, refused.faults)
        return render(request, "register/model.html", page, status=422)
    return done(f"/{person.agency}/models/{key}", f"Recorded of {key}. Older records are kept.")


def _typed_page(
    tx: Transaction,
    person: Person,
    key: str,
    now: datetime,
    entry: FactsEntry,
    typed: dict[str, str],
    faults: tuple[Fault, ...],
) -> ModelPage:
    unit = entry.etco2_unit if entry.etco2_unit in dict(UNITS) else "mm[Hg]"
    return _page(
        tx,
        person,
        _known(tx, person, key, now),
        ModelFacts(),
        entry=entry,
        outcomes={one: _outcome(typed.get(one.value, "")) for one in Happening},
        grid=grid_rows(DeviceModel(key, (), {}, unit), typed),
        faults=faults,
    )
