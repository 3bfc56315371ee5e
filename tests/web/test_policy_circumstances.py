import re
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from app.domain.people import Role
from app.storage.database import Database
from tests.builders import a_document, a_draft, a_revision_in_review
from tests.web.policies import CELL, DRAFT, ON, stored
from tests.web.visits import Visits

HERE = f"{DRAFT}/circumstances"
RISK = f"{HERE}/hypercapnia-risk"
SPO2 = f"{RISK}/spo2-low"
SETTING = {**ON, "limit": "86", "reason": "target 88 to 92", "edit_version": "1"}


def a_policy(limit: float = 86) -> dict[str, Any]:
    document = a_document()
    setting = {**document["settings"]["adult"]["spo2-low"], "limit": limit}
    document["circumstances"] = [
        {
            "key": "hypercapnia-risk",
            "label": "Hypercapnia risk",
            "applies_to": ["adult"],
            "settings": {"spo2-low": setting},
        }
    ]
    return document


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path) -> Visits:
    return Visits(sqlite_database, tmp_path)


@pytest.fixture
def anna(visits: Visits) -> TestClient:
    visits.seed(lambda tx: a_draft(tx, document=a_policy()))
    return visits.of(Role.AUTHOR)


def held(visits: Visits) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = stored(visits).get("circumstances", [])
    return found


def told_at(page: str, field: str) -> str:
    found = re.search(rf'id="{field}-wrong">([^<]*)<', page)
    assert found is not None
    return found[1]


def test_the_ordinary_setting_stands_beside_the_overlay_with_its_consequence(
    anna: TestClient,
) -> None:
    page = anna.get(HERE).text

    assert "SpO₂ can fall from 90 to 86 % unannounced" in page
    assert "below 86 %" in page
    assert 'class="direction looser"' in page


@pytest.mark.parametrize(
    ("typed", "key", "label"),
    [
        ({"known": "brain-injury"}, "brain-injury", "Brain injury"),
        ({"known": "brain-injury", "label": "Head"}, "brain-injury", "Head"),
        ({"key": "on-the-boat", "label": "On the boat"}, "on-the-boat", "On the boat"),
    ],
)
def test_a_circumstance_is_added_and_changes_nothing_yet(
    anna: TestClient, visits: Visits, typed: dict[str, str], key: str, label: str
) -> None:
    data = {**typed, "applies_to": ["adult", "school"], "edit_version": "1"}

    answer = anna.post(HERE, data=data)

    assert (answer.status_code, answer.headers["location"]) == (303, f"{HERE}/{key}")
    assert held(visits)[1] == {
        "key": key, "label": label, "applies_to": ["adult", "school"], "settings": {},
    }  # fmt: skip
    assert "It changes no alarm yet" in anna.get(f"{HERE}/{key}").text


@pytest.mark.parametrize(
    ("typed", "field", "reason"),
    [
        ({}, "known", "choose a known one or write a key"),
        ({"known": "paced", "key": "own"}, "key", "not both"),
        ({"key": "On The Boat"}, "key", "small letters and digits"),
        ({"known": "hypercapnia-risk"}, "known", "stands already"),
        ({"key": "own", "applies_to": []}, "new-applies", "at least one category"),
    ],
)
def test_what_is_no_circumstance_is_told_at_its_field_and_stays_typed(
    anna: TestClient, visits: Visits, typed: dict[str, Any], field: str, reason: str
) -> None:
    before = held(visits)

    page = anna.post(
        HERE, data={"applies_to": ["adult"], "label": "Ours", "edit_version": "1", **typed}
    )

    assert page.status_code == 422
    assert reason in told_at(page.text, field)
    assert 'value="Ours"' in page.text
    assert held(visits) == before


def test_label_and_categories_change(anna: TestClient, visits: Visits) -> None:
    data = {"label": "Retainer", "applies_to": ["school", "adult"], "edit_version": "1"}

    answer = anna.post(RISK, data=data)

    assert answer.status_code == 303
    assert (held(visits)[0]["label"], held(visits)[0]["applies_to"]) == (
        "Retainer",
        ["school", "adult"],
    )
    assert held(visits)[0]["settings"]["spo2-low"]["limit"] == 86


def test_it_must_be_for_somebody(anna: TestClient) -> None:
    page = anna.post(RISK, data={"label": "Retainer", "edit_version": "1"})

    assert page.status_code == 422
    assert "at least one category" in told_at(page.text, "reach-applies")
    assert 'value="Retainer"' in page.text


def test_it_is_removed_with_what_it_changed(anna: TestClient, visits: Visits) -> None:
    answer = anna.post(f"{RISK}/remove", data={"edit_version": "1"})

    assert (answer.status_code, answer.headers["location"]) == (303, HERE)
    assert "circumstances" not in stored(visits)


# One alarm under it


def test_an_alarm_opens_with_its_setting_and_the_ordinary_one_beside_it(anna: TestClient) -> None:
    page = anna.get(SPO2).text

    assert (
        'name="limit" type="text" inputmode="decimal" autocomplete="off" size="8" value="86"'
        in (page)
    )
    assert "Adult, ordinary:" in page
    assert "can fall from 90 to 86 %" in page
    assert "/comments/" not in page


def test_an_alarm_that_it_leaves_alone_opens_with_nothing_filled_in(anna: TestClient) -> None:
    page = anna.get(f"{RISK}/heart-rate-low").text

    assert "checked" not in page
    assert re.findall(r'type="text"[^>]*value="([^"]+)"', page) == []


def test_an_alarm_is_overlaid_and_what_it_opens_is_found_at_once(
    anna: TestClient, visits: Visits
) -> None:
    answer = anna.post(SPO2, data={**SETTING, "limit": "80"})

    assert (answer.status_code, answer.headers["location"]) == (303, RISK)
    assert held(visits)[0]["settings"]["spo2-low"]["limit"] == 80
    page = anna.get(RISK).text
    assert '<li class="unsafe" data-rule="silent-gap">' in page


def test_an_alarm_goes_back_to_the_ordinary_setting(anna: TestClient, visits: Visits) -> None:
    anna.post(SPO2, data={"state": "blank", "edit_version": "1"})

    assert held(visits)[0]["settings"] == {}


@pytest.mark.parametrize(
    ("typed", "field", "reason"),
    [
        ({"state": ""}, "state", "choose one"),
        ({"limit": "low"}, "limit", "write a number such as 90"),
        ({"delay_s": "601"}, "delay_s", "less than or equal to 600"),
    ],
)
def test_what_cannot_be_kept_is_told_at_its_field(
    anna: TestClient, visits: Visits, typed: dict[str, str], field: str, reason: str
) -> None:
    before = held(visits)

    page = anna.post(SPO2, data={**SETTING, **typed})

    assert page.status_code == 422
    assert reason in told_at(page.text, field)
    assert 'value="target 88 to 92"' in page.text
    assert held(visits) == before


# Two people, roles, and what is not there


@pytest.mark.parametrize(
    ("address", "data", "kept"),
    [
        (HERE, {"key": "own", "applies_to": ["adult", "school"]}, "adult,school"),
        (RISK, {"label": "Retainer", "applies_to": ["adult", "school"]}, "adult,school"),
        (f"{RISK}/remove", {}, "2"),
        (SPO2, {**SETTING, "limit": "85"}, "85"),
    ],
)
def test_a_change_never_overwrites_another_and_can_be_saved_on_top(
    anna: TestClient, address: str, data: dict[str, Any], kept: str
) -> None:
    anna.post(CELL, data=ON)

    page = anna.post(address, data={**data, "edit_version": "1"})

    assert page.status_code == 409
    fields = dict(re.findall(r'type="hidden" name="([^"]+)" value="([^"]*)"', page.text))
    assert kept in fields.values()
    assert fields["edit_version"] == "2"
    assert anna.post(address, data=fields).status_code == 303


def test_saved_on_top_it_reaches_every_category_that_was_chosen(
    anna: TestClient, visits: Visits
) -> None:
    data = {"label": "Retainer", "applies_to": "adult,school", "edit_version": "1"}

    anna.post(RISK, data=data)

    assert held(visits)[0]["applies_to"] == ["adult", "school"]


@pytest.mark.parametrize("role", [Role.REVIEWER, Role.CREW])
def test_whoever_may_not_edit_sees_it_all_and_changes_nothing(visits: Visits, role: Role) -> None:
    visits.seed(lambda tx: a_draft(tx, document=a_policy()))
    ravi = visits.of(role)

    for address in (HERE, RISK):
        page = ravi.get(address)
        assert page.status_code == 200
        assert f'action="{HERE}' not in page.text
    assert ravi.get(SPO2).status_code == 403
    for address in (HERE, RISK, f"{RISK}/remove", SPO2):
        assert ravi.post(address, data={"edit_version": "1"}).status_code == 403


def test_nothing_is_edited_once_it_is_in_review(visits: Visits) -> None:
    visits.seed(lambda tx: a_revision_in_review(tx, document=a_policy()))
    anna = visits.of(Role.AUTHOR)

    assert f'action="{HERE}' not in anna.get(RISK).text
    assert anna.get(SPO2).status_code == 404
    assert anna.post(SPO2, data=SETTING).status_code == 409


@pytest.mark.parametrize("path", ["paced", "paced/spo2-low", "hypercapnia-risk/spo2"])
def test_what_is_not_there_is_not_found(anna: TestClient, path: str) -> None:
    assert anna.get(f"{HERE}/{path}").status_code == 404
    assert anna.post(f"{HERE}/{path}", data=SETTING).status_code == 404
    assert anna.post(f"{HERE}/paced/remove", data={"edit_version": "1"}).status_code == 404
