import re
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from app.domain.people import Role
from app.storage.database import Database
from tests.web.policies import CATEGORIES, DRAFT, an_unsafe_draft
from tests.web.visits import Visits


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path) -> Visits:
    return Visits(sqlite_database, tmp_path)


@pytest.fixture
def anna(visits: Visits) -> TestClient:
    visits.seed(an_unsafe_draft)
    return visits.of(Role.AUTHOR)


PROOF = f"{DRAFT}/proof"


def test_the_edge_cases_are_answered_beside_the_proof(anna: TestClient) -> None:
    page = anna.get(PROOF)

    assert page.status_code == 200
    assert "<strong>16 y, 38 kg:</strong> Adult" in page.text
    assert "contradiction: a choice is needed" in page.text
    assert "Age and weight are unknown." in page.text


def test_a_gap_is_told_with_its_exact_ages_and_marked_in_the_picture(anna: TestClient) -> None:
    anna.post(
        f"{CATEGORIES}/infant",
        data={"label": "Infant", "start": "28 d", "end": "11 mo", "edit_version": "1"},
    )

    page = anna.get(PROOF)

    assert "Ages 11 mo to 1 y reach no category" in page.text
    assert 'class="fault gap"' in page.text
    assert ">gap</text>" in page.text


@pytest.mark.parametrize(
    ("asked", "answered"),
    [
        ("age=28+d", "<strong>Age 28 d, weight unknown:</strong> Infant"),
        ("age=5+mo&weight=3.5&gestation=26", "44 weeks are reached, so the age decides"),
        ("age=5+mo&weight=3.5", "give the gestation at birth"),
        ("age=&weight=&gestation=", "Age and weight are unknown"),
    ],
)
def test_somebody_of_ones_own_can_be_tried(anna: TestClient, asked: str, answered: str) -> None:
    page = anna.get(f"{PROOF}?{asked}")

    assert page.status_code == 200
    assert answered in page.text


@pytest.mark.parametrize(
    ("asked", "field", "reason"),
    [
        ("age=five", "age", "is no age"),
        ("weight=heavy", "weight", "write a number of kilograms"),
        ("weight=0.1", "weight", "a weight lies between"),
        ("gestation=9", "gestation", "no plausible gestation"),
        ("gestation=early", "gestation", "is no gestation"),
    ],
)
def test_what_cannot_be_tried_is_told_at_its_field_and_stays_typed(
    anna: TestClient, asked: str, field: str, reason: str
) -> None:
    page = anna.get(f"{PROOF}?{asked}")

    assert page.status_code == 422
    told = re.search(rf'id="{field}-wrong">([^<]*)<', page.text)
    assert told is not None
    assert reason in told[1]
    assert f'value="{asked.split("=")[1]}"' in page.text


# The bar


@pytest.mark.parametrize(
    ("path", "label"),
    [
        ("", "Corridor and grid"),
        ("/categories", "Categories"),
        ("/proof?age=3+y", "Proof"),
        ("/circumstances", "Circumstances"),
        ("/options", "Options"),
    ],
)
def test_the_bar_says_where_one_is(anna: TestClient, path: str, label: str) -> None:
    page = anna.get(f"{DRAFT}{path}").text

    bar = page[page.index('<nav class="desk"') :]
    here = re.findall(r'aria-current="page">([^<]+)<', bar[: bar.index("</nav>")])
    assert here == [label]
