"""The label of a device leads to its values one tap away, and a check after them is not blind."""

from datetime import timedelta
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from app.domain.people import Role
from app.storage.database import Database
from tests.builders import (
    HOUR,
    MINUTE,
    NOW,
    a_device,
    a_document,
    a_report,
    a_signed_revision,
    limit,
)
from tests.builders import as_signed as signed
from tests.crew_documents import PETREL
from tests.web.test_limits import words
from tests.web.test_shift_checks import body, sent
from tests.web.visits import Visits

VALUES = "/skerry/d/boat-3/values"
V1 = "/api/v1/skerry/checks"


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path) -> Visits:
    visits = Visits(sqlite_database, tmp_path)
    visits.seed(
        lambda tx: a_signed_revision(tx, document=a_document() | {"models": {"petrel": PETREL}})
    )
    visits.seed(a_device)
    visits.seed(lambda tx: a_device(tx, "air-1", model="petrel"))
    visits.seed(lambda tx: a_report(tx, signed(heart_rate_high=limit(200))))
    visits.now = NOW + MINUTE
    return visits


@pytest.fixture
def cruz(visits: Visits) -> TestClient:
    visits.of(Role.TECHNICIAN)
    return visits.of(Role.CREW)


def told(client: TestClient, **instead: str) -> str:
    return words(client.get(sent(client, **instead).headers["location"]).text)


def test_a_label_tells_no_value_and_where_they_are(visits: Visits) -> None:
    anybody = TestClient(visits.app)

    for tag in ("boat-3", "air-1"):
        label = anybody.get(f"/skerry/d/{tag}")
        page = words(label.text)
        assert not {"170", "200", "unannounced", "alarm below", "alarm above"} & {
            one
            for one in ("170", "200", "unannounced", "alarm below", "alarm above")
            if one in page
        }
        assert f'href="/skerry/d/{tag}/values"' in label.text
        assert "set-cookie" not in label.headers
    values = words(anybody.get(VALUES).text)
    assert "can rise from 170 to 200 /min unannounced" in values
    assert "no advice for a patient" in values
    assert "Choose preset SMALL" in words(anybody.get("/skerry/d/air-1/values").text)


def test_a_check_after_the_values_is_told_for_what_it_is(cruz: TestClient) -> None:
    cruz.get(VALUES)

    assert "It proves nothing: the values were seen before" in told(cruz)


@pytest.mark.parametrize("tag", ["air-1"])
def test_the_values_of_another_device_tell_nothing_of_this_one(cruz: TestClient, tag: str) -> None:
    cruz.get(f"/skerry/d/{tag}/values")

    assert "seen before" not in told(cruz)


def test_both_of_two_devices_stay_in_mind(cruz: TestClient) -> None:
    cruz.get(VALUES)
    cruz.get("/skerry/d/air-1/values")

    assert "seen before" in told(cruz)


def test_an_hour_later_it_is_blind_again(visits: Visits, cruz: TestClient) -> None:
    cruz.get(VALUES)
    visits.now += HOUR + timedelta(seconds=1)

    assert "seen before" not in told(cruz)


def test_a_page_that_a_phone_keeps_without_showing_it_is_not_seen(cruz: TestClient) -> None:
    answer = cruz.get(VALUES, headers={"kept-only": "yes"})

    assert "unannounced" in words(answer.text)
    assert "set-cookie" not in answer.headers
    assert "seen before" not in told(cruz)


@pytest.mark.parametrize("said", ["boat-3=soon", "boat-3", "boat-3=-5", "boat-3=" + "9" * 30, "%%"])
def test_what_no_page_of_ours_said_is_nothing(cruz: TestClient, said: str) -> None:
    cruz.cookies.set("marchstone_values", said)

    assert "seen before" not in told(cruz)


@pytest.mark.parametrize(
    ("opened", "seen"),
    [
        ("2026-03-02T08:00:00Z", True),
        ("2026-03-02T07:30:00Z", True),
        ("2026-03-02T07:29:59Z", False),
        (None, False),
    ],
)
def test_a_phone_tells_by_its_own_clock(cruz: TestClient, opened: str | None, seen: bool) -> None:
    queued = {
        "phone": "one",
        "number": 1,
        "locked_at": "2026-03-02T08:30:00Z",
        "sent_at": "2026-03-02T08:59:00Z",
    }

    answer = cruz.post(
        V1,
        json=body(queued=queued, values_seen_at=opened),
        headers={"Idempotency-Key": "one two 3"},
    )

    assert answer.status_code == 201
    assert (answer.json()["result"] == "seen") is seen


def test_a_label_is_packed_for_whoever_takes_it(visits: Visits) -> None:
    packed = TestClient(visits.app).get(VALUES, headers={"accept-encoding": "gzip"})
    plain = TestClient(visits.app).get(VALUES, headers={"accept-encoding": "identity"})

    assert packed.headers["content-encoding"] == "gzip"
    assert "Accept-Encoding" in packed.headers["vary"]
    assert "content-encoding" not in plain.headers
    assert packed.text == plain.text
    assert int(packed.headers["content-length"]) < int(plain.headers["content-length"]) / 2
