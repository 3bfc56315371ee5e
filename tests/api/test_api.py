from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator
from starlette.testclient import TestClient

from app.domain.people import Role
from app.domain.profiles import fingerprint
from app.storage.database import Database
from tests.adopted_bounds import adopted_bounds
from tests.builders import (
    a_device,
    a_document,
    a_draft,
    a_report,
    a_signed_revision,
    as_signed,
    limit,
)
from tests.crew_documents import OXYGEN, PETREL
from tests.web.visits import Visits

V1 = "/api/v1/skerry"
FOR_MEMBERS = [
    "/revisions",
    "/revisions/1",
    "/revisions/in-force",
    "/revisions/1/check",
    "/findings",
    "/checks",
    "/outer-bounds/in-force",
    "/recordings",
]


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path) -> Visits:
    found = Visits(sqlite_database, tmp_path)
    found.seed(a_signed_revision)
    found.seed(a_device)
    return found


@pytest.mark.parametrize("path", FOR_MEMBERS)
@pytest.mark.parametrize(
    ("who", "status"),
    [
        (lambda visits: TestClient(visits.app), 401),
        (lambda visits: visits.of_outsider(), 404),
        (lambda visits: visits.of(Role.CREW), 200),
        (lambda visits: visits.of(Role.ADMINISTRATOR), 200),
    ],
    ids=["nobody", "outsider", "crew", "administrator"],
)
def test_only_members_are_answered(
    visits: Visits, path: str, who: Callable[[Visits], TestClient], status: int
) -> None:
    answer = who(visits).get(V1 + path)

    assert answer.status_code == status
    if status != 200:
        assert answer.headers["content-type"] == "application/problem+json"
        assert answer.json()["status"] == status


def test_the_revision_in_force_comes_as_it_was_signed(visits: Visits) -> None:
    told = visits.of(Role.CREW).get(f"{V1}/revisions/in-force").json()

    assert told["number"] == 1
    assert told["status"] == "in-force"
    assert told["fingerprint"] == fingerprint(told["document"])
    assert [one["name"] for one in told["signatures"]] == ["Dana"]
    assert told["signatures"][0]["fingerprint"] == told["fingerprint"]


def test_without_a_revision_in_force_there_is_none_to_find(
    sqlite_database: Database, tmp_path: Path
) -> None:
    bare = Visits(sqlite_database, tmp_path)

    answer = bare.of(Role.CREW).get(f"{V1}/revisions/in-force")

    assert (answer.status_code, answer.json()["detail"]) == (404, "No revision is in force.")
    assert bare.of(Role.CREW).get(f"{V1}/limits?age=7+mo").status_code == 404


def test_the_outer_bounds_in_force_are_told_and_name_what_judges(visits: Visits) -> None:
    cruz = visits.of(Role.CREW)
    before = cruz.get(f"{V1}/outer-bounds/in-force").json()
    adopted = visits.seed(adopted_bounds)

    after = cruz.get(f"{V1}/outer-bounds/in-force").json()

    assert (before["name"], before["number"]) == ("default, not adopted", None)
    assert (after["name"], after["number"]) == ("version 1, signed by Dana", 1)
    assert after["fingerprint"] == adopted.fingerprint
    assert len(before["rows"]) == len(after["rows"]) > 50
    assert [row["bound"] for row in after["rows"] if row not in before["rows"]] == ["170"]
    assert cruz.get(f"{V1}/revisions/1/check").json()["bounds"] == "version 1, signed by Dana"


def test_the_check_of_a_draft_is_told_gravest_first(visits: Visits) -> None:
    visits.seed(a_draft)

    told = visits.of(Role.AUTHOR).get(f"{V1}/revisions/2/check").json()

    weights = [
        ("unsafe", "off-protocol", "note").index(one["severity"]) for one in told["findings"]
    ]
    assert weights == sorted(weights)
    assert sum(told["counts"].values()) == len(told["findings"]) > 0


@pytest.mark.parametrize(("number", "status"), [("9", 404), ("0", 422), ("one", 422)])
def test_a_revision_that_is_none_is_a_problem(visits: Visits, number: str, status: int) -> None:
    answer = visits.of(Role.AUTHOR).get(f"{V1}/revisions/{number}/check")

    assert answer.status_code == status
    assert answer.headers["content-type"] == "application/problem+json"


def test_open_findings_name_device_preset_and_alarm(visits: Visits) -> None:
    visits.seed(lambda tx: a_report(tx, as_signed(heart_rate_high=limit(200))))

    told = visits.of(Role.FLEET_MANAGER).get(f"{V1}/findings").json()

    assert [(one["device"], one["preset"], one["alarm"], one["severity"]) for one in told] == [
        ("boat-3", "preschool", "heart-rate-high", "unsafe")
    ]


def test_limits_are_open_to_everybody_and_say_how_they_were_reached(visits: Visits) -> None:
    told = TestClient(visits.app).get(f"{V1}/limits", params={"age": "364 d"}).json()

    assert (told["category"], told["reached_by"], told["age"]) == ("infant", "age", "364 d")
    assert told["near"] == {"category": "preschool", "edge": "1 y", "begins_ahead": True}
    alarms = {one["alarm"]: one for one in told["alarms"]}
    assert (alarms["heart-rate-low"]["limit"], alarms["heart-rate-low"]["unit"]) == (90, "/min")
    assert alarms["spo2-high"]["state"] == "off"
    assert "no advice for a patient" in told["caution"]


def test_limits_under_a_circumstance_and_on_a_model_are_told(visits: Visits) -> None:
    document = a_document() | {"circumstances": [OXYGEN], "models": {"petrel": PETREL}}
    visits.seed(lambda tx: a_signed_revision(tx, document=document))
    anybody = TestClient(visits.app)

    def told(**asked: str) -> dict[str, Any]:
        alarms = anybody.get(f"{V1}/limits", params=asked).json()["alarms"]
        return {one["alarm"]: one for one in alarms}

    assert told(category="neonate")["spo2-high"]["state"] == "off"
    chosen = told(category="neonate", circumstance="on-oxygen")
    assert (chosen["spo2-high"]["state"], chosen["spo2-high"]["limit"]) == ("on", 94)
    assert told(category="school")["heart-rate-high"]["limit"] == 150
    assert told(category="school", model="petrel")["heart-rate-high"]["limit"] == 140
    for unknown in ({"circumstance": "paced"}, {"model": "gannet"}):
        asked = {"category": "school"} | unknown
        assert anybody.get(f"{V1}/limits", params=asked).status_code == 404


def test_limits_of_a_category_have_no_published_range(visits: Visits) -> None:
    told = TestClient(visits.app).get(f"{V1}/limits", params={"category": "adult"}).json()

    assert (told["reached_by"], told["age"], told["published"]) == ("category", None, [])


@pytest.mark.parametrize(
    "params",
    [{}, {"age": "7 mo", "category": "infant"}, {"age": "seven"}, {"age": "1" * 30}],
)
def test_limits_have_no_default(visits: Visits, params: dict[str, str]) -> None:
    answer = TestClient(visits.app).get(f"{V1}/limits", params=params)

    assert answer.status_code == 422
    assert answer.json()["errors"][0]["column"] == "age"


def test_the_description_covers_every_route_and_is_no_page(visits: Visits) -> None:
    told: dict[str, Any] = TestClient(visits.app).get("/api/v1/openapi.json").json()

    ways = {path: set(ways) for path, ways in told["paths"].items()}
    assert {path.removeprefix("/api/v1/{agency}"): found for path, found in ways.items()} == {
        "/revisions": {"get", "post"},
        "/revisions/in-force": {"get"},
        "/revisions/{number}": {"get"},
        "/revisions/{number}/check": {"get"},
        "/revisions/{number}/paper.pdf": {"get"},
        "/revisions/{number}/profile.xlsx": {"get"},
        "/revisions/{number}/waivers": {"get", "post"},
        "/revisions/{number}/waivers/{finding}": {"delete"},
        "/revisions/{number}/comments": {"get", "post"},
        "/revisions/{number}/comments/{comment}/resolve": {"post"},
        "/revisions/{number}/submit": {"post"},
        "/revisions/{number}/send-back": {"post"},
        "/revisions/{number}/review": {"post"},
        "/revisions/{number}/sign": {"post"},
        "/revisions/{number}/withdraw": {"post"},
        "/revisions/{number}/redline": {"get"},
        "/revisions/{number}/bands/{vital}": {"get"},
        "/revisions/{number}/bands/{vital}/draft": {"post"},
        "/revisions/{number}/evidence": {"get", "post"},
        "/revisions/{number}/evidence.pdf": {"get"},
        "/recordings": {"get", "post"},
        "/outer-bounds/in-force": {"get"},
        "/devices": {"get", "post"},
        "/devices/{tag}": {"get", "patch"},
        "/reports/batch": {"post"},
        "/reports": {"post"},
        "/checks": {"get", "post"},
        "/readings": {"post"},
        "/work/{work}": {"get"},
        "/findings": {"get"},
        "/findings/{number}": {"get"},
        "/findings/{number}/steps": {"post"},
        "/devices/{tag}/findings/steps": {"post"},
        "/findings/{number}/acceptance": {"post"},
        "/findings/{number}/acceptance/withdraw": {"post"},
        "/findings/{number}/owner": {"post"},
        "/findings/{number}/comments": {"post"},
        "/findings/{number}/quarantine": {"post"},
        "/devices/{tag}/quarantine/custody": {"post"},
        "/devices/{tag}/quarantine/log": {"post"},
        "/devices/{tag}/quarantine/without-log": {"post"},
        "/devices/{tag}/quarantine/release": {"post"},
        "/changeover": {"get"},
        "/limits": {"get"},
        "/revisions/{number}/acknowledgements": {"get", "post"},
        "/practice": {"get"},
        "/people": {"get", "post"},
        "/people/{username}/close": {"post"},
        "/people/{username}/link": {"post"},
        "/people/{username}/open-again": {"post"},
        "/people/{username}/sign-out": {"post"},
    }
    for way in (way for path in told["paths"].values() for way in path.values()):
        assert way["summary"]
        assert way["description"]


def test_the_example_of_every_body_holds_to_its_schema(visits: Visits) -> None:
    told: dict[str, Any] = TestClient(visits.app).get("/api/v1/openapi.json").json()
    bodies = [
        body
        for path in told["paths"].values()
        for way in path.values()
        for body in way.get("requestBody", {}).get("content", {}).values()
        if body["schema"].get("format") != "binary"
    ]

    assert len(bodies) == 31
    for body in bodies:
        named = body["schema"].get("$ref", "").rpartition("/")[2]
        schema = told["components"]["schemas"][named] if named else body["schema"]
        example = schema["example"] if named else body["example"]
        Draft202012Validator({**schema, "components": told["components"]}).validate(example)


def test_answers_hold_to_their_own_description(visits: Visits) -> None:
    client = visits.of(Role.CREW)
    described: dict[str, Any] = client.get("/api/v1/openapi.json").json()
    addresses = {
        "/api/v1/{agency}/revisions": "/revisions",
        "/api/v1/{agency}/revisions/{number}": "/revisions/1",
        "/api/v1/{agency}/revisions/in-force": "/revisions/in-force",
        "/api/v1/{agency}/revisions/{number}/check": "/revisions/1/check",
        "/api/v1/{agency}/findings": "/findings",
        "/api/v1/{agency}/findings/{number}": "/findings/1",
        "/api/v1/{agency}/limits": "/limits?age=7+mo",
        "/api/v1/{agency}/practice": "/practice",
    }
    visits.seed(lambda tx: a_report(tx, as_signed(heart_rate_high=limit(200))))

    for path, address in addresses.items():
        answer = described["paths"][path]["get"]["responses"]["200"]
        schema = answer["content"]["application/json"]["schema"]
        whole = schema | {"components": described["components"]}
        Draft202012Validator(whole).validate(client.get(V1 + address).json())
