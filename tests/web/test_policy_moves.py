import json
import re
from pathlib import Path
from typing import Any

import pytest
from httpx2 import Response
from starlette.testclient import TestClient

from app.domain.people import Role
from app.lookups.ledger import prove_agency
from app.storage.database import Database
from tests.builders import (
    NOW,
    PASSWORD,
    a_document,
    a_draft,
    a_revision_in_review,
    a_signed_revision,
)
from tests.web.policies import DRAFT, NOT_THE_PASSWORD, SILENT, upload
from tests.web.visits import Visits


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path) -> Visits:
    return Visits(sqlite_database, tmp_path)


# Moves


def test_a_draft_is_submitted_reviewed_and_sent_back_with_a_reason(visits: Visits) -> None:
    visits.seed(a_draft)
    anna, ravi = visits.of(Role.AUTHOR), visits.of(Role.REVIEWER)

    assert anna.post(f"{DRAFT}/submit").headers["location"] == DRAFT
    assert "in review" in ravi.get(DRAFT).text
    assert ravi.post(f"{DRAFT}/review", data={"note": "read"}).headers["location"] == DRAFT
    assert "Reviewed by" in ravi.get(DRAFT).text
    assert ravi.post(f"{DRAFT}/send-back", data={"note": ""}).status_code == 422
    assert ravi.post(f"{DRAFT}/send-back", data={"note": "85 is meant"}).status_code == 303
    assert "85 is meant" in anna.get(DRAFT).text
    assert "Submit for review" in anna.get(DRAFT).text


def test_who_wrote_a_draft_is_not_asked_to_review_it(visits: Visits) -> None:
    visits.seed(a_revision_in_review)

    assert "Record my review" in visits.of(Role.REVIEWER).get(DRAFT).text
    assert "Record my review" not in visits.of(Role.AUTHOR).get(DRAFT).text


def test_a_revision_in_force_is_withdrawn_with_a_reason(visits: Visits) -> None:
    visits.seed(a_signed_revision)
    dana = visits.of(Role.MEDICAL_DIRECTOR)

    assert dana.post(f"{DRAFT}/withdraw", data={"note": "a slip"}).status_code == 303

    assert "withdrawn" in dana.get(DRAFT).text


# Signing


def signing(dana: TestClient, **instead: str) -> Response:
    return signing_of(dana, 1, **instead)


def signing_of(dana: TestClient, number: int, /, **instead: str) -> Response:
    draft = DRAFT.removesuffix("1") + str(number)
    page = dana.get(f"{draft}/sign")
    fingerprint = re.search(r'name="fingerprint" value="(\w+)"', page.text)
    assert fingerprint is not None
    typed = {"fingerprint": fingerprint[1], "meaning": "Approved", "password": PASSWORD}
    return dana.post(f"{draft}/sign", data=typed | instead)


def test_a_signed_revision_is_in_force_at_once(visits: Visits) -> None:
    visits.seed(a_revision_in_review)

    answer = signing(visits.of(Role.MEDICAL_DIRECTOR))

    assert (answer.status_code, answer.headers["location"]) == (303, DRAFT)
    page = visits.of(Role.CREW).get(DRAFT).text
    assert "“Approved”" in page
    assert '<span class="status">in force</span>' in page
    with visits.database.reading() as tx:
        assert prove_agency(tx, agency="skerry").holds


def test_a_signed_revision_comes_into_force_at_the_local_time_given(visits: Visits) -> None:
    """The agency keeps the time of London: in June an hour ahead of UTC."""
    visits.now = NOW.replace(month=6)
    visits.seed(a_revision_in_review)

    signing(visits.of(Role.MEDICAL_DIRECTOR), when="later", begins="2026-06-03T08:00")

    crew = visits.of(Role.CREW)
    assert "3 Jun 2026, 08:00 BST" in crew.get(DRAFT).text
    assert '<span class="status">signed</span>' in crew.get(DRAFT).text
    visits.now = NOW.replace(month=6, day=3, hour=7)
    assert '<span class="status">in force</span>' in crew.get(DRAFT).text


@pytest.mark.parametrize(
    ("instead", "name", "reason"),
    [
        ({"password": NOT_THE_PASSWORD}, "password", "this is not your password"),
        ({"meaning": " "}, "meaning", "this must not be empty"),
        ({"when": "later", "begins": "soon"}, "begins", "give a day and a time"),
        ({"when": "later", "begins": "2020-01-01T08:00"}, "begins", "this time has passed"),
    ],
)
def test_a_signature_that_lacks_something_is_refused_on_the_page(
    visits: Visits, instead: dict[str, str], name: str, reason: str
) -> None:
    visits.seed(a_revision_in_review)

    page = signing(visits.of(Role.MEDICAL_DIRECTOR), **instead)

    assert page.status_code == 422
    assert re.search(rf'id="{name}-wrong">{reason}', page.text)
    assert PASSWORD not in page.text
    assert NOT_THE_PASSWORD not in page.text
    assert "in review" in visits.of(Role.CREW).get(DRAFT).text


def test_wrong_passwords_are_slowed_down(visits: Visits) -> None:
    visits.seed(a_revision_in_review)
    dana = visits.of(Role.MEDICAL_DIRECTOR)

    answers = [signing(dana, password="wrong again").status_code for _ in range(12)]

    assert answers[0] == 422
    assert answers[-1] == 429


def test_what_was_changed_after_it_was_shown_cannot_be_signed(visits: Visits) -> None:
    visits.seed(a_revision_in_review)

    assert signing(visits.of(Role.MEDICAL_DIRECTOR), fingerprint="0" * 64).status_code == 409


@pytest.mark.parametrize(
    ("document", "told"),
    [
        (a_document({"heart-rate-high": 185}), SILENT),
        (a_document() | {"settings": {}}, "neonate, heart rate low: setting"),
    ],
)
def test_what_is_unsafe_or_blank_blocks_and_is_listed(
    visits: Visits, document: dict[str, Any], told: str
) -> None:
    visits.seed(lambda tx: a_revision_in_review(tx, document=document))

    page = visits.of(Role.MEDICAL_DIRECTOR).get(f"{DRAFT}/sign").text

    assert "It cannot be signed yet." in page
    assert told in page
    assert 'type="password"' not in page


def test_nobody_signs_what_only_they_wrote(visits: Visits) -> None:
    dana = visits.of(Role.MEDICAL_DIRECTOR)
    upload(dana, json.dumps(a_document() | {"agency": "x"}))
    dana.post(f"{DRAFT}/submit")

    page = dana.get(f"{DRAFT}/sign").text

    assert "You are the only author of this revision." in page
    assert "Sign revision 1 in an emergency" in page


def test_what_is_signed_already_is_not_signed_again(visits: Visits) -> None:
    visits.seed(a_signed_revision)

    assert visits.of(Role.MEDICAL_DIRECTOR).get(f"{DRAFT}/sign").status_code == 409
