import re
from pathlib import Path

import pytest
from httpx2 import Response
from starlette.testclient import TestClient

from app.domain.people import Role
from app.storage.database import Database
from tests.builders import a_document, a_draft, a_revision_in_review, a_signed_revision
from tests.web.policies import CELL, DRAFT, ON, stored
from tests.web.visits import Visits

COPY = "/skerry/policy/2/copy"
FROM_REVISION = {"into": "infant", "revision": "1", "category": "neonate", "extent": "all"}
FROM_DRAFT = {"into": "infant", "revision": "2", "category": "neonate"}


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path) -> Visits:
    return Visits(sqlite_database, tmp_path)


@pytest.fixture
def anna(visits: Visits) -> TestClient:
    """In front of a draft in which of infants nothing is said but one limit."""
    document = a_document()
    document["settings"]["infant"] = {"heart-rate-low": {"state": "on", "limit": 95}}
    visits.seed(a_signed_revision)
    visits.seed(lambda tx: a_draft(tx, document=document))
    return visits.of(Role.AUTHOR)


def confirmed(page: Response) -> dict[str, str]:
    """What the button of the preview sends."""
    form = page.text.split('<form method="post"')[-1]
    return dict(re.findall(r'type="hidden" name="(\w+)" value="([^"]*)"', form))


def test_what_would_be_copied_is_shown_and_nothing_is_done(
    anna: TestClient, visits: Visits
) -> None:
    before = stored(visits, 2)

    page = anna.get(COPY, params=FROM_DRAFT)

    assert "Neonate of this draft into Infant" in page.text
    assert "40 cells: 39 filled, 1 completed." in page.text
    assert stored(visits, 2) == before


def test_only_blanks_are_filled_and_a_limit_that_is_set_stays(
    anna: TestClient, visits: Visits
) -> None:
    answer = anna.post(COPY, data=confirmed(anna.get(COPY, params=FROM_DRAFT)))

    assert answer.headers["location"] == "/skerry/policy/2#grid"
    kept = stored(visits, 2)["settings"]
    assert kept["infant"]["heart-rate-low"] == {**kept["neonate"]["heart-rate-low"], "limit": 95}
    assert kept["infant"]["spo2-low"] == kept["neonate"]["spo2-low"]
    assert "Copied into Infant. 40 cells: 39 filled, 1 completed." in anna.get(DRAFT).text


def test_all_is_copied_from_another_revision_in_one_edit(anna: TestClient, visits: Visits) -> None:
    page = anna.get(COPY, params=FROM_REVISION)
    assert "40 cells: 39 filled, 1 overwritten." in page.text

    anna.post(COPY, data=confirmed(page))

    assert stored(visits, 2)["settings"]["infant"] == stored(visits, 1)["settings"]["neonate"]
    assert 'name="edit_version" value="2"' in anna.get("/skerry/policy/2").text


def test_one_alarm_can_be_copied_alone(anna: TestClient, visits: Visits) -> None:
    page = anna.get(COPY, params={**FROM_DRAFT, "alarm": "spo2-low"})
    assert "1 cell: 1 filled." in page.text

    anna.post(COPY, data=confirmed(page))

    assert set(stored(visits, 2)["settings"]["infant"]) == {"heart-rate-low", "spo2-low"}


@pytest.mark.parametrize(
    ("asked", "told"),
    [
        ({}, "Copy settings"),
        ({"into": "neonate", "category": "neonate"}, "A category is not copied onto itself."),
        ({"into": "infant", "category": "giant"}, "has no such category"),
        ({"into": "neonate", "revision": "1", "category": "neonate"}, "Nothing would change"),
        ({"into": "adult", "category": "infant", "extent": "blanks"}, "Nothing would change"),
    ],
)
def test_where_there_is_nothing_to_copy_no_button_offers_it(
    anna: TestClient, asked: dict[str, str], told: str
) -> None:
    page = anna.get(COPY, params=asked)

    assert page.status_code == 200
    assert told in page.text
    assert f'<form method="post" action="{COPY}"' not in page.text
    assert anna.post(COPY, data={**asked, "edit_version": "1"}).status_code == 422


def test_a_draft_that_somebody_changed_is_shown_again_before_it_is_copied_into(
    anna: TestClient, visits: Visits
) -> None:
    sent = confirmed(anna.get(COPY, params=FROM_DRAFT))
    anna.post(CELL.replace("/1/", "/2/"), data=ON)

    page = anna.post(COPY, data=sent)

    assert page.status_code == 409
    assert "Nothing was copied; this is what it would do now." in page.text
    assert len(stored(visits, 2)["settings"]["infant"]) == 1
    anna.post(COPY, data=confirmed(page))
    assert len(stored(visits, 2)["settings"]["infant"]) == 40


def test_a_source_that_somebody_changed_is_shown_again(anna: TestClient, visits: Visits) -> None:
    visits.seed(a_draft)
    third = {**FROM_DRAFT, "revision": "3"}
    sent = confirmed(anna.get(COPY, params=third))
    anna.post("/skerry/policy/3/cell/neonate/spo2-low", data={**ON, "limit": "85"})

    page = anna.post(COPY, data=sent)

    assert page.status_code == 409
    assert "Revision 3 was changed since it was shown." in page.text
    assert "below 85 %" in page.text
    assert len(stored(visits, 2)["settings"]["infant"]) == 1


@pytest.mark.parametrize(
    "asked", [{"into": "giant"}, {"into": "infant", "alarm": "heart-rate"}, {"revision": "9"}]
)
def test_what_does_not_exist_is_not_found(anna: TestClient, asked: dict[str, str]) -> None:
    assert anna.get(COPY, params=asked).status_code == 404


def test_only_who_may_edit_copies_and_only_into_a_draft(visits: Visits) -> None:
    visits.seed(a_revision_in_review)

    assert visits.of(Role.CREW).get(f"{DRAFT}/copy").status_code == 403
    assert visits.of(Role.AUTHOR).get(f"{DRAFT}/copy").status_code == 404
    assert visits.of(Role.AUTHOR).post(f"{DRAFT}/copy", data=FROM_DRAFT).status_code == 404
