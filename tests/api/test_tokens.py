"""Programs act by tokens: what they may, how often, once, and never for another agency."""

import json
import re
from pathlib import Path

import pytest
from httpx2 import Response
from starlette.testclient import TestClient

from app.api.rate_limits import MOST_A_MINUTE, RateLimits
from app.domain.errors import TooMany
from app.domain.people import Role, Scope
from app.storage.database import Database
from tests.api.test_reports_in import BODY, READINGS, REPORTS, counted, problem, with_
from tests.builders import DAY, MINUTE, NOW, a_device, a_signed_revision, olu
from tests.reading_files import GOOD, LOOSER, a_file
from tests.storage.ledgers import bodies
from tests.web.visits import Visits

FINDINGS, BATCH = "/api/v1/skerry/findings", f"{REPORTS}/batch"
EVERY = tuple(Scope)


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path) -> Visits:
    found = Visits(sqlite_database, tmp_path)
    found.seed(a_signed_revision)
    found.seed(a_device)
    return found


def given(ada: TestClient, name: str = "Weighbridge", *scopes: Scope, days: int = 30) -> str:
    form = {"name": name, "days": str(days), "scopes": list(scopes or EVERY)}
    page = ada.post("/skerry/tokens", data=form).text
    found = re.search(r'<code class="token">([^<]+)</code>', page)
    assert found is not None, page
    return found[1]


def program(visits: Visits, token: str) -> TestClient:
    headers = {"Authorization": f"Bearer {token}"}
    return TestClient(visits.app, headers=headers, follow_redirects=False)


@pytest.fixture
def ada(visits: Visits) -> TestClient:
    return visits.of(Role.ADMINISTRATOR)


@pytest.fixture
def rig(visits: Visits, ada: TestClient) -> TestClient:
    return program(visits, given(ada))


def send(client: TestClient, content: bytes, key: str = "", kind: str = "text/csv") -> Response:
    headers = {"Content-Type": kind, **({"Idempotency-Key": key} if key else {})}
    return client.post(READINGS, content=content, headers=headers)


def send_batch(
    client: TestClient, body: object, key: str = "once", kind: str = "application/json"
) -> Response:
    text = body if isinstance(body, str) else json.dumps(body)
    return client.post(BATCH, content=text, headers={"Content-Type": kind, "Idempotency-Key": key})


class TestWhatATokenMay:
    @pytest.mark.parametrize(
        ("scopes", "sees", "sends"),
        [
            ((Scope.READ_FLEET,), 200, 403),
            ((Scope.SEND_READINGS,), 403, 200),
            (EVERY, 200, 200),
        ],
    )
    def test_it_does_what_its_scopes_say(
        self, visits: Visits, ada: TestClient, scopes: tuple[Scope, ...], sees: int, sends: int
    ) -> None:
        rig = program(visits, given(ada, "Rig", *scopes))

        assert rig.get(FINDINGS).status_code == sees
        assert send(rig, a_file(GOOD)).status_code == sends

    def test_it_opens_no_page_and_signs_nothing(self, rig: TestClient) -> None:
        assert rig.get("/skerry/fleet").status_code == 303
        assert rig.get("/skerry/tokens").headers["location"].startswith("/sign-in")
        answer = rig.post("/api/v1/skerry/outer-bounds/1/sign", json={})
        assert answer.status_code in (403, 404, 405, 422)

    def test_the_ledger_and_the_report_name_it(self, visits: Visits, rig: TestClient) -> None:
        send(rig, a_file(GOOD))

        with visits.database.reading() as tx:
            last = bodies(tx)[-1]
        assert (last["did"], last["by"]) == ("take in a file of readings", "token weighbridge")
        page = visits.of(Role.FLEET_MANAGER).get("/skerry/devices/boat-3/reports/1").text
        assert "Weighbridge (program)" in page

    @pytest.mark.usefixtures("rig")
    def test_it_is_no_person(self, visits: Visits, ada: TestClient) -> None:
        assert "Weighbridge" not in ada.get("/skerry/people").text
        form = {"agency": "skerry", "username": "token weighbridge", "password": "none"}
        answer = TestClient(visits.app, follow_redirects=False).post("/sign-in", data=form)
        assert answer.status_code == 401

    @pytest.mark.parametrize(
        "path", [FINDINGS.replace("skerry", "elsewhere"), "/api/v1/no/findings"]
    )
    def test_of_another_agency_it_finds_nothing(
        self, visits: Visits, rig: TestClient, path: str
    ) -> None:
        visits.seed(olu)

        problem(rig.get(path), 404)


class TestWhenItWorks:
    @pytest.mark.parametrize("token", ["", "guessed", "none"])
    def test_a_token_that_nobody_gave_does_not(self, visits: Visits, token: str) -> None:
        problem(program(visits, token).get(FINDINGS), 401)

    def test_it_is_stored_as_a_digest_only(self, visits: Visits, ada: TestClient) -> None:
        token = given(ada)

        raw = Path(str(visits.database.engine.url.database)).read_bytes()
        assert token.encode() not in raw
        assert token not in ada.get("/skerry/tokens").text

    def test_taken_back_it_does_nothing_more(self, ada: TestClient, rig: TestClient) -> None:
        assert rig.get(FINDINGS).status_code == 200

        ada.post("/skerry/tokens/1/take-back")

        problem(rig.get(FINDINGS), 401)
        assert "taken back" in ada.get("/skerry/tokens").text

    @pytest.mark.parametrize(("waited", "status"), [(30 * DAY - MINUTE, 200), (30 * DAY, 401)])
    def test_it_ends(self, visits: Visits, rig: TestClient, waited: object, status: int) -> None:
        visits.wait(waited)  # type: ignore[arg-type]

        assert rig.get(FINDINGS).status_code == status

    def test_when_it_was_used_last_is_shown(self, ada: TestClient, rig: TestClient) -> None:
        assert "<td>never</td>" in ada.get("/skerry/tokens").text

        rig.get(FINDINGS)

        assert "<td>never</td>" not in ada.get("/skerry/tokens").text


class TestHowOften:
    def test_at_the_limit_just_under_and_just_over(self) -> None:
        limits = RateLimits()
        for _ in range(MOST_A_MINUTE):
            limits.count(1, NOW)

        with pytest.raises(TooMany) as told:
            limits.count(1, NOW + MINUTE / 4)

        assert told.value.seconds == 45
        limits.count(2, NOW)
        limits.count(1, NOW + MINUTE)

    def test_too_often_is_told_with_the_seconds_to_wait(
        self, visits: Visits, rig: TestClient
    ) -> None:
        visits.app.state.rate_limits.most = 1
        rig.get(FINDINGS)

        answer = rig.get(FINDINGS)

        problem(answer, 429)
        assert answer.headers["Retry-After"] == "60"


class TestOnce:
    def test_the_same_key_and_file_give_the_same_answer(
        self, visits: Visits, rig: TestClient
    ) -> None:
        first = send(rig, a_file(GOOD), "monday")
        before = counted(visits)

        again = send(rig, a_file(GOOD), "monday")

        assert (again.status_code, again.json()) == (200, first.json())
        assert first.json()["new"] == 1
        assert counted(visits) == before

    def test_the_same_key_and_another_file_are_a_conflict(
        self, visits: Visits, rig: TestClient
    ) -> None:
        send(rig, a_file(GOOD), "monday")
        before = counted(visits)

        other = a_file(LOOSER.replace("09:00:00Z", "08:00:00Z"))
        problem(send(rig, other, "monday"), 409)

        assert counted(visits) == before

    def test_what_was_refused_is_not_remembered(self, rig: TestClient) -> None:
        problem(send(rig, a_file("boat-3"), "monday"), 422)

        assert send(rig, a_file(GOOD), "monday").status_code == 200

    def test_two_programs_have_their_own_keys(
        self, visits: Visits, ada: TestClient, rig: TestClient
    ) -> None:
        send(rig, a_file(GOOD), "monday")

        other = program(visits, given(ada, "Other rig"))

        assert send(other, a_file(GOOD), "monday").json()["known"] == 1


class TestBatches:
    TWO = (BODY, with_(read_at="2026-03-02T08:00:00Z"))

    def test_an_array_and_a_report_a_line_are_the_same(self, rig: TestClient) -> None:
        lines = "\n".join(json.dumps(one) for one in self.TWO)

        answer = send_batch(rig, lines, kind="application/x-ndjson")

        assert answer.status_code == 201
        assert [one["read_at"] for one in answer.json()] == [one["read_at"] for one in self.TWO]
        problem(send_batch(rig, list(self.TWO), "other"), 409)

    def test_the_same_again_changes_nothing(self, visits: Visits, rig: TestClient) -> None:
        first = send_batch(rig, list(self.TWO))
        before = counted(visits)

        assert send_batch(rig, list(self.TWO)).json() == first.json()
        assert counted(visits) == before
        problem(send_batch(rig, [BODY]), 409)

    def test_one_bad_report_stores_none(self, visits: Visits, rig: TestClient) -> None:
        before = counted(visits)

        told = problem(send_batch(rig, [BODY, with_(state_read="asleep")]), 422)

        assert "report 2" in told["detail"]
        assert counted(visits) == before

    @pytest.mark.parametrize("body", ["[]", "", "7"])
    def test_nothing_and_no_report_are_refused(self, rig: TestClient, body: str) -> None:
        problem(send_batch(rig, body), 422)


def test_the_description_tells_of_tokens(visits: Visits) -> None:
    told = TestClient(visits.app).get("/api/v1/openapi.json").json()

    (scheme,) = told["components"]["securitySchemes"].values()
    assert (scheme["type"], scheme["scheme"]) == ("http", "bearer")
    assert "/api/v1/{agency}/reports/batch" in told["paths"]


class TestGiving:
    @pytest.mark.parametrize(
        ("role", "status"), [(Role.ADMINISTRATOR, 200), (Role.FLEET_MANAGER, 403)]
    )
    def test_only_an_administrator_gives_them(
        self, visits: Visits, role: Role, status: int
    ) -> None:
        form = {"name": "Rig", "days": "30", "scopes": "read-fleet"}

        client = visits.of(role)

        assert client.get("/skerry/tokens").status_code == status
        assert client.post("/skerry/tokens", data=form).status_code == status

    @pytest.mark.parametrize(
        ("form", "why"),
        [
            ({"name": "", "days": "30", "scopes": "read-fleet"}, "must not be empty"),
            ({"name": "Rig", "days": "0", "scopes": "read-fleet"}, "choose 1 to 366 days"),
            ({"name": "Rig", "days": "367", "scopes": "read-fleet"}, "choose 1 to 366 days"),
            ({"name": "Rig", "days": "30"}, "choose what it may do"),
        ],
    )
    def test_what_is_wrong_is_told_at_the_form(
        self, ada: TestClient, form: dict[str, str], why: str
    ) -> None:
        answer = ada.post("/skerry/tokens", data=form)

        assert answer.status_code == 422
        assert why in answer.text

    def test_a_name_is_used_once(self, ada: TestClient) -> None:
        given(ada)

        form = {"name": "WEIGHBRIDGE", "days": "30", "scopes": "read-fleet"}

        assert "another token has this name" in ada.post("/skerry/tokens", data=form).text
