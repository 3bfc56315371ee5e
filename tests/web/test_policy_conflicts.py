"""Two people edit one draft through the categories page, the second on what is no longer there."""

import re
from pathlib import Path

import pytest
from fastapi import Request
from httpx2 import Response
from starlette.testclient import TestClient

from app.domain.errors import Conflict
from app.domain.people import Role
from app.storage.database import Database
from app.web.policy_conflicts import both_versions
from tests.builders import a_document, a_draft
from tests.web.policies import CATEGORIES, CELL, HTMX, ON, setting, stored
from tests.web.test_limits import words
from tests.web.visits import Visits

INFANT = f"{CATEGORIES}/infant"
LABEL = {"label": "Baby", "start": "28 d", "end": "1 y", "edit_version": "1"}


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path) -> Visits:
    visits = Visits(sqlite_database, tmp_path)
    visits.seed(a_draft)
    return visits


def second_edit(visits: Visits) -> Response:
    visits.of(Role.MEDICAL_DIRECTOR).post(CELL, data=ON)
    return visits.of(Role.AUTHOR).post(INFANT, data=LABEL)


def test_the_second_is_told_with_both_versions_and_nothing_is_overwritten(visits: Visits) -> None:
    page = second_edit(visits)

    assert page.status_code == 409
    assert "was changed while you were editing it" in page.text
    assert "categories / infant / label Infant Baby" in words(page.text)
    assert "Save mine on top" in page.text
    saved = setting(visits)
    assert saved is not None
    assert saved["limit"] == 175


def test_saving_again_puts_theirs_and_yours_together(visits: Visits) -> None:
    page = second_edit(visits)
    action = re.search(r'<form method="post" action="([^"]+/categories/infant)"', page.text)
    assert action is not None
    fields = dict(re.findall(r'<input type="hidden" name="(\w+)" value="([^"]*)">', page.text))

    answer = visits.of(Role.AUTHOR).post(action[1], data=fields)

    assert answer.status_code == 303
    document = stored(visits)
    assert [one["label"] for one in document["categories"] if one["key"] == "infant"] == ["Baby"]
    assert document["settings"]["preschool"]["heart-rate-high"]["limit"] == 175


def both(visits: Visits, *, yours: dict[str, object], htmx: bool = False) -> Response:
    ours = {**a_document(), "agency": "Skerry Ambulance"}

    def route(request: Request) -> object:
        conflict = Conflict("Changed meanwhile.", theirs=ours, yours=yours, version=7)
        return both_versions(request, conflict, what="The map", leave="/left")

    visits.app.add_api_route("/tried", route, methods=["POST"], response_model=None)
    sent = {"serves": ["infant", "preschool"], "edit_version": "3"}
    return TestClient(visits.app).post("/tried", data=sent, headers=HTMX if htmx else {})


def test_what_a_change_would_mean_is_told_before_the_parts(visits: Visits) -> None:
    page = both(visits, yours=a_document({"heart-rate-high": 175}))

    told = words(page.text)
    assert told.index("can rise from 170 to 175 /min unannounced") < told.index("170 175")


def test_what_was_chosen_more_than_once_is_sent_again_as_often(visits: Visits) -> None:
    page = both(visits, yours=a_document({"heart-rate-high": 175}))

    sent = re.findall(r'type="hidden" name="(\w+)" value="(\w*)"', page.text)
    assert sent == [("serves", "infant"), ("serves", "preschool"), ("edit_version", "7")]


def test_what_is_no_policy_is_still_shown_part_by_part(visits: Visits) -> None:
    page = both(visits, yours=a_document() | {"motto": "mind the gap"})

    assert page.status_code == 409
    assert "motto nothing mind the gap" in words(page.text)


def test_two_equal_versions_leave_nothing_to_save(visits: Visits) -> None:
    page = both(visits, yours=a_document())

    assert "Both versions say the same" in page.text
    assert "Save mine on top" not in page.text


def test_in_a_page_it_is_told_where_notices_are_and_the_form_stays(visits: Visits) -> None:
    page = both(visits, yours=a_document({"heart-rate-high": 175}), htmx=True)

    assert page.headers["hx-retarget"] == "#told"
    assert "<html" not in page.text
