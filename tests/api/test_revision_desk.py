from pathlib import Path

import pytest
from starlette.testclient import TestClient

from app.domain.people import Role
from app.storage.database import Database
from tests.actions.test_waivers import UNSAFE
from tests.builders import NOW, PASSWORD, a_revision_in_review
from tests.web.visits import Visits

ONE = "/api/v1/skerry/revisions/1"
CELL = {"category": "preschool", "alarm": "heart-rate-high"}


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path) -> Visits:
    found = Visits(sqlite_database, tmp_path)
    found.seed(lambda tx: a_revision_in_review(tx, document=UNSAFE))
    return found


@pytest.fixture
def dana(visits: Visits) -> TestClient:
    return visits.of(Role.MEDICAL_DIRECTOR)


def waived(dana: TestClient) -> str:
    (unsafe,) = dana.get(f"{ONE}/waivers").json()["unsafe"]
    body = {"finding": unsafe["finding"], "reason": "new probes come", "until": "2026-09-01"}
    answer = dana.post(f"{ONE}/waivers", json=body)
    assert answer.status_code == 201
    return str(unsafe["finding"])


def signed(dana: TestClient, **instead: str) -> int:
    body = {
        "fingerprint": dana.get(ONE).json()["fingerprint"],
        "meaning": "Approved",
        "password": PASSWORD,
    }
    return dana.post(f"{ONE}/sign", json=body | instead).status_code


def test_a_finding_is_waived_and_the_revision_signed_with_it(dana: TestClient) -> None:
    assert signed(dana) == 422
    waived(dana)

    assert signed(dana, review_by="2026-12-01") == 200

    told = dana.get(f"{ONE}/waivers").json()
    assert [one["waived"] for one in told["unsafe"]] == [True]
    assert told["unsafe"][0]["waiver"]["by"] == "Dana"
    assert dana.get(ONE).json()["review_by"] == "2026-12-01"


def test_the_look_up_tells_the_waiver_beside_the_limit(dana: TestClient) -> None:
    waived(dana)
    signed(dana)

    alarms = dana.get("/api/v1/skerry/limits?category=preschool").json()["alarms"]

    told = {one["alarm"]: [w["until"] for w in one["waivers"]] for one in alarms}
    assert told["heart-rate-high"] == ["2026-09-01"]
    assert told["heart-rate-low"] == []


def test_the_look_up_tells_what_is_overdue(visits: Visits, dana: TestClient) -> None:
    waived(dana)
    signed(dana)
    assert dana.get("/api/v1/skerry/limits?category=preschool").json()["overdue"] == []

    visits.now = NOW.replace(month=9, day=2)

    (told,) = dana.get("/api/v1/skerry/limits?category=preschool").json()["overdue"]
    assert "ended on 1 Sep 2026" in told


def test_a_waiver_is_withdrawn_before_the_signature(dana: TestClient) -> None:
    key = waived(dana)

    assert dana.delete(f"{ONE}/waivers/{key}").status_code == 204

    assert dana.get(f"{ONE}/waivers").json()["unsafe"][0]["waiver"] is None
    assert dana.delete(f"{ONE}/waivers/{key}").status_code == 404


def test_comments_come_and_are_resolved(visits: Visits, dana: TestClient) -> None:
    ravi = visits.of(Role.REVIEWER)
    said = ravi.post(f"{ONE}/comments", json={"text": "too high", **CELL})
    assert said.status_code == 201

    done = dana.post(f"{ONE}/comments/{said.json()['id']}/resolve", json={"done": "waived"})

    assert done.status_code == 204
    (told,) = ravi.get(f"{ONE}/comments").json()
    assert (told["by"], told["resolved_by"], told["done"]) == ("Ravi", "Dana", "waived")


def test_a_revision_is_reviewed_sent_back_submitted_and_withdrawn(
    visits: Visits, dana: TestClient
) -> None:
    ravi, anna = visits.of(Role.REVIEWER), visits.of(Role.AUTHOR)

    statuses = [
        ravi.post(f"{ONE}/review", json={"note": "read"}).json()["status"],
        ravi.post(f"{ONE}/send-back", json={"note": "wait"}).json()["status"],
        anna.post(f"{ONE}/submit", json={}).json()["status"],
    ]
    waived(dana)
    signed(dana)
    statuses.append(dana.post(f"{ONE}/withdraw", json={"note": "a slip"}).json()["status"])

    assert statuses == ["in-review", "draft", "in-review", "withdrawn"]


def test_wrong_passwords_count_and_sign_nothing(dana: TestClient) -> None:
    waived(dana)

    answers = [signed(dana, password="wrong again") for _ in range(7)]

    assert (answers[0], answers[-1]) == (422, 429)
    assert dana.get(ONE).json()["status"] == "in-review"


@pytest.mark.parametrize(
    ("method", "path", "body"),
    [
        ("GET", "waivers", None),
        ("POST", "waivers", {"finding": "0" * 64, "reason": "x", "until": "2026-09-01"}),
        ("DELETE", "waivers/1", None),
        ("GET", "comments", None),
        ("POST", "comments", {"text": "x"}),
        ("POST", "comments/1/resolve", {"done": "x"}),
        ("POST", "submit", {}),
        ("POST", "send-back", {"note": "x"}),
        ("POST", "review", {}),
        ("POST", "withdraw", {"note": "x"}),
        ("POST", "sign", {"fingerprint": "x", "meaning": "x", "password": "x"}),
    ],
)
def test_an_outsider_and_nobody_find_nothing(
    visits: Visits, method: str, path: str, body: dict[str, str] | None
) -> None:
    outsider, nobody = visits.of_outsider(), TestClient(visits.app)

    assert outsider.request(method, f"{ONE}/{path}", json=body).status_code == 404
    assert nobody.request(method, f"{ONE}/{path}", json=body).status_code == 401
