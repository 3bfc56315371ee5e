import re
from pathlib import Path
from typing import Any

import pytest
from httpx2 import Response
from starlette.testclient import TestClient

from app.domain.ages import AgeSpan, years
from app.domain.bounds_edits import mark_of, row_marked
from app.domain.default_bounds import DEFAULT_BOUNDS
from app.domain.people import Role
from app.exchange.stored_bounds import bounds_of
from app.storage.database import Database
from app.web.bounds_row_pages import typed_as
from tests.adopted_bounds import DEFAULT, STRICTER, adopted_bounds, drafted_bounds
from tests.builders import a_document, a_signed_revision
from tests.storage.ledgers import deeds
from tests.web.test_limits import words
from tests.web.visits import Visits

BOUNDS = "/skerry/bounds"
ROWS = f"{BOUNDS}/1/rows"
HIGH = {
    "vital_sign": "heart-rate",
    "age_from": "1 y",
    "age_to": "5 y",
    "when": "",
    "side": "high",
    "bound": "170",
    "grade": "danger",
    "source": "our board",
    "status": "agreed in March",
}
SILENT = "Heart rate can rise to 175 /min unannounced"


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path) -> Visits:
    return Visits(sqlite_database, tmp_path)


@pytest.fixture
def anna(visits: Visits) -> TestClient:
    """With a draft of the default that she started in the browser."""
    visits.seed(lambda tx: a_signed_revision(tx, document=a_document({"heart-rate-high": 175})))
    anna = visits.of(Role.AUTHOR)
    answer = anna.post(f"{BOUNDS}/start")
    assert answer.headers["location"] == ROWS
    return anna


def text_of(client: TestClient) -> str:
    return client.get(f"{BOUNDS}/1/bounds.csv").text


def mark(text: str, **wanted: Any) -> str:
    """Of the only row that says all of this."""
    rows = bounds_of(text, "draft").rows
    (found,) = (
        row for row in rows if all(getattr(row, name) == value for name, value in wanted.items())
    )
    return mark_of(found)


def high_mark(client: TestClient) -> str:
    """Heart rate, 1 to 5 years, above, danger: 180 by the default."""
    ages = next(row.span for row in bounds_of(DEFAULT, "x").rows if str(row.span) == "1 y to 5 y")
    wanted = {"quantity": "heart-rate", "side": "high", "grade": "danger", "span": ages}
    return mark(text_of(client), **wanted)


def save(client: TestClient, path: str, version: str = "1", **instead: str) -> Response:
    return client.post(ROWS + path, data={**HIGH, "edit_version": version, **instead})


def test_a_draft_starts_from_what_judges_now(anna: TestClient) -> None:
    assert text_of(anna) == DEFAULT
    assert "Every bound is the same." in anna.get(ROWS).text


@pytest.mark.parametrize(("of", "text"), [("in-force", STRICTER), ("default", DEFAULT)])
def test_a_draft_may_start_from_the_default_after_one_was_adopted(
    visits: Visits, of: str, text: str
) -> None:
    visits.seed(adopted_bounds)
    anna = visits.of(Role.AUTHOR)

    anna.post(f"{BOUNDS}/start", data={"of": of})

    assert anna.get(f"{BOUNDS}/2/bounds.csv").text == text


def test_a_draft_of_somebody_else_is_copied_and_not_edited(visits: Visits) -> None:
    visits.seed(drafted_bounds)
    dana = visits.of(Role.MEDICAL_DIRECTOR)

    refused = dana.get(ROWS)
    page = dana.get(f"{BOUNDS}/1").text
    copied = dana.post(f"{BOUNDS}/start", data={"of": "1"})

    assert refused.status_code == 403
    assert "Anna drafted version 1. Start a draft of your own." in refused.text
    assert "Start a draft of your own from it" in page
    assert copied.headers["location"] == f"{BOUNDS}/2/rows"
    assert dana.get(f"{BOUNDS}/2/bounds.csv").text == STRICTER


def test_what_a_change_would_do_is_shown_before_it_is_saved(anna: TestClient) -> None:
    page = save(anna, f"/{high_mark(anna)}", act="show")

    assert page.status_code == 200
    assert "Not saved yet." in page.text
    assert "above 170 /min is danger, and above 180 /min was danger before" in page.text
    assert SILENT in page.text
    assert "National PEWS 2023" in page.text
    assert text_of(anna) == DEFAULT


@pytest.mark.parametrize(
    ("instead", "told"),
    [
        ({}, False),
        ({"source": "AHA PALS (SVT likely in a child from 180)"}, True),
        ({"source": "AHA PALS (SVT likely in a child from 180)", "bound": "180"}, False),
    ],
)
def test_a_value_that_moved_and_kept_its_source_is_told(
    anna: TestClient, instead: dict[str, str], told: bool
) -> None:
    page = save(anna, f"/{high_mark(anna)}", act="show", **instead).text

    assert ("Its source is still that of the other value." in page) is told


def test_a_saved_change_is_told_beside_what_is_in_force(anna: TestClient, visits: Visits) -> None:
    answer = save(anna, f"/{high_mark(anna)}")

    assert answer.headers["location"] == f"{ROWS}#changes"
    page = anna.get(ROWS).text
    change = "above 170 /min is danger, and above 180 /min was danger before"
    assert page.index(SILENT) < page.index("1 tighter.") < page.index(change)
    assert "heart-rate,1 y,5 y,,high,170,danger,our board,agreed in March" in text_of(anna)
    with visits.database.reading() as tx:
        assert deeds(tx)[-1] == "edit outer bounds"


def test_a_bound_is_added_and_removed(anna: TestClient) -> None:
    added = save(anna, "", vital_sign="spo2", side="low", bound="80", age_to="", when="paced")
    assert added.status_code == 303
    assert "SpO₂ below 80 %" in anna.get(ROWS).text
    assert "spo2,1 y,,paced,low,80,danger,our board,agreed in March" in text_of(anna)

    row = mark(text_of(anna), quantity="spo2", when="paced")
    removed = anna.post(f"{ROWS}/{row}/remove", data={"edit_version": "2"})

    assert removed.status_code == 303
    assert text_of(anna) == DEFAULT


def test_a_removed_bound_is_still_told_as_gone(anna: TestClient) -> None:
    anna.post(f"{ROWS}/{high_mark(anna)}/remove", data={"edit_version": "1"})

    page = anna.get(ROWS).text

    assert "No longer there" in page
    assert "above 180 /min is no longer danger by a row of its own" in page


@pytest.mark.parametrize(
    ("instead", "name", "reason"),
    [
        ({"bound": "fast"}, "bound", "must be a number, or base + per-year * age_years"),
        ({"bound": "70 * age_years"}, "bound", "must be a number"),
        ({"age_from": "1"}, "age_from", "is no age"),
        ({"age_to": "1 y"}, "age_to", "must be older than age_from"),
        ({"grade": "red"}, "grade", "must be danger or caution"),
        ({"side": ""}, "side", "must be low or high"),
        ({"vital_sign": "pulse-rate"}, "vital_sign", "is judged by the bounds of heart-rate"),
        ({"source": " "}, "source", "every bound names its source"),
        ({"source": "a\x07b"}, "source", "remove the characters"),
    ],
)
@pytest.mark.parametrize("act", ["show", "save"])
def test_a_wrong_bound_is_told_beside_its_field_and_stays_typed(
    anna: TestClient, instead: dict[str, str], name: str, reason: str, act: str
) -> None:
    page = save(anna, "", act=act, **instead)

    assert page.status_code == 422
    assert reason in page.text
    assert f'aria-describedby="{name}-wrong"' in page.text
    assert 'value="agreed in March"' in page.text
    assert text_of(anna) == DEFAULT


def test_the_same_bound_is_not_added_twice(anna: TestClient) -> None:
    save(anna, "")

    page = save(anna, "", version="2")

    assert page.status_code == 422
    assert "this very bound stands already" in page.text


def test_a_form_opened_earlier_sees_both_versions_and_may_save_on_top(anna: TestClient) -> None:
    row = high_mark(anna)
    save(anna, "", vital_sign="spo2", side="low", bound="80")

    page = save(anna, f"/{row}")

    assert page.status_code == 409
    assert "above 170 /min is danger, and above 180 /min was danger before" in page.text
    assert f'<form method="post" action="{ROWS}/{row}">' in page.text
    fields = dict(re.findall(r'type="hidden" name="(\w+)" value="([^"]*)"', page.text))
    assert anna.post(f"{ROWS}/{row}", data=fields).status_code == 303
    assert ",high,170,danger,our board" in text_of(anna)
    assert ",low,80,danger,our board" in text_of(anna)


def test_a_bound_that_was_changed_meanwhile_is_offered_as_a_new_one(anna: TestClient) -> None:
    row = high_mark(anna)
    save(anna, f"/{row}", bound="175")

    page = save(anna, f"/{row}")

    assert page.status_code == 409
    assert "this bound is not there any more as you saw it" in page.text
    assert f'<form method="post" action="{ROWS}">' in page.text
    assert 'name="edit_version" value="2"' in page.text


def test_removing_what_is_gone_is_not_found(anna: TestClient) -> None:
    row = high_mark(anna)
    anna.post(f"{ROWS}/{row}/remove", data={"edit_version": "1"})

    answer = anna.post(f"{ROWS}/{row}/remove", data={"edit_version": "2"})

    assert answer.status_code == 404


def test_a_removal_on_an_older_version_is_refused(anna: TestClient) -> None:
    save(anna, "")

    answer = anna.post(f"{ROWS}/{high_mark_of_default()}/remove", data={"edit_version": "1"})

    assert answer.status_code == 409
    assert "no longer danger by a row of its own" in answer.text


def high_mark_of_default() -> str:
    rows = bounds_of(DEFAULT, "x").rows
    return next(
        mark_of(row)
        for row in rows
        if (row.quantity, row.side, row.grade, str(row.span))
        == ("heart-rate", "high", "danger", "1 y to 5 y")
    )


def test_a_signed_version_is_not_edited(visits: Visits) -> None:
    visits.seed(adopted_bounds)

    answer = visits.of(Role.AUTHOR).get(ROWS)

    assert answer.status_code == 409
    assert "Start a draft from it" in answer.text


@pytest.mark.parametrize("role", [Role.CREW, Role.REVIEWER, Role.FLEET_MANAGER])
def test_who_may_not_draft_is_told_so(visits: Visits, role: Role) -> None:
    visits.seed(drafted_bounds)
    somebody = visits.of(role)

    assert somebody.post(f"{BOUNDS}/start").status_code == 403
    assert somebody.get(ROWS).status_code == 403
    assert save(somebody, "").status_code == 403


def test_a_new_bound_begins_empty(anna: TestClient) -> None:
    page = anna.get(f"{ROWS}/new").text

    assert "A new outer bound" in page
    assert " selected" not in page


def test_a_bound_that_never_was_is_not_found(anna: TestClient) -> None:
    assert anna.get(f"{ROWS}/{'0' * 16}").status_code == 404


def test_the_page_of_a_row_tells_what_judges_now_and_what_sources_say(anna: TestClient) -> None:
    page = anna.get(f"{ROWS}/{high_mark(anna)}").text

    assert "The same as what judges now." in page
    assert "above 170 /min, 1 y to 5 y: caution" in page
    assert "they differ by up to" in page


def test_every_row_of_the_default_is_typed_as_it_was_read() -> None:
    for row in DEFAULT_BOUNDS.rows:
        assert typed_as(row).row() == row


def test_the_proof_stands_beside_the_rows_and_beside_what_is_typed(anna: TestClient) -> None:
    text = text_of(anna)
    of_school_age = mark(
        text, quantity="heart-rate", side="high", grade="danger", span=AgeSpan(years(5), years(13))
    )
    rows = words(anna.get(ROWS).text)
    assert "No two of one grade overlap." in rows
    assert "28 d to 16 y: nothing is too low: no bound stands." in rows  # temperature

    page = words(anna.get(f"{ROWS}/{of_school_age}").text)
    assert "Every age has a bound of danger, and only one." in page
    typed = typed_as(row_marked(bounds_of(text, "draft"), of_school_age)).model_dump()
    typed |= {"age_to": "8 y", "act": "show", "edit_version": "1"}
    page = words(anna.post(f"{ROWS}/{of_school_age}", data=typed).text)

    assert "With what you typed, not saved yet" in page
    assert "8 y to 13 y: nothing is too high: no bound stands." in page
    assert "Every age has a bound of danger, and only one." not in page


def test_everybody_sees_what_signed_bounds_leave_uncovered(visits: Visits) -> None:
    visits.seed(adopted_bounds)

    page = words(visits.of(Role.REVIEWER).get(f"{BOUNDS}/1").text)

    assert "Which bound governs" in page
    assert "just under 1 y" in page


def test_a_bound_from_which_the_vital_sign_was_taken_stays_on_its_form(anna: TestClient) -> None:
    held = high_mark(anna)

    page = anna.post(f"{ROWS}/{held}", data={"side": "high", "edit_version": "1"})

    assert page.status_code == 422
    assert "Outer bound, high" in page.text
    assert "Nothing was stored." in page.text
