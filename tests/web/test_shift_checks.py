"""The shift check as a plain form, what it brings, and the list of those who want one."""

import re
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from app.domain.people import Role
from app.domain.shift_questions import Answer, Question
from app.storage.database import Database
from tests.builders import (
    DAY,
    HOUR,
    MINUTE,
    NOW,
    PRESET,
    a_device,
    a_person,
    a_signed_revision,
    limit,
)
from tests.shift_checks import a_check, at_shift
from tests.web.visits import Visits

TYPED = {
    "device": "boat-3",
    "preset": PRESET,
    "state_read": "power-on",
    "minutes_off": "10",
    "heart-rate-low": "75",
    "heart-rate-high": "170",
    "spo2-low": "90",
    "spo2-high.found": "off",
    "respiratory-rate-low": "15",
    "apnoea": "20",
    **{question.value: "yes" for question in Question},
}
V1 = "/api/v1/skerry/checks"


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path) -> Visits:
    visits = Visits(sqlite_database, tmp_path)
    visits.seed(a_signed_revision)
    visits.seed(a_device)
    return visits


@pytest.fixture
def cruz(visits: Visits) -> TestClient:
    visits.of(Role.TECHNICIAN)
    return visits.of(Role.CREW)


def sent(client: TestClient, **instead: str) -> Any:
    key = re.search(r'name="key" value="([^"]+)"', client.get("/skerry/check").text)
    assert key is not None
    return client.post("/skerry/checks", data=TYPED | {"key": key[1]} | instead)


def body(**instead: Any) -> dict[str, Any]:
    wanted: dict[str, Any] = {
        "device": "boat-3",
        "preset": PRESET,
        "state_read": "power-on",
        "readings": {
            "heart-rate-low": {"state": "on", "limit": 75},
            "spo2-low": {"state": "could-not-read", "why": "glare"},
        },
        "answers": {"alarms-on": "yes"},
    }
    return wanted | instead


class TestForm:
    def test_nothing_is_filled_in_and_nothing_signed_is_in_it(self, visits: Visits) -> None:
        for address in ("/skerry/check?device=boat-3", "/skerry/check", "/skerry/check/kept"):
            page = TestClient(visits.app).get(address).text

            assert " checked" not in page
            assert " selected" not in page
            values = re.findall(r'<input(?![^>]*type="radio")[^>]*value="([^"]+)"', page)
            assert [v for v in values if len(v) < 20 and v != "boat-3" and v[0] != "/"] == []
            assert re.findall(r">\s*(?:75|170|90)\b", page) == []

    def test_somebody_of_another_agency_is_nobody_here(self, visits: Visits) -> None:
        for address in ("/skerry/check?device=boat-3", "/skerry/limits", "/skerry/d/boat-3"):
            page = visits.of_outsider().get(address).text

            assert 'data-agency="skerry" data-known="yes" data-person=""' in page
        assert "You are not signed in" in visits.of_outsider().get("/skerry/check").text

    def test_a_known_device_asks_for_its_own_presets_alone(self, visits: Visits) -> None:
        page = TestClient(visits.app).get("/skerry/check?device=boat-3").text

        assert 'name="device" value="boat-3"' in page
        assert f'value="{PRESET}"' in page

    def test_an_unknown_tag_is_told_and_may_be_mended(self, visits: Visits) -> None:
        answer = TestClient(visits.app).get("/skerry/check?device=boat-33")

        assert answer.status_code == 404
        assert "There is no device boat-33." in answer.text
        assert 'value="boat-33"' in answer.text

    def test_the_kept_form_is_told_apart_by_its_content(self, visits: Visits) -> None:
        anybody = TestClient(visits.app)
        first = anybody.get("/skerry/check/kept")

        again = anybody.get("/skerry/check/kept", headers={"If-None-Match": first.headers["etag"]})

        assert (again.status_code, again.content) == (304, b"")
        assert "data-known" not in first.text
        assert visits.of(Role.CREW).get("/skerry/check/kept").text == first.text

    def test_without_signing_in_nothing_is_taken(self, visits: Visits) -> None:
        answer = sent(TestClient(visits.app, follow_redirects=False))

        assert answer.status_code == 401


class TestSending:
    def test_what_conforms_is_told_without_a_value(self, cruz: TestClient) -> None:
        answer = sent(cruz)

        assert answer.status_code == 303
        page = cruz.get(answer.headers["location"]).text
        assert "What you read holds the policy" in page
        assert "75" not in page.partition("<main")[2]

    def test_the_same_form_twice_is_one_check(self, cruz: TestClient) -> None:
        first = sent(cruz, key="one and the same")
        again = sent(cruz, key="one and the same")

        assert first.headers["location"] == again.headers["location"]

    def test_unsafe_says_first_what_to_do(self, cruz: TestClient) -> None:
        page = cruz.get(sent(cruz, **{"heart-rate-high": "200"}).headers["location"]).text

        assert "Unsafe: keep it from the next patient" in page
        assert page.index("Swap boat-3 for another device now") < page.index("Look again at")
        assert "tell the fleet manager" in page
        assert "200" not in page

    @pytest.mark.parametrize(
        ("instead", "told"),
        [
            ({"heart-rate-low": ""}, "nothing is entered"),
            ({"heart-rate-low": "seven"}, "write a number, such as 25"),
            ({"heart-rate-low": "2"}, "look again, then tick"),
            ({"spo2-high": "97"}, "not both"),
            ({"spo2-high.found": "could-not-read"}, "say why it could not be read"),
            ({"preset": ""}, "choose what it shows"),
            ({"state_read": ""}, "say how it was when you looked"),
            ({"state_read": "stored-preset"}, "say how it was when you looked"),
            ({"volume": ""}, "answer this"),
            ({"volume": "not-fitted"}, "answer this"),
            ({"minutes_off": "ten"}, "write whole minutes"),
            ({"device": "boat-33"}, "There is no device boat-33."),
            ({"device": ""}, "write the tag on its label"),
        ],
    )
    def test_what_is_missing_is_told_and_nothing_typed_is_lost(
        self, cruz: TestClient, instead: dict[str, str], told: str
    ) -> None:
        answer = sent(cruz, remark="A crack at the corner", **instead)

        assert answer.status_code == 422
        assert told in answer.text
        assert "A crack at the corner" in answer.text
        assert 'value="15"' in answer.text


class TestApi:
    def test_a_phone_sends_what_it_kept(self, visits: Visits, cruz: TestClient) -> None:
        queued = {
            "phone": "one",
            "number": 4,
            "locked_at": "2026-03-02T11:00:00Z",
            "sent_at": "2026-03-02T12:00:00Z",
        }
        headers = {"Idempotency-Key": "made when it was locked"}

        first = cruz.post(V1, json=body(queued=queued), headers=headers)
        visits.wait(MINUTE)
        later = queued | {"sent_at": "2026-03-02T12:01:00Z"}
        again = cruz.post(V1, json=body(queued=later), headers=headers)

        assert first.status_code == 201
        told = first.json()
        assert (told["read_at"], told["clock_ahead_s"]) == ("2026-03-02T08:00:00Z", 3 * 3600)
        assert (told["result"], told["unread"]) == ("partly", 1)
        assert again.json() == told

    @pytest.mark.parametrize(
        ("instead", "status", "told"),
        [
            ({"device": "boat-33"}, 404, "no device boat-33"),
            ({"readings": {"heart-rate-lowest": {"state": "off"}}}, 422, "no alarm condition"),
            ({"readings": {"apnoea": {"state": "on"}}}, 422, "needs its limit"),
            ({"answers": {"weather": "yes"}}, 422, "alarms-on"),
            ({"state_read": "asleep"}, 422, "power-on"),
            ({"reader": "dana"}, 403, "Let dana sign in"),
            ({"queued": {"phone": "a", "number": 1}}, 422, "locked_at"),
            ({"signed": 1}, 422, "signed"),
        ],
    )
    def test_refusals_name_what_is_wrong(
        self, cruz: TestClient, instead: dict[str, Any], status: int, told: str
    ) -> None:
        answer = cruz.post(
            V1, json=body(**instead), headers={"Idempotency-Key": "a key of this check"}
        )

        assert answer.status_code == status
        assert told in answer.text

    def test_without_signing_in_it_is_not_taken(self, visits: Visits) -> None:
        anybody = TestClient(visits.app)
        answer = anybody.post(V1, json=body(), headers={"Idempotency-Key": "a key of this check"})

        assert answer.status_code == 401

    def test_the_devices_that_want_one(self, visits: Visits, cruz: TestClient) -> None:
        visits.seed(lambda tx: a_device(tx, "boat-4"))
        sent(cruz)

        told = cruz.get(V1).json()

        assert (told["every_hours"], told["done"], told["wanted"]) == (24, 1, 2)
        assert [(one["device"], one["overdue"], one["in_a_row"]) for one in told["devices"]] == [
            ("boat-4", True, 0),
            ("boat-3", False, 1),
        ]


class TestList:
    def test_what_crews_found_is_put_right_by_somebody_else(self, visits: Visits) -> None:
        tess = visits.of(Role.TECHNICIAN)
        check = visits.seed(lambda tx: a_check(tx, answers={Question.VOLUME: Answer.NO}))
        path = f"/skerry/checks/{check.id}/put-right"
        before = tess.get("/skerry/checks").text

        empty = tess.post(path, data={"note": " "})
        answer = tess.post(path, data={"note": "Volume 7, heard in the cabin"})

        assert "Seen only by somebody" not in before
        assert "it was not heard at the seat" in before
        assert (empty.status_code, answer.status_code) == (422, 303)
        assert "this must not be empty" in empty.text
        after = tess.get("/skerry/checks").text
        assert "Nothing waits" in after
        assert "heard in the cabin" in tess.get(f"/skerry/checks/{check.id}").text

    def test_who_found_it_sees_no_form(self, visits: Visits) -> None:
        femi = visits.of(Role.FLEET_MANAGER)
        visits.seed(
            lambda tx: a_check(
                tx, answers={Question.VOLUME: Answer.NO}, by=a_person(tx, Role.FLEET_MANAGER)
            )
        )

        page = femi.get("/skerry/checks").text

        assert "somebody else says that it is put right" in page
        assert "put-right" not in page

    def test_overdue_devices_come_first(self, visits: Visits) -> None:
        visits.seed(lambda tx: a_device(tx, "boat-4"))
        visits.seed(a_check)
        visits.now = NOW + DAY

        page = visits.of(Role.FLEET_MANAGER).get("/skerry/checks").text

        assert "<strong>2 of 2</strong> devices in service" in page
        assert page.index("boat-4") < page.index("boat-3")

    def test_another_agency_sees_none_of_it(self, visits: Visits) -> None:
        check = visits.seed(a_check)

        assert visits.of_outsider().get(f"/skerry/checks/{check.id}").status_code == 404


class TestDevicePage:
    def test_it_leads_to_the_check_and_tells_the_last_one(self, visits: Visits) -> None:
        anybody = TestClient(visits.app)
        before = anybody.get("/skerry/d/boat-3").text
        visits.seed(a_check)

        after = anybody.get("/skerry/d/boat-3").text

        assert 'href="/skerry/check?device=boat-3"' in before
        assert "No shift check was ever sent in" in before
        assert "Last shift check 2 Mar 2026, 09:00 GMT" in after

    def test_policy_and_device_stand_beside_each_other_while_they_differ(
        self, visits: Visits
    ) -> None:
        anybody = TestClient(visits.app)
        visits.seed(lambda tx: a_check(tx, readings=at_shift(heart_rate_high=limit(200))))
        same = anybody.get("/skerry/d/boat-3").text
        visits.seed(lambda tx: a_signed_revision(tx, in_force_at=NOW + HOUR))
        visits.wait(2 * HOUR)

        apart = anybody.get("/skerry/d/boat-3").text

        assert "not the same revision" not in same
        assert "not the same revision" in apart
        assert "Revision 2, since 2 Mar 2026" in apart
        assert "Not verified: held against revision 1, and it was unsafe, 2 Mar 2026" in apart
