from pathlib import Path

import pytest

from app.domain.agency_choices import AgencyChoices
from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.domain.people import Role
from app.lookups.agencies import agency
from app.storage.database import Database
from app.web.agency_choices import FIELDS, LISTS, ChoicesEntry
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

    assert shown | {*LISTS, "shift_tell"} == set(ChoicesEntry.model_fields)


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
        ({"shift_hours": "3"}, "choose 4 to 168"),
        ({"shift": []}, "choose one at least"),
        ({"shift": list(ALARM_CONDITIONS)[:9]}, "choose at most 8"),
        ({"shift": ["heart-rate-lowest"]}, "there is no such alarm condition"),
        ({"questions": ["weather"]}, "there is no such question"),
        ({"shift_tell": "  "}, "write 1 to 60 letters"),
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


def test_the_shift_check_is_chosen(visits: Visits) -> None:
    dana = visits.of(Role.MEDICAL_DIRECTOR)
    wanted = {"shift": ["apnoea", "spo2-low"], "questions": ["clock"], "shift_tell": "Desk 7"}

    answer = dana.post("/skerry/choices", data=typed(shift_hours="12") | wanted)

    assert answer.status_code == 303
    found = chosen(visits)
    assert (found.shift_hours, found.shift_tell) == (12, "Desk 7")
    assert (found.shift_alarms, found.shift_questions) == (("spo2-low", "apnoea"), ("clock",))
    assert "a crew tells Desk 7." in visits.of(Role.CREW).get("/skerry/choices").text
