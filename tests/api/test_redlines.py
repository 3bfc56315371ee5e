from copy import deepcopy
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from app.demo.profile import document
from app.domain.documents import with_setting
from app.domain.people import Role
from app.storage.database import Database
from tests.builders import a_device, a_draft, a_signed_revision
from tests.web.visits import Visits

REVISIONS = "/api/v1/skerry/revisions"
API = f"{REVISIONS}/2/redline"


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path) -> Visits:
    return Visits(sqlite_database, tmp_path)


@pytest.fixture
def dana(visits: Visits) -> TestClient:
    after = deepcopy(document(3))
    reworded = after["settings"]["adult"]["asystole"] | {"reason": "read again"}
    after = with_setting(after, "adult", "asystole", reworded)
    after["options"]["longest-pause-s"]["value"] = 90
    visits.seed(lambda tx: a_signed_revision(tx, document=document(2)))
    visits.seed(lambda tx: a_draft(tx, document=after))
    visits.seed(a_device)
    return visits.of(Role.MEDICAL_DIRECTOR)


def test_a_program_is_told_the_same(dana: TestClient) -> None:
    told = dana.get(API).json()

    assert (told["revision"], told["against"], told["bounds"]) == (2, 1, "default, not adopted")
    first, *_, last = told["changes"]
    assert (first["rank"], first["alarm"]) == ("opens a silence", "heart-rate-high")
    assert (first["ages"], first["direction"]) == (["1 y", "5 y"], "looser")
    assert first["parts"] == [
        {"part": "limit", "before": "170 /min", "after": "185 /min", "direction": "looser"}
    ]
    assert (last["rank"], last["parts"]) == ("words only", [])
    heart = told["effects"][0]
    assert heart["vital_signs"] == ["heart-rate", "pulse-rate"]
    assert [gap["values"] for gap in heart["after"]["silent"] if gap["grade"] == "danger"] == [
        "181 to 185 /min"
    ]
    assert heart["after"]["arrival"]["worst_age"] == "4 y"
    assert heart["telling_ages"][0]["after"]["limits"] == "alarm below 75 · above 185 /min"
    assert told["devices_to_set"] == 1
    dunlin = next(one for one in told["void_models"] if one["model"] == "dunlin")
    assert dunlin["options"] == ["Longest pause"]
    assert dunlin["stations"] == [{"station": "North", "devices": 1, "tags": ["boat-3"]}]
    assert {"category": "Child", "why": "its limits change", "models": []} in told["void_cards"]


def test_another_one_is_chosen_by_its_number(dana: TestClient) -> None:
    told = dana.get(API, params={"against": 2}).json()

    assert (told["against"], told["changes"]) == (2, [])


@pytest.mark.parametrize(
    ("path", "status"),
    [
        (f"{REVISIONS}/1/redline", 404),
        (f"{API}?against=9", 404),
        (f"{API}?against=0", 422),
    ],
)
def test_what_cannot_be_compared_is_a_problem(dana: TestClient, path: str, status: int) -> None:
    answer = dana.get(path)

    assert answer.status_code == status
    assert answer.headers["content-type"] == "application/problem+json"


def test_the_api_is_closed_to_others(visits: Visits, dana: TestClient) -> None:
    assert dana.get(API).status_code == 200
    assert visits.of_outsider().get(API).status_code == 404
    assert TestClient(visits.app).get(API).status_code == 401
