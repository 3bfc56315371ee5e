from pathlib import Path

import pytest

from app.domain.agency_choices import AgencyChoices
from app.domain.people import Role
from app.lookups.agencies import agency
from app.storage.database import Database
from app.web.agency_choices import FIELDS, ChoicesEntry
from tests.web.visits import Visits


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path) -> Visits:
    return Visits(sqlite_database, tmp_path)


def typed(**instead: object) -> dict[str, object]:
    return ChoicesEntry.of(AgencyChoices()).model_dump() | instead


def chosen(visits: Visits) -> AgencyChoices:
    return visits.seed(lambda tx: agency(tx, key="skerry")).choices


def test_every_choice_is_on_the_page() -> None:
    shown = {one.name for fields in FIELDS.values() for one in fields}

    assert shown | {"critical"} == set(ChoicesEntry.model_fields)


@pytest.mark.parametrize("role", [Role.ADMINISTRATOR, Role.MEDICAL_DIRECTOR])
def test_those_who_may_choose(visits: Visits, role: Role) -> None:
    person = visits.of(role)
    wanted = ["spo2-low", "heart-rate-low"]
    answer = person.post("/skerry/choices", data=typed(check_interval_days="60", critical=wanted))

    assert answer.headers["location"] == "/skerry/choices"
    assert chosen(visits).check_interval_days == 60
    assert chosen(visits).critical_alarms == ("heart-rate-low", "spo2-low")
    page = person.get("/skerry/choices").text
    assert 'value="60"' in page
    assert "Chosen: 2." in page


@pytest.mark.parametrize("role", sorted(set(Role) - {Role.ADMINISTRATOR, Role.MEDICAL_DIRECTOR}))
def test_all_others_read_them(visits: Visits, role: Role) -> None:
    person = visits.of(role)
    page = person.get("/skerry/choices").text

    assert "90 days" in page
    assert 'action="/skerry/choices"' not in page
    assert person.post("/skerry/choices", data=typed()).status_code == 403


@pytest.mark.parametrize(
    ("instead", "told"),
    [
        ({"check_interval_days": "often"}, "write a whole number"),
        ({"check_interval_days": "0"}, "choose 1 to 366"),
        ({"most_changed_days": "31"}, "most cannot be later than all"),
        ({"unsafe_contain_hours": "25"}, "containing comes before verifying"),
        ({"critical": ["heart-rate-lowest"]}, "there is no such alarm condition"),
    ],
)
def test_what_cannot_be_chosen_is_shown_again_as_it_was_typed(
    visits: Visits, instead: dict[str, object], told: str
) -> None:
    dana = visits.of(Role.MEDICAL_DIRECTOR)
    answer = dana.post("/skerry/choices", data=typed(copy_hours="13") | instead)

    assert answer.status_code == 422
    assert told in answer.text
    assert 'value="13"' in answer.text
    assert chosen(visits) == AgencyChoices()
