import re
from pathlib import Path

import pytest

from app.domain.people import Role
from app.storage.database import Database
from tests.builders import a_draft, a_revision_in_review, a_signed_revision
from tests.web.policies import CELL, DRAFT
from tests.web.test_limits import words
from tests.web.visits import Visits

COMMENTS = f"{DRAFT}/comments"
OF_CELL = f"{COMMENTS}/preschool/heart-rate-high"
ON_CELL = {"category": "preschool", "alarm": "heart-rate-high", "text": "170 is low for a fever"}


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path) -> Visits:
    return Visits(sqlite_database, tmp_path)


def test_a_reviewer_comments_on_a_cell_and_the_author_resolves_it(visits: Visits) -> None:
    visits.seed(a_revision_in_review)
    ravi, anna = visits.of(Role.REVIEWER), visits.of(Role.AUTHOR)

    said = ravi.post(COMMENTS, data=ON_CELL)

    assert said.headers["location"] == OF_CELL
    assert "170 is low for a fever" in anna.get(OF_CELL).text
    assert "1 comment" in words(anna.get(DRAFT).text)
    number = re.search(r"/comments/(\d+)/resolve", anna.get(DRAFT).text)
    assert number is not None
    resolved = anna.post(f"{COMMENTS}/{number[1]}/resolve", data={"done": "see PALS"})
    assert resolved.headers["location"] == f"{DRAFT}#comments"
    page = words(ravi.get(DRAFT).text)
    assert "0 of 1 not resolved" in page
    assert "see PALS" in page


def test_it_blocks_the_signature_and_the_page_says_which(visits: Visits) -> None:
    visits.seed(a_revision_in_review)
    visits.of(Role.REVIEWER).post(COMMENTS, data={"text": "Read it once more"})

    page = words(visits.of(Role.MEDICAL_DIRECTOR).get(f"{DRAFT}/sign").text)

    assert "It cannot be signed yet. 1 comment not resolved." in page
    assert "Ravi: Read it once more" in page


def test_the_form_of_the_cell_shows_what_is_said_of_it(visits: Visits) -> None:
    visits.seed(a_draft)
    visits.of(Role.REVIEWER).post(COMMENTS, data=ON_CELL)

    assert "170 is low for a fever" in visits.of(Role.AUTHOR).get(CELL).text


def test_the_cells_of_a_revision_in_review_lead_to_their_comments(visits: Visits) -> None:
    visits.seed(a_revision_in_review)

    assert f'href="{OF_CELL}"' in visits.of(Role.REVIEWER).get(DRAFT).text
    assert f'href="{OF_CELL}"' not in visits.of(Role.CREW).get(DRAFT).text


def test_an_empty_comment_is_refused_and_so_is_an_empty_resolution(visits: Visits) -> None:
    visits.seed(a_draft)
    ravi = visits.of(Role.REVIEWER)
    ravi.post(COMMENTS, data=ON_CELL)

    empty = ravi.post(COMMENTS, data=ON_CELL | {"text": " "})
    unresolved = ravi.post(f"{COMMENTS}/1/resolve", data={"done": ""})

    assert empty.status_code == unresolved.status_code == 422
    assert 'id="text-wrong">this must not be empty' in empty.text
    assert 'id="done-wrong">this must not be empty' in unresolved.text


def test_nobody_is_asked_to_comment_on_what_is_signed(visits: Visits) -> None:
    visits.seed(a_signed_revision)
    ravi = visits.of(Role.REVIEWER)

    assert "Keep the comment" not in ravi.get(DRAFT).text
    assert ravi.post(COMMENTS, data={"text": "late"}).status_code == 409


def test_crew_may_read_but_not_write(visits: Visits) -> None:
    visits.seed(a_draft)
    cruz = visits.of(Role.CREW)

    assert cruz.get(COMMENTS).status_code == 200
    assert "Keep the comment" not in cruz.get(COMMENTS).text
    assert cruz.post(COMMENTS, data={"text": "hello"}).status_code == 403


def test_there_is_no_page_of_a_cell_that_does_not_exist(visits: Visits) -> None:
    visits.seed(a_draft)

    assert visits.of(Role.AUTHOR).get(f"{COMMENTS}/giant/asystole").status_code == 404
