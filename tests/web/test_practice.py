import html
import re
from datetime import timedelta
from pathlib import Path

import pytest
from starlette.testclient import TestClient

import app.actions.drills as drills
from app.domain.people import Role
from app.storage.database import Database
from tests.actions.test_drills import right_answers
from tests.builders import DAY, a_document, a_signed_revision
from tests.web.visits import Visits

PRACTICE = "/skerry/practice"


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path) -> Visits:
    found = Visits(sqlite_database, tmp_path)
    found.seed(a_signed_revision)
    return found


def begun(client: TestClient) -> str:
    return client.post(PRACTICE).headers["location"]


def asked(page: str) -> set[str]:
    return {html.unescape(name) for name in re.findall(r'type="radio" name="([^"]+)"', page)}


def answers(visits: Visits, address: str) -> dict[str, str]:
    seed = address.rpartition("/")[2]
    number, right = visits.seed(lambda tx: right_answers(tx, seed, now=visits.now))
    return right | {"revision": str(number)}


def test_twenty_cases_are_asked_and_the_result_is_told(visits: Visits) -> None:
    cruz = visits.of(Role.CREW)
    address = begun(cruz)
    assert len(asked(cruz.get(address).text)) == 20

    done = cruz.post(address, data=answers(visits, address))

    assert done.headers["location"] == address
    assert "20 of 20 right" in cruz.get(address).text


def test_what_is_missing_is_marked_and_the_rest_is_kept(visits: Visits) -> None:
    cruz = visits.of(Role.CREW)
    address = begun(cruz)
    given = answers(visits, address)
    left_out = sorted(set(given) - {"revision"})[:2]

    answer = cruz.post(address, data={k: v for k, v in given.items() if k not in left_out})

    assert answer.status_code == 422
    assert "2 of 20 are not answered yet" in answer.text
    assert answer.text.count(" checked>") == 18


def test_results_stand_by_case_and_name_nobody(visits: Visits) -> None:
    cruz = visits.of(Role.CREW)
    for _ in range(2):
        address = begun(cruz)
        cruz.post(address, data=answers(visits, address) | {"unknown": "adult"})

    page = visits.of(Role.EDUCATOR).get(f"{PRACTICE}/results").text

    assert "2 drills finished, 38 of 40 answers right" in page
    assert "0 of 2" in page
    assert "Cruz" not in page
    told = visits.of(Role.EDUCATOR).get("/api/v1/skerry/practice").json()
    assert told["cases"][0]["case"] == "unknown"
    assert told["cases"][0]["instead"] == {"Adult, 13 y and over": 2}


def test_a_new_revision_starts_its_own_results(visits: Visits) -> None:
    cruz = visits.of(Role.CREW)
    address = begun(cruz)
    given = answers(visits, address)
    cruz.post(address, data=given)
    visits.seed(lambda tx: a_signed_revision(tx, document=a_document({"spo2-low": 91})))

    assert "Nobody has finished a drill" in cruz.get(f"{PRACTICE}/results").text
    assert "20 of 20" in cruz.get(f"{PRACTICE}/results?revision=1").text
    late = begun(cruz)
    assert cruz.post(late, data=given).status_code == 409


def test_without_a_policy_there_is_nothing_to_practise(
    sqlite_database: Database, tmp_path: Path
) -> None:
    bare = Visits(sqlite_database, tmp_path)
    bare.seed(lambda tx: a_signed_revision(tx, in_force_at=bare.now + DAY))
    cruz = bare.of(Role.CREW)

    assert cruz.get(begun(cruz)).status_code == 409


@pytest.mark.parametrize("seed", ["1", "xyz", "0" * 15, "0" * 17, "G" * 16])
def test_what_is_no_seed_is_not_found(visits: Visits, seed: str) -> None:
    assert visits.of(Role.CREW).get(f"{PRACTICE}/{seed}").status_code == 404


def test_whoever_must_wait_keeps_what_they_chose(
    visits: Visits, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(drills, "FREE_DRILLS", 1)
    cruz = visits.of(Role.CREW)
    first, second = begun(cruz), begun(cruz)
    cruz.post(first, data=answers(visits, first))
    given = answers(visits, second)

    told = cruz.post(second, data=given)

    assert told.status_code == 429
    assert "the next one waits 1 s" in told.text
    assert told.text.count(" checked>") == 20
    visits.now += timedelta(seconds=1)
    assert cruz.post(second, data=given).headers["location"] == second
