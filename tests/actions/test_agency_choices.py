import pytest

from app.actions.agency_choices import choose
from app.domain.agency_choices import AgencyChoices
from app.domain.errors import NotAllowed
from app.domain.people import Role
from app.lookups.agencies import agency
from app.storage.database import Database
from tests.builders import NOW, a_person
from tests.storage.ledgers import bodies, deeds

CHOSEN = AgencyChoices(check_interval_days=30, critical_alarms=("spo2-low", "apnoea"))


def test_the_choice_holds_and_the_ledger_tells_it(database: Database) -> None:
    with database.writing() as tx:
        dana = a_person(tx, Role.MEDICAL_DIRECTOR)
        choose(tx, choices=CHOSEN, by=dana, now=NOW)

        assert agency(tx, key=dana.agency).choices == CHOSEN
        assert bodies(tx)[-1]["about"]["check_interval_days"] == [90, 30]


def test_the_same_choice_again_is_no_change(database: Database) -> None:
    with database.writing() as tx:
        dana = a_person(tx, Role.MEDICAL_DIRECTOR)
        choose(tx, choices=CHOSEN, by=dana, now=NOW)
        before = len(deeds(tx))
        choose(tx, choices=CHOSEN, by=dana, now=NOW)

        assert len(deeds(tx)) == before


def test_crew_cannot_choose(database: Database) -> None:
    with database.writing() as tx, pytest.raises(NotAllowed):
        choose(tx, choices=CHOSEN, by=a_person(tx, Role.CREW), now=NOW)
