from fractions import Fraction
from typing import Any

import pytest
from sqlmodel import Session

from app.actions.draws import draw_devices
from app.domain.draws import StoredDraw, Strata
from app.domain.errors import NotAllowed, Refused
from app.domain.people import Role
from app.lookups.draws import all_draws
from app.storage.database import Database
from tests.builders import NOW, a_device, a_person
from tests.storage.ledgers import bodies


def a_draw(tx: Session, *, role: Role = Role.FLEET_MANAGER, **instead: Any) -> StoredDraw:
    wanted: dict[str, Any] = {
        "purpose": "monthly check",
        "strata": Strata.NONE,
        "tolerate": Fraction(1, 20),
        "confidence": Fraction(19, 20),
        "seed": "a seed",
    }
    return draw_devices(tx, **(wanted | instead), by=a_person(tx, role), now=NOW)


def a_fleet(tx: Session, count: int) -> None:
    for number in range(count):
        a_device(tx, f"d-{number:03}")


def test_a_small_fleet_is_read_as_a_whole(database: Database) -> None:
    with database.writing() as tx:
        a_fleet(tx, 3)
        drawn = a_draw(tx)

        assert drawn.draw.chosen == ("d-000", "d-001", "d-002")
        assert all_draws(tx, agency_id=a_person(tx).agency_id) == [drawn]


def test_of_forty_as_many_are_drawn_as_bear_the_statement(database: Database) -> None:
    with database.writing() as tx:
        a_fleet(tx, 40)

        assert len(a_draw(tx).draw.chosen) == 31


def test_the_ledger_keeps_what_it_takes_to_draw_again(database: Database) -> None:
    with database.writing() as tx:
        a_fleet(tx, 2)
        drawn = a_draw(tx)
        about = bodies(tx)[-1]["about"]

    assert (about["seed"], about["list"]) == ("a seed", drawn.draw.fingerprint)
    assert about["chosen"] == list(drawn.draw.chosen)


@pytest.mark.parametrize(
    ("field", "value", "column"),
    [
        ("purpose", "  ", "purpose"),
        ("tolerate", Fraction(0), "tolerate"),
        ("tolerate", Fraction(51, 100), "tolerate"),
        ("confidence", Fraction(49, 100), "confidence"),
        ("confidence", Fraction(1), "confidence"),
    ],
)
def test_what_is_no_plan_is_refused(
    database: Database, field: str, value: Any, column: str
) -> None:
    with database.writing() as tx:
        a_fleet(tx, 2)
        with pytest.raises(Refused) as refused:
            a_draw(tx, **{field: value})

    assert [fault.column for fault in refused.value.faults] == [column]


def test_there_must_be_a_device(database: Database) -> None:
    with database.writing() as tx, pytest.raises(Refused, match="no device"):
        a_draw(tx)


def test_a_technician_does_not_choose_what_is_checked(database: Database) -> None:
    with database.writing() as tx:
        a_fleet(tx, 2)
        with pytest.raises(NotAllowed):
            a_draw(tx, role=Role.TECHNICIAN)
