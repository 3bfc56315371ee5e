import json
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from app.domain.people import Role
from app.exchange.profile_json import read_profile
from app.storage.database import Database
from tests.builders import (
    a_document,
    a_draft,
    a_signed_revision,
)
from tests.web.policies import (
    CATEGORIES,
    CELL,
    DRAFT,
    HTMX,
    ON,
    POLICY,
    SILENT,
    WALL,
    an_unsafe_draft,
    stored,
    upload,
)
from tests.web.visits import Visits


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path) -> Visits:
    return Visits(sqlite_database, tmp_path)


@pytest.fixture
def anna(visits: Visits) -> TestClient:
    """In front of a draft of her own, in which the heart rate may rise unannounced."""
    visits.seed(an_unsafe_draft)
    return visits.of(Role.AUTHOR)


# The list


def test_every_revision_is_listed_with_its_status_and_signature(visits: Visits) -> None:
    visits.seed(a_signed_revision)
    visits.seed(a_draft)

    page = visits.of(Role.CREW).get(POLICY)

    assert page.status_code == 200
    assert page.text.index("Revision 2") < page.text.index("Revision 1")
    assert all(words in page.text for words in ("draft", "in force", "Dana"))
    assert "Start a draft" not in page.text


def test_an_agency_without_a_policy_is_told_how_to_begin(visits: Visits) -> None:
    page = visits.of(Role.AUTHOR).get(POLICY)

    assert "There is no policy yet. Start a draft, or upload a profile file." in page.text


def test_a_draft_starts_as_a_copy(visits: Visits) -> None:
    visits.seed(a_signed_revision)

    answer = visits.of(Role.AUTHOR).post(POLICY, data={"copy_of": "1"})

    assert (answer.status_code, answer.headers["location"]) == (303, f"{POLICY}/2")
    assert stored(visits, 2) == {**stored(visits, 1), "revision": 2}


def test_a_draft_starts_empty(visits: Visits) -> None:
    anna = visits.of(Role.AUTHOR)

    answer = anna.post(POLICY, data={"copy_of": "empty"})

    assert answer.headers["location"] == DRAFT
    assert stored(visits)["settings"] == {"all-ages": {}}
    assert "No vital sign has a limit yet" in anna.get(DRAFT).text


@pytest.mark.parametrize("copy_of", ["7", "seven", "²"])
def test_a_copy_of_nothing_is_not_found(visits: Visits, copy_of: str) -> None:
    assert visits.of(Role.AUTHOR).post(POLICY, data={"copy_of": copy_of}).status_code == 404


# Files


def test_a_profile_file_becomes_a_draft(visits: Visits) -> None:
    document = {**a_document(), "agency": "Somebody", "revision": 40}

    answer = upload(visits.of(Role.AUTHOR), json.dumps(document))

    assert answer.headers["location"] == DRAFT
    assert stored(visits) == {**document, "agency": "Skerry Ambulance", "revision": 1}


def test_a_profile_file_that_is_wrong_is_told_by_line_and_column(visits: Visits) -> None:
    text = json.dumps(a_document() | {"agency": "x", "colour": "blue"}, indent=1)

    page = upload(visits.of(Role.AUTHOR), text)

    line = next(n for n, one in enumerate(text.splitlines(), 1) if "colour" in one)
    assert page.status_code == 422
    assert "ours.json was refused; nothing was stored." in page.text
    assert f"line {line}, column 12: colour: unknown key" in page.text


def test_what_is_downloaded_can_be_uploaded_and_has_the_same_fingerprint(
    anna: TestClient, visits: Visits
) -> None:
    answer = anna.get(f"{DRAFT}/profile.json")

    assert answer.headers["content-disposition"] == (
        'attachment; filename="skerry-revision-1.json"'
    )
    assert read_profile(answer.content).fingerprint[:12] in anna.get(DRAFT).text
    assert answer.json() == stored(visits)


# One revision


def test_a_revision_shows_corridor_strip_findings_and_grid(anna: TestClient) -> None:
    page = anna.get(f"{DRAFT}?age=3+y").text

    assert "<title>Age corridor of revision 1</title>" in page
    assert "At 3 y" in page
    assert "alarm below 75 · above 185 /min" in page
    assert "Silent from 180 to 185: above 180 /min is danger." in page
    assert page.index(SILENT) < page.index('class="findings"') + 400
    assert page.count("<tr>") > 40
    assert "no advice for a patient" in page


@pytest.mark.parametrize(
    ("query", "heading"),
    [
        ("", "At 7 mo"),
        ("?age=7+mo", "At 7 mo"),
        ("?age=0+d", "At birth"),
        ("?at=0", "At birth"),
        ("?at=200", "At 100 y"),
        ("?at=1000", "At 100 y"),
    ],
)
def test_the_age_in_hand_is_typed_or_walked_to(anna: TestClient, query: str, heading: str) -> None:
    assert heading in anna.get(f"{DRAFT}{query}").text


def test_what_is_no_age_is_told_beside_the_field(anna: TestClient) -> None:
    page = anna.get(f"{DRAFT}?age=seven").text

    assert "is no age: write a number" in page
    assert 'aria-describedby="age-wrong"' in page


def test_walking_answers_with_strip_and_line_alone(anna: TestClient) -> None:
    answer = anna.get(f"{DRAFT}/strip?at=100&lanes=4", headers=HTMX).text

    assert 'id="strip"' in answer
    assert 'id="age-line"' in answer
    assert "<html" not in answer


def test_a_draft_is_compared_with_what_is_in_force(visits: Visits) -> None:
    visits.seed(a_signed_revision)
    visits.seed(lambda tx: a_draft(tx, document=a_document({"heart-rate-high": 175})))

    page = visits.of(Role.AUTHOR).get(f"{POLICY}/2").text

    assert "Against revision 1, which is in force" in page
    assert "1 y to 5 y: Heart rate can rise from 170 to 175 /min unannounced." in page


def test_a_signed_revision_shows_its_signature_and_no_way_to_edit(visits: Visits) -> None:
    visits.seed(a_signed_revision)

    page = visits.of(Role.MEDICAL_DIRECTOR).get(DRAFT).text

    assert "“This is our policy.”" in page
    assert "/cell/" not in page
    assert "/wall/" not in page
    assert "Withdraw" in page


# Who may


@pytest.mark.parametrize("role", [Role.CREW, Role.FLEET_MANAGER, Role.REVIEWER, Role.EDUCATOR])
def test_who_writes_no_policy_changes_nothing(visits: Visits, role: Role) -> None:
    visits.seed(an_unsafe_draft)
    before, reader = stored(visits), visits.of(role)

    answers = [
        reader.get(CELL),
        reader.post(CELL, data=ON),
        reader.post(CELL, data={}),
        reader.post(WALL, data={"steps": "1", "edit_version": "1"}),
        reader.post(CATEGORIES, data={}),
        reader.post(f"{CATEGORIES}/infant", data={}),
        reader.post(f"{CATEGORIES}/infant/remove", data={"edit_version": "1"}),
        reader.post(POLICY, data={"copy_of": "1"}),
        reader.post(f"{DRAFT}/submit"),
        upload(reader, json.dumps(a_document() | {"agency": "x"})),
        reader.get(f"{DRAFT}/sign"),
    ]

    assert {answer.status_code for answer in answers} == {403}
    assert stored(visits) == before
    assert "/cell/" not in reader.get(DRAFT).text


@pytest.mark.parametrize(
    "path", ["", "/1", "/1/strip", "/1/profile.json", "/1/categories", "/1/sign", f"{CELL[14:]}"]
)
def test_another_agencys_policy_is_not_there(visits: Visits, path: str) -> None:
    visits.seed(an_unsafe_draft)

    assert visits.of_outsider().get(POLICY + path).status_code == 404


def test_a_revision_that_does_not_exist_is_not_found(anna: TestClient) -> None:
    for path in ("", "/strip", "/profile.json", "/categories", "/cell/preschool/spo2-low"):
        assert anna.get(f"{POLICY}/9{path}").status_code == 404


def test_without_signing_in_there_is_nothing_to_see(visits: Visits) -> None:
    stranger = TestClient(visits.app, follow_redirects=False)

    assert stranger.get(POLICY).headers["location"].startswith("/sign-in")


def test_a_page_has_no_style_attribute(anna: TestClient) -> None:
    """The content policy would not let it through."""
    assert " style=" not in anna.get(DRAFT).text
