from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator
from starlette.testclient import TestClient

from app.domain.people import Role
from app.storage.database import Database
from tests.builders import a_signed_revision
from tests.web.policies import stored
from tests.web.visits import Visits

BANDS = "/api/v1/skerry/revisions/1/bands/heart-rate"


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path) -> Visits:
    visits = Visits(sqlite_database, tmp_path)
    visits.seed(a_signed_revision)
    return visits


def confirmed(told: dict[str, Any], bands: int, *places: int) -> dict[str, Any]:
    marks = [band["mark"] for band in told["best"][bands - 1]["bands"]]
    confirm = [marks[place] for place in places]
    return {"fingerprint": told["fingerprint"], "bands": bands, "confirm": confirm}


def test_the_advice_holds_to_its_description(visits: Visits) -> None:
    cruz = visits.of(Role.CREW)
    described = cruz.get("/api/v1/openapi.json").json()

    told = cruz.get(BANDS).json()

    path = described["paths"]["/api/v1/{agency}/revisions/{number}/bands/{vital}"]
    schema = path["get"]["responses"]["200"]["content"]["application/json"]["schema"]
    Draft202012Validator(schema | {"components": described["components"]}).validate(told)
    assert len(told["best"]) == 8
    assert told["best"][2]["bands"][0] == {
        "ages": ["0 d", "1 y"],
        "low": 80,
        "high": 180,
        "mark": "0-12:80:180",
    }
    assert len(told["today"]["bands"]) == 5


def test_weights_and_aim_are_asked(visits: Visits) -> None:
    cruz = visits.of(Role.CREW)

    loose = cruz.get(BANDS, params={"caution": 0, "aim": "mean", "until": "16 y"}).json()

    assert (loose["caution_points"], loose["aim"], loose["ages"]) == (0, "mean", ["0 d", "16 y"])
    assert loose["best"][-1]["bands"][0]["high"] == 220  # the danger bound of infants


@pytest.mark.parametrize(
    ("path", "status"),
    [
        (BANDS + "?until=18", 422),
        (BANDS + "?danger=-1", 422),
        (BANDS + "?aim=best", 422),
        (BANDS.replace("heart-rate", "spo2"), 422),
        (BANDS.replace("/1/", "/9/"), 404),
    ],
)
def test_what_cannot_be_weighed_is_a_problem(visits: Visits, path: str, status: int) -> None:
    answer = visits.of(Role.CREW).get(path)

    assert answer.status_code == status
    assert answer.headers["content-type"] == "application/problem+json"


def test_confirmed_bands_become_a_draft(visits: Visits) -> None:
    anna = visits.of(Role.AUTHOR)
    body = confirmed(anna.get(BANDS).json(), 3, 0)

    answer = anna.post(f"{BANDS}/draft", json=body)

    assert answer.status_code == 201
    assert answer.headers["location"] == "/api/v1/skerry/revisions/2"
    after = stored(visits, 2)["settings"]
    assert {after[key]["heart-rate-low"]["limit"] for key in ("neonate", "infant")} == {80}
    assert after["preschool"] == stored(visits)["settings"]["preschool"]


def test_other_weights_than_those_of_the_advice_confirm_nothing(visits: Visits) -> None:
    anna = visits.of(Role.AUTHOR)
    body = confirmed(anna.get(BANDS).json(), 3, 0)

    assert anna.post(f"{BANDS}/draft", params={"caution": 0}, json=body).status_code == 409
    stale = body | {"fingerprint": "0" * 64}
    assert anna.post(f"{BANDS}/draft", json=stale).status_code == 409


def test_only_who_writes_drafts_confirms(visits: Visits) -> None:
    body = confirmed(visits.of(Role.CREW).get(BANDS).json(), 3, 0)

    for who, status in (
        (visits.of(Role.REVIEWER), 403),
        (visits.of_outsider(), 404),
        (TestClient(visits.app), 401),
    ):
        assert who.post(f"{BANDS}/draft", json=body).status_code == status
