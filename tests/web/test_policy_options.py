import re
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from app.domain.options import OPTIONS
from app.domain.people import Role
from app.storage.database import Database
from tests.builders import a_document, a_draft
from tests.web.policies import CELL, DRAFT, ON, stored
from tests.web.visits import Visits

HERE = f"{DRAFT}/options"


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path) -> Visits:
    return Visits(sqlite_database, tmp_path)


@pytest.fixture
def anna(visits: Visits) -> TestClient:
    visits.seed(a_draft)
    return visits.of(Role.AUTHOR)


def test_every_option_has_its_form_and_nothing_is_filled_in(anna: TestClient) -> None:
    page = anna.get(HERE).text

    for key in OPTIONS:
        assert f'action="{HERE}/{key}"' in page
    assert page.count("checked") == page.count('value="unset" checked') == len(OPTIONS)
    assert re.findall(r'type="text"[^>]*value="([^"]+)"', page) == []


@pytest.mark.parametrize(
    ("key", "typed", "kept"),
    [
        ("all-alarms-on-at-start", {"choice": "yes"}, True),
        ("all-alarms-on-at-start", {"choice": "no"}, False),
        ("start-up-category", {"choice": "infant"}, "infant"),
        ("longest-pause-s", {"choice": "typed", "value": " 120 "}, 120),
        ("longest-pause-s", {"choice": "permanent"}, "permanent"),
        ("audio-volume", {"choice": "off", "value": "80"}, "off"),
        ("spo2-averaging-s", {"choice": "typed", "value": "7.5"}, 7.5),
        ("etco2-unit", {"choice": "kPa"}, "kPa"),
        ("default-lead", {"choice": "typed", "value": "II"}, "II"),
    ],
)
def test_an_option_is_kept_as_chosen_with_reason_and_source(
    anna: TestClient, visits: Visits, key: str, typed: dict[str, str], kept: Any
) -> None:
    said = {"reason": "agreed", "source": "common practice"}

    answer = anna.post(f"{HERE}/{key}", data={**typed, **said, "edit_version": "1"})

    assert (answer.status_code, answer.headers["location"]) == (303, f"{HERE}#{key}")
    assert stored(visits)["options"] == {key: {"value": kept, **said}}
    page = anna.get(HERE).text
    form = page[page.index(f'action="{HERE}/{key}"') :]
    assert 'value="agreed"' in form[: form.index("</form>")]
    assert f'value="{typed["choice"]}" checked' in form[: form.index("</form>")]


def test_an_option_is_taken_back(anna: TestClient, visits: Visits) -> None:
    anna.post(f"{HERE}/audio-volume", data={"choice": "off", "edit_version": "1"})

    anna.post(f"{HERE}/audio-volume", data={"choice": "unset", "edit_version": "2"})

    assert "options" not in stored(visits)


@pytest.mark.parametrize(
    ("key", "typed", "field", "reason"),
    [
        ("audio-volume", {}, "choice", "choose one"),
        ("audio-volume", {"choice": "loud"}, "choice", "choose one"),
        ("all-alarms-on-at-start", {"choice": "typed", "value": "1"}, "choice", "choose one"),
        ("start-up-category", {"choice": "giant"}, "choice", "choose one"),
        ("audio-volume", {"choice": "typed", "value": "101"}, "value", "at most 100 %"),
        ("audio-volume", {"choice": "typed", "value": ""}, "value", "write a number"),
        ("longest-pause-s", {"choice": "typed", "value": "-1"}, "value", "write a number"),
        ("default-lead", {"choice": "typed", "value": " "}, "value", "write it"),
    ],
)
def test_what_is_no_value_is_told_at_its_field_and_stays_typed(
    anna: TestClient, visits: Visits, key: str, typed: dict[str, str], field: str, reason: str
) -> None:
    data = {**typed, "reason": "agreed by us", "edit_version": "1"}

    page = anna.post(f"{HERE}/{key}", data=data)

    assert page.status_code == 422
    told = re.search(rf'id="{key}-{field}-wrong">([^<]*)<', page.text)
    assert told is not None
    assert reason in told[1]
    assert 'value="agreed by us"' in page.text
    assert "options" not in stored(visits)


@pytest.mark.parametrize(
    ("key", "typed", "told"),
    [
        ("longest-pause-s", {"choice": "permanent"}, "A pause may last for ever"),
        ("audio-volume", {"choice": "typed", "value": "0"}, "The audio is off"),
        ("all-alarms-on-at-start", {"choice": "no"}, "All alarms can be off at start"),
        ("nibp-interval-min", {"choice": "manual"}, "can be dangerous unannounced until"),
    ],
)
def test_a_breach_is_shown_at_once_beside_its_option(
    anna: TestClient, key: str, typed: dict[str, str], told: str
) -> None:
    anna.post(f"{HERE}/{key}", data={**typed, "edit_version": "1"})

    page = anna.get(HERE).text

    section = page[page.index(f'id="{key}"') :]
    assert told in section[: section.index("</section>")]


def test_a_start_up_category_that_is_gone_is_told(visits: Visits) -> None:
    document = a_document()
    document["options"] = {"start-up-category": {"value": "giant"}}
    visits.seed(lambda tx: a_draft(tx, document=document))

    page = visits.of(Role.AUTHOR).get(HERE).text

    assert "The value “giant” is none that this policy knows." in page


def test_an_option_never_overwrites_somebody_elses_change(anna: TestClient, visits: Visits) -> None:
    anna.post(CELL, data=ON)

    page = anna.post(f"{HERE}/audio-volume", data={"choice": "off", "edit_version": "1"})

    assert page.status_code == 409
    assert "options" not in stored(visits)
    fields = dict(re.findall(r'type="hidden" name="([^"]+)" value="([^"]*)"', page.text))
    assert anna.post(f"{HERE}/audio-volume", data=fields).status_code == 303


@pytest.mark.parametrize("role", [Role.REVIEWER, Role.CREW])
def test_whoever_may_not_edit_reads_the_options(visits: Visits, role: Role) -> None:
    document = a_document()
    document["options"] = {"longest-pause-s": {"value": 120, "reason": "long enough"}}
    visits.seed(lambda tx: a_draft(tx, document=document))
    ravi = visits.of(role)

    page = ravi.get(HERE)

    assert "<strong>120 s</strong> · long enough" in page.text
    assert f'action="{HERE}' not in page.text
    refused = ravi.post(f"{HERE}/longest-pause-s", data={"choice": "unset", "edit_version": "1"})
    assert refused.status_code == 403


def test_an_option_that_nobody_knows_is_not_found(anna: TestClient) -> None:
    assert anna.post(f"{HERE}/colour", data={"choice": "unset"}).status_code == 404


def test_a_waiver_shows_where_the_option_shows(visits: Visits) -> None:
    document = a_document()
    document["options"] = {"longest-pause-s": {"value": "permanent"}}
    visits.seed(lambda tx: a_draft(tx, document=document))
    dana = visits.of(Role.MEDICAL_DIRECTOR)
    key = re.search(r'name="finding" value="([^"]+)"', dana.get(HERE).text)
    assert key is not None

    waived = {"finding": key[1], "reason": "as the devices came", "until": "2026-06-01"}
    dana.post(f"{DRAFT}/waivers", data=waived)

    assert "Waived by Dana until 1 Jun 2026: as the devices came" in dana.get(HERE).text
