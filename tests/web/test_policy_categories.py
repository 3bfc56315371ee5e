import re
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from app.domain.people import Role
from app.storage.database import Database
from tests.builders import a_document, a_draft
from tests.web.policies import (
    CATEGORIES,
    CELL,
    ON,
    POLICY,
    an_unsafe_draft,
    stored,
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


def band(key: str, start: str, end: str, version: int, label: str = "Band") -> dict[str, str]:
    return {
        "key": key,
        "label": label,
        "start": start,
        "end": end,
        "edit_version": str(version),
    }


def test_the_proof_stands_beside_the_categories(anna: TestClient) -> None:
    assert "Every age from birth on reaches exactly one category." in anna.get(CATEGORIES).text

    answer = anna.post(f"{CATEGORIES}/infant", data=band("", "28 d", "11 mo", 1, "Infant"))

    assert (answer.status_code, answer.headers["location"]) == (303, CATEGORIES)
    assert "Ages 11 mo to 1 y reach no category" in anna.get(CATEGORIES).text


def test_a_category_is_added_changed_and_removed(anna: TestClient, visits: Visits) -> None:
    anna.post(CATEGORIES, data=band("old", "65 y", "", 1, "Old"))
    anna.post(f"{CATEGORIES}/adult", data=band("ignored", "13 y", "65 y", 2, "Adult"))
    assert "Every age from birth on" in anna.get(CATEGORIES).text
    assert [one["key"] for one in stored(visits)["categories"]][-2:] == ["adult", "old"]

    anna.post(f"{CATEGORIES}/old/remove", data={"edit_version": "3"})

    assert "old" not in stored(visits)["settings"]


@pytest.mark.parametrize(
    ("path", "typed", "reason"),
    [
        ("", band("infant", "28 d", "1 y", 1), "stands already"),
        ("", band("Old Ones", "65 y", "", 1), "small letters and digits"),
        ("", band("old", "65", "", 1), "is no age"),
        ("", band("old", "65 y", "60 y", 1), "must be older than from"),
        ("/infant", band("", "28 days", "1 y", 1), "is no age"),
    ],
)
def test_what_is_no_category_is_told_and_stays_typed(
    anna: TestClient, path: str, typed: dict[str, str], reason: str
) -> None:
    page = anna.post(CATEGORIES + path, data=typed)

    assert page.status_code == 422
    assert reason in page.text
    assert f'value="{typed["start"]}"' in page.text


def test_the_last_category_cannot_be_removed(visits: Visits) -> None:
    anna = visits.of(Role.AUTHOR)
    anna.post(POLICY, data={"copy_of": "empty"})

    page = anna.post(f"{CATEGORIES}/all-ages/remove", data={"edit_version": "1"})

    assert page.status_code == 422
    assert "a policy needs at least one category" in page.text


def test_categories_never_overwrite_somebody_elses_change(anna: TestClient, visits: Visits) -> None:
    anna.post(CELL, data=ON)

    page = anna.post(CATEGORIES, data=band("old", "65 y", "", 1, "Old"))

    assert page.status_code == 409
    assert "Save mine on top" in page.text
    assert 'name="start" value="65 y"' in page.text
    assert "old" not in stored(visits)["settings"]


def test_a_category_that_is_not_there_is_not_found(anna: TestClient) -> None:
    assert anna.post(f"{CATEGORIES}/giant", data=band("", "0 d", "", 1)).status_code == 404
    for form in ("remove", "split", "key", "edge"):
        sent = anna.post(f"{CATEGORIES}/giant/{form}", data={"edit_version": "1"})
        assert sent.status_code == 404


def bands(visits: Visits) -> list[tuple[str, str, str | None]]:
    return [(one["key"], one["from"], one["to"]) for one in stored(visits)["categories"]]


SPLIT = {"key": "older", "label": "Older", "at": "3 y", "edit_version": "1"}


@pytest.mark.parametrize(("begins", "limit"), [("copy", 185), ("blank", None)])
def test_a_split_part_begins_as_its_author_says(
    anna: TestClient, visits: Visits, begins: str, limit: int | None
) -> None:
    answer = anna.post(f"{CATEGORIES}/preschool/split", data={**SPLIT, "begins": begins})

    assert answer.status_code == 303
    assert bands(visits)[2:4] == [("preschool", "1 y", "3 y"), ("older", "3 y", "5 y")]
    held = stored(visits)["settings"]["older"].get("heart-rate-high", {})
    assert held.get("limit") == limit
    assert "Every age from birth on" in anna.get(CATEGORIES).text


@pytest.mark.parametrize(
    ("typed", "field", "reason"),
    [
        ({"begins": ""}, "begins", "choose one"),
        ({"begins": "perhaps"}, "begins", "choose one"),
        ({"at": "5 y"}, "at", "must lie after 1 y and before 5 y"),
        ({"at": "three"}, "at", "is no age"),
        ({"key": "adult"}, "key", "stands already"),
        ({"key": "Older One"}, "key", "small letters and digits"),
        ({"label": ""}, "label", "must not be empty"),
    ],
)
def test_a_split_that_cannot_be_is_told_at_its_field_and_stays_typed(
    anna: TestClient, visits: Visits, typed: dict[str, str], field: str, reason: str
) -> None:
    before = stored(visits)

    page = anna.post(f"{CATEGORIES}/preschool/split", data={**SPLIT, "begins": "copy", **typed})

    assert page.status_code == 422
    told = re.search(rf'id="preschool-split-{field}-wrong">([^<]*)<', page.text)
    assert told is not None
    assert reason in told[1]
    assert f'value="{({**SPLIT, **typed})["at"]}"' in page.text
    assert stored(visits) == before


def test_an_edge_moves_without_a_gap_in_between(anna: TestClient, visits: Visits) -> None:
    moved = {"older": "preschool", "at": "18 mo", "edit_version": "1"}

    answer = anna.post(f"{CATEGORIES}/infant/edge", data=moved)

    assert answer.status_code == 303
    assert bands(visits)[1:3] == [("infant", "28 d", "18 mo"), ("preschool", "18 mo", "5 y")]


def test_an_edge_beyond_its_neighbour_is_refused_beside_its_field(anna: TestClient) -> None:
    moved = {"older": "preschool", "at": "6 y", "edit_version": "1"}

    page = anna.post(f"{CATEGORIES}/infant/edge", data=moved)

    assert page.status_code == 422
    assert 'id="infant-edge-at-wrong">must lie after 28 d and before 5 y' in page.text
    assert 'value="6 y"' in page.text


def test_a_new_key_is_followed_by_what_named_the_old_one(anna: TestClient, visits: Visits) -> None:
    answer = anna.post(f"{CATEGORIES}/preschool/key", data={"key": "toddler", "edit_version": "1"})

    assert answer.status_code == 303
    assert stored(visits)["settings"]["toddler"]["heart-rate-high"]["limit"] == 185
    assert "preschool" not in stored(visits)["settings"]


@pytest.mark.parametrize(
    ("key", "reason"), [("adult", "stands already"), ("Old Ones", "small letters and digits")]
)
def test_a_key_that_cannot_be_is_told_at_its_field(anna: TestClient, key: str, reason: str) -> None:
    page = anna.post(f"{CATEGORIES}/preschool/key", data={"key": key, "edit_version": "1"})

    assert page.status_code == 422
    told = re.search(r'id="preschool-new-key-wrong">([^<]*)<', page.text)
    assert told is not None
    assert reason in told[1]


def test_what_still_needs_a_category_keeps_it(visits: Visits) -> None:
    document = a_document()
    document["options"] = {"start-up-category": {"value": "adult"}}
    visits.seed(lambda tx: a_draft(tx, document=document))

    page = visits.of(Role.AUTHOR).post(f"{CATEGORIES}/adult/remove", data={"edit_version": "1"})

    assert page.status_code == 422
    assert "devices start up in it: change that first" in page.text
    assert "adult" in stored(visits)["settings"]


def test_categories_are_put_in_order_of_age(anna: TestClient, visits: Visits) -> None:
    anna.post(f"{CATEGORIES}/neonate", data=band("", "0 d", "14 d", 1, "Neonate"))

    anna.post(CATEGORIES, data=band("weeks", "14 d", "28 d", 2, "Weeks"))

    assert [key for key, *_ in bands(visits)][:3] == ["neonate", "weeks", "infant"]


@pytest.mark.parametrize("role", [Role.REVIEWER, Role.CREW])
def test_whoever_may_not_edit_sees_the_proof_and_no_form(visits: Visits, role: Role) -> None:
    visits.seed(an_unsafe_draft)
    ravi = visits.of(role)

    page = ravi.get(CATEGORIES)

    assert page.status_code == 200
    assert "Every age from birth on" in page.text
    assert f'action="{CATEGORIES}' not in page.text
    assert ravi.post(CATEGORIES, data=band("old", "65 y", "", 1)).status_code == 403
