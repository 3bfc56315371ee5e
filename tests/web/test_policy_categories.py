from pathlib import Path

import pytest
from starlette.testclient import TestClient

from app.domain.people import Role
from app.storage.database import Database
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
        ("", band("Old Ones", "65 y", "", 1), "pattern"),
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


def test_categories_never_overwrite_somebody_elses_change(anna: TestClient) -> None:
    anna.post(CELL, data=ON)

    assert anna.post(CATEGORIES, data=band("old", "65 y", "", 1)).status_code == 409


def test_a_category_that_is_not_there_is_not_found(anna: TestClient) -> None:
    assert anna.post(f"{CATEGORIES}/giant", data=band("", "0 d", "", 1)).status_code == 404
    removed = anna.post(f"{CATEGORIES}/giant/remove", data={"edit_version": "1"})
    assert removed.status_code == 404
