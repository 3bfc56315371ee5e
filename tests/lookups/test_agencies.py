import pytest

from app.domain.errors import NotFound
from app.domain.people import Role
from app.lookups.agencies import agency, needs_setup
from app.storage.database import Database
from tests.builders import a_person, an_agency


def test_an_agency_is_found_by_its_key(database: Database) -> None:
    with database.writing() as tx:
        made = an_agency(tx)

        assert agency(tx, key="skerry") == made
        assert (made.time_zone, made.choices.check_interval_days) == ("Europe/London", 90)
        with pytest.raises(NotFound):
            agency(tx, key="nowhere")


def test_setup_is_needed_until_there_is_an_administrator(database: Database) -> None:
    with database.writing() as tx:
        a_person(tx, Role.MEDICAL_DIRECTOR)
        assert needs_setup(tx)
        a_person(tx, Role.ADMINISTRATOR)
        assert not needs_setup(tx)
