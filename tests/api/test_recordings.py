"""Recordings sent in by programs, and what they say of a revision."""

from pathlib import Path

import pytest
from httpx2 import Response
from starlette.testclient import TestClient

from app.api.recordings import PARQUET
from app.domain.people import Role
from app.storage.database import Database
from tests import recorded
from tests.builders import PRESET, a_document, a_draft, a_signed_revision
from tests.printed import text
from tests.recorded import a_recording
from tests.web.visits import Visits

HERE = "/api/v1/skerry/recordings"
EVIDENCE = "/api/v1/skerry/revisions/2/evidence"
ASKED = {"category": PRESET}


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path) -> Visits:
    found = Visits(sqlite_database, tmp_path)
    found.seed(a_signed_revision)
    found.seed(lambda tx: a_draft(tx, document=a_document({"heart-rate-high": 185})))
    return found


@pytest.fixture
def anna(visits: Visits) -> TestClient:
    return visits.of(Role.AUTHOR)


def send(
    client: TestClient, content: str | bytes, *, kind: str = "text/csv", **more: str
) -> Response:
    raw = content if isinstance(content, bytes) else content.encode()
    params = {"name": "Winter transfers", "category": PRESET} | more
    return client.post(HERE, content=raw, params=params, headers={"content-type": kind})


@pytest.mark.parametrize(
    ("content", "kind"),
    [(recorded.as_csv(), "text/csv"), (recorded.as_parquet(), PARQUET)],
    ids=["csv", "parquet"],
)
def test_a_recording_is_kept_and_listed(anna: TestClient, content: str | bytes, kind: str) -> None:
    answer = send(anna, content, kind=kind, origin="our own boats")

    assert answer.status_code == 201
    kept = answer.json()
    assert anna.get(HERE).json() == [kept]
    assert (kept["number"], kept["patients"], kept["step_s"]) == (1, 2, 1)
    assert kept["vital_signs"] == ["heart-rate", "spo2"]
    assert kept["synthetic"] == ""
    assert len(kept["fingerprint"]) == 64
    assert kept["added_by"] == "Anna"


@pytest.mark.parametrize(
    ("content", "more", "status", "column"),
    [
        (recorded.as_csv(more="name"), {}, 422, "name"),
        (recorded.as_csv(first="Cruz Bell"), {}, 422, "patient"),
        (recorded.as_csv(), {"category": "toddler"}, 422, "category"),
        (recorded.as_csv(), {"kind": "application/json"}, 415, None),
    ],
)
def test_what_is_wrong_is_a_problem_and_stores_nothing(
    anna: TestClient, content: str, more: dict[str, str], status: int, column: str | None
) -> None:
    answer = send(anna, content, **more)

    assert answer.status_code == status
    assert answer.headers["content-type"] == "application/problem+json"
    if column is not None:
        assert answer.json()["errors"][0]["column"] == column
    assert anna.get(HERE).json() == []


def test_a_replay_is_answered_and_kept(visits: Visits, anna: TestClient) -> None:
    visits.seed(a_recording)
    assert anna.get(EVIDENCE, params=ASKED).status_code == 404

    told = anna.post(EVIDENCE, params=ASKED).json()

    assert anna.get(EVIDENCE, params=ASKED).json() == told
    assert told["synthetic"] is False
    assert told["policy"]["revision"] == 2
    assert told["against"]["revision"] == 1
    line = next(one for one in told["lines"] if one["alarm"] == "heart-rate-high")
    assert (line["revision"]["limit"], line["revision"]["count"]) == (185, 0)
    assert (line["against"]["limit"], line["against"]["count"]) == (170, 1)
    assert line["silence"][0]["beyond_seconds"] == 5
    printed = anna.get("/api/v1/skerry/revisions/2/evidence.pdf")
    assert "Annex: noise and silence" in text(printed.content)


def test_a_circumstance_is_asked_about_by_its_key(visits: Visits, anna: TestClient) -> None:
    visits.seed(a_recording)
    anna.post(EVIDENCE, params=ASKED)

    for way in ("get", "post"):
        answer = anna.request(way, EVIDENCE, params={**ASKED, "circumstance": "on-oxygen"})
        assert answer.status_code == 404
        assert "This category has no such circumstance." in answer.text
    assert anna.get(EVIDENCE, params={**ASKED, "circumstance": ""}).json()["circumstance"] == ""


def test_what_is_told_from_invented_patients_says_so_first(
    visits: Visits, anna: TestClient
) -> None:
    visits.seed(lambda tx: a_recording(tx, synthetic="SYNTHETIC: so"))

    told = anna.post(EVIDENCE, params=ASKED).json()

    assert list(told)[:2] == ["form", "synthetic"]
    assert told["synthetic"] is True
    assert told["recordings"][0]["synthetic"] == "SYNTHETIC: so"


@pytest.mark.parametrize(
    ("way", "address", "status"),
    [
        ("post", EVIDENCE, 409),
        ("get", EVIDENCE, 404),
        ("get", f"{EVIDENCE}.pdf", 404),
        ("get", "/api/v1/skerry/revisions/9/evidence", 404),
    ],
)
def test_without_recordings_there_is_nothing_to_tell(
    anna: TestClient, way: str, address: str, status: int
) -> None:
    assert anna.request(way, address, params=ASKED).status_code == status


def test_crews_look_and_neither_send_nor_replay(visits: Visits) -> None:
    visits.seed(a_recording)
    cruz = visits.of(Role.CREW)

    assert len(cruz.get(HERE).json()) == 1
    assert send(cruz, recorded.as_csv()).status_code == 403
    assert cruz.post(EVIDENCE, params=ASKED).status_code == 403
