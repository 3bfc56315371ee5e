from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from sqlmodel import Session

from app.actions.model_records import record_model
from app.domain.device_models import Grid
from app.domain.errors import NotAllowed, Refused
from app.domain.model_records import Happening, ModelFacts, Outcome
from app.domain.people import Role
from app.lookups.model_records import earlier_records, known_models
from app.storage.database import Database
from tests.builders import DAY, NOW, a_device, a_person, olu
from tests.storage.ledgers import bodies

FACTS = ModelFacts(
    label="Dunlin",
    presets=("ADULT", "CHILD"),
    grid={"heart-rate-low": Grid(Decimal(20), Decimal(250), Decimal(5), can_be_off=False)},
    etco2_unit="kPa",
    retention_min=Decimal("2.5"),
    reverts={Happening.STANDBY: Outcome.KEEPS, Happening.POWER_OFF: Outcome.REVERTS},
    software="3.1",
    tested_on=date(2026, 3, 2),
    tested_by="Tess Loft",
    audible="At the seat, engine running: heard",
    note="The beta unit",
)


def record(tx: Session, facts: ModelFacts = FACTS, **instead: Any) -> None:
    wanted: dict[str, Any] = {"key": "dunlin", "by": a_person(tx, Role.TECHNICIAN), "now": NOW}
    record_model(tx, facts=facts, **(wanted | instead))


def test_what_was_tested_is_kept_as_it_was_told(database: Database) -> None:
    with database.writing() as tx:
        record(tx)
        agency = a_person(tx).agency_id
        (known,) = known_models(tx, agency_id=agency, now=NOW)

        assert known.record is not None
        assert known.record.facts == FACTS
        assert (known.record.recorded_by, known.record.recorded_at) == ("Tess", NOW)
        told = bodies(tx)[-1]["about"]
        assert (told["model"], told["tested_on"], told["retention_min"]) == (
            "dunlin",
            "2026-03-02",
            "2.5",
        )


def test_a_newer_record_stands_before_the_older_one(database: Database) -> None:
    newer = replace(FACTS, retention_min=None)
    with database.writing() as tx:
        record(tx)
        record(tx, newer, now=NOW + DAY)
        agency = a_person(tx).agency_id
        (known,) = known_models(tx, agency_id=agency, now=NOW)
        before = earlier_records(tx, agency_id=agency, key="dunlin")

    assert known.record is not None
    assert known.record.facts == newer
    assert [one.facts for one in before] == [FACTS]


def test_the_same_facts_again_leave_no_trace(database: Database) -> None:
    with database.writing() as tx:
        record(tx)
        record(tx, now=NOW + DAY)

        assert earlier_records(tx, agency_id=a_person(tx).agency_id, key="dunlin") == []


@pytest.mark.parametrize(
    ("column", "instead", "key"),
    [
        ("key", {}, "Dunlin"),
        ("key", {}, ""),
        ("label", {"label": " "}, "dunlin"),
        ("tested_on", {"tested_on": date(2026, 3, 3)}, "dunlin"),
        ("presets", {"presets": ("a\x00b",)}, "dunlin"),
    ],
)
def test_what_cannot_be_is_refused(
    database: Database, column: str, instead: dict[str, Any], key: str
) -> None:
    with database.writing() as tx, pytest.raises(Refused) as refused:
        record(tx, replace(FACTS, **instead), key=key)

    assert refused.value.faults[0].column == column


def test_models_on_the_register_are_known_without_a_record(database: Database) -> None:
    with database.writing() as tx:
        a_device(tx)
        a_device(tx, "boat-4")
        record(tx, by=olu(tx))
        (known,) = known_models(tx, agency_id=a_person(tx).agency_id, now=NOW)

    assert (known.key, known.record, known.devices) == ("dunlin", None, 2)


@pytest.mark.parametrize("role", sorted(set(Role) - {Role.FLEET_MANAGER, Role.TECHNICIAN}))
def test_only_those_who_keep_the_fleet_record(sqlite_database: Database, role: Role) -> None:
    with sqlite_database.writing() as tx, pytest.raises(NotAllowed):
        record(tx, by=a_person(tx, role))
