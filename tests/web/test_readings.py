"""Reading blind through the pages: nothing signed is told before it is locked."""

import re
from pathlib import Path

import pytest
from sqlmodel import Session, func, select
from starlette.testclient import TestClient

from app.actions.quarantines import place_in_quarantine
from app.domain.people import Role
from app.storage.database import Database
from app.storage.reports import ReportRow
from tests.builders import (
    DAY,
    HOUR,
    MINUTE,
    NOW,
    PRESET,
    a_device,
    a_document,
    a_person,
    a_report,
    a_signed_revision,
    as_signed,
    limit,
)
from tests.web.blind_readings import (
    BEGUN,
    DEVICE,
    READ,
    asked_in,
    begin,
    hidden_in,
    look,
    read,
    typed,
)
from tests.web.visits import Visits

ALL = "/skerry/readings"
GRID = {"from": 20, "to": 250, "step": 5}
DESCRIBED = {
    "dunlin": {
        "presets": {
            key: {"carries": key} for key in ("neonate", "infant", PRESET, "school", "adult")
        },
        "grid": {"heart-rate-high": GRID, "heart-rate-low": GRID},
        "retention_min": 4,
    }
}


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path) -> Visits:
    return Visits(sqlite_database, tmp_path)


@pytest.fixture
def femi(visits: Visits) -> TestClient:
    visits.seed(ready)
    return visits.of(Role.FLEET_MANAGER)


def ready(tx: Session) -> None:
    a_signed_revision(tx)
    a_device(tx)


def described(tx: Session) -> None:
    a_signed_revision(tx, document=a_document() | {"models": DESCRIBED})
    a_device(tx)


def hold(tx: Session) -> None:
    femi = a_person(tx, Role.FLEET_MANAGER)
    place_in_quarantine(tx, finding_id=1, reason="a patient was harmed", by=femi, now=NOW)


def reports_in(visits: Visits) -> int:
    with visits.database.reading() as tx:
        return tx.exec(select(func.count()).select_from(ReportRow)).one()


class TestFinding:
    def test_a_tag_leads_to_its_device(self, femi: TestClient) -> None:
        found = femi.get(f"{ALL}?tag=boat-3")

        assert (found.status_code, found.headers["location"]) == (303, READ)

    def test_a_tag_that_nobody_has_is_told(self, femi: TestClient) -> None:
        page = femi.get(f"{ALL}?tag=boat-33").text

        assert "There is no device boat-33" in page
        assert 'value="boat-33"' in page

    def test_where_a_look_is_wanted_is_listed(self, femi: TestClient, visits: Visits) -> None:
        again = read(femi, heart_rate_high="150").headers["location"]
        tess = visits.of(Role.TECHNICIAN)

        assert f'href="{again}"' in tess.get(ALL).text
        assert f'href="{again}"' in tess.get(READ).text
        visits.now = NOW + DAY + MINUTE
        assert "No second look is wanted" in tess.get(ALL).text
        assert f'href="{again}"' not in tess.get(READ).text

    def test_whoever_looked_at_something_unsafe_waits_for_others(self, femi: TestClient) -> None:
        read(femi, heart_rate_high="200")

        assert "somebody else makes this look" in femi.get(ALL).text


class TestBeginning:
    def test_nothing_is_filled_in_beforehand(self, femi: TestClient) -> None:
        page = femi.get(READ).text

        given = re.findall(r'<input(?! type="(?:hidden|radio)")[^>]* value="([^"]+)"', page)
        assert given == []
        assert " checked" not in page

    def test_a_link_may_bring_the_preset_and_the_reason(self, femi: TestClient) -> None:
        page = femi.get(f"{READ}?preset={PRESET}&trigger=sample").text

        assert hidden_in(page)["preset"] == PRESET
        assert 'value="sample" checked' in page
        assert page.count(" checked") == 1

    @pytest.mark.parametrize(
        ("wrong", "told"),
        [
            ({"preset": ""}, "choose one of the presets"),
            ({"preset": "CHILD"}, "choose one of the presets"),
            ({"state_read": ""}, "say in which state"),
            ({"trigger": ""}, "say why it is read"),
            ({"software": ""}, "write what the device shows"),
            ({"minutes_off": "ten"}, "write whole minutes"),
        ],
    )
    def test_a_slip_is_told_and_nothing_typed_is_lost(
        self, femi: TestClient, wrong: dict[str, str], told: str
    ) -> None:
        sent = hidden_in(femi.get(READ).text) | BEGUN | {"device_clock": "08:01"} | wrong

        refused = femi.post(READ, data=sent)

        assert refused.status_code == 422
        assert told in refused.text
        assert 'value="08:01"' in refused.text
        assert hidden_in(refused.text)["key"] == sent["key"]

    def test_sent_twice_it_begins_once(self, femi: TestClient) -> None:
        sent = hidden_in(femi.get(READ).text) | BEGUN

        assert [femi.post(READ, data=sent).headers["location"] for _ in range(2)] == [
            "/skerry/readings/1"
        ] * 2

    def test_without_a_policy_there_is_nothing_to_ask(self, visits: Visits) -> None:
        visits.seed(lambda tx: a_device(tx))

        assert "No policy is in force" in visits.of(Role.CREW).get(READ).text


class TestTheBlindLook:
    def test_nothing_signed_is_in_it(self, visits: Visits) -> None:
        """With another policy in force the form is the same, byte for byte."""
        visits.seed(described)
        femi = visits.of(Role.FLEET_MANAGER)
        before = femi.get(begin(femi)).text
        other = a_document(
            {"heart-rate-low": 71, "heart-rate-high": 173, "spo2-low": 91, "apnoea": 18}
        )
        visits.seed(lambda tx: a_signed_revision(tx, document=other | {"models": DESCRIBED}))
        after = femi.get(begin(femi)).text

        assert "Heart rate high" in before
        assert after.replace("/skerry/readings/2", "/skerry/readings/1") == before

    def test_nothing_is_filled_in_beforehand(self, femi: TestClient) -> None:
        page = femi.get(begin(femi)).text

        assert (
            re.findall(r'<input(?! type="(?:hidden|radio|checkbox)")[^>]* value="[^"]+"', page)
            == []
        )
        assert " checked" not in page
        assert " selected" not in page

    def test_the_device_is_not_shown_while_it_is_read(
        self, femi: TestClient, visits: Visits
    ) -> None:
        visits.seed(lambda tx: a_report(tx, as_signed(heart_rate_high=limit(203))))

        page = femi.get(begin(femi)).text

        assert "unsafe" not in page
        assert "203" not in page
        assert f'href="{DEVICE}"' not in page

    def test_steps_come_from_what_the_model_can_be_set_to(self, visits: Visits) -> None:
        visits.seed(described)
        femi = visits.of(Role.FLEET_MANAGER)

        page = femi.get(begin(femi)).text

        assert 'data-from="20" data-to="250" data-step="5" data-who="a dunlin"' in page
        assert 'data-from="40" data-to="100" data-step="1" data-who="this alarm"' in page

    @pytest.mark.parametrize(
        ("wrong", "told"),
        [
            ({"heart_rate_high": ""}, "nothing is entered"),
            ({"heart_rate_high": "17O"}, "write a number"),
            ({"heart_rate_high": "170", "heart_rate_high__found": "off"}, "not both"),
            ({"heart_rate_high": "351"}, "goes from 10 to 350 /min"),
            ({"heart_rate_high": "", "heart_rate_high__found": "could-not-read"}, "say why"),
            ({"asystole__found": ""}, "nothing is entered"),
        ],
    )
    def test_a_slip_is_told_at_its_alarm_and_nothing_typed_is_lost(
        self, femi: TestClient, visits: Visits, wrong: dict[str, str], told: str
    ) -> None:
        address = begin(femi)

        refused = look(femi, address, **({"spo2_low": "88"} | wrong))

        assert refused.status_code == 422
        assert told in refused.text
        assert reports_in(visits) == 0
        kept = set(re.findall(r'name="([^"]+)"[^>]* value="([^"]+)"', refused.text))
        assert ("spo2-low", "88") in kept

    def test_a_refusal_tells_nothing_signed_either(self, femi: TestClient) -> None:
        refused = look(femi, begin(femi), heart_rate_high="").text

        assert "170" not in refused
        assert 'value="75"' in refused  # typed

    def test_what_the_device_cannot_show_is_taken_after_a_second_look(
        self, femi: TestClient
    ) -> None:
        address = begin(femi)
        sent = typed(femi, address, heart_rate_high="351", heart_rate_high__sure="yes")

        assert femi.post(address, data=sent).status_code == 303

    def test_what_is_left_empty_was_not_read_if_that_is_said(self, femi: TestClient) -> None:
        address = begin(femi)
        sent = hidden_in(femi.get(address).text) | {"heart-rate-low": "75", "rest": "yes"}

        locked = femi.post(address, data=sent)

        assert femi.get(locked.headers["location"]).text.count("not read</span>") == 11
        assert "not judged" in femi.get(DEVICE).text

    def test_nothing_read_at_all_is_no_reading(self, femi: TestClient) -> None:
        address = begin(femi)

        refused = femi.post(address, data=hidden_in(femi.get(address).text) | {"rest": "yes"})

        assert refused.status_code == 422
        assert "nothing was read" in refused.text

    def test_a_look_without_its_number_is_refused(self, femi: TestClient) -> None:
        address = begin(femi)

        assert femi.post(address, data=typed(femi, address) | {"look": "9"}).status_code == 409


class TestLocking:
    def test_what_conforms_leads_to_its_report(self, femi: TestClient) -> None:
        locked = read(femi)

        assert locked.headers["location"] == f"{DEVICE}/reports/1"
        assert "What was read holds." in femi.get(f"{DEVICE}/reports/1").text

    def test_sent_twice_it_is_stored_once(self, femi: TestClient, visits: Visits) -> None:
        address = begin(femi)
        sent = typed(femi, address)

        first = femi.post(address, data=sent)
        visits.now = NOW + MINUTE
        second = femi.post(address, data=sent)

        assert first.headers["location"] == second.headers["location"]
        assert reports_in(visits) == 1

    def test_sent_again_with_something_else_it_changes_nothing(
        self, femi: TestClient, visits: Visits
    ) -> None:
        """As the back button lets somebody do."""
        address = begin(femi)
        sent = typed(femi, address)
        femi.post(address, data=sent)

        again = femi.post(address, data=sent | {"spo2-low": "88"})

        assert again.status_code == 409
        assert "locked by Femi already" in again.text
        assert reports_in(visits) == 1

    def test_what_deviates_is_asked_again_without_a_word_of_what_it_was(
        self, femi: TestClient
    ) -> None:
        locked = read(femi, heart_rate_high="150")

        page = femi.get(locked.headers["location"]).text

        assert "Look again: 3 alarms." in page
        assert "heart-rate-high" in asked_in(page)
        assert len(asked_in(page)) == 3
        for word in ("170", "150", "tighter", "looser", "noise", "off protocol"):
            assert word not in page

    @pytest.mark.parametrize(
        ("address", "told"),
        [
            (DEVICE, "waits for another look"),
            (f"{DEVICE}/reports/1", "Somebody is to look again"),
            (f"{DEVICE}/past", "Never read before then"),
            (READ, "look again"),
            (ALL, "boat-3, preschool, by"),
        ],
    )
    def test_no_page_of_the_device_tells_what_a_waiting_look_found(
        self, femi: TestClient, address: str, told: str
    ) -> None:
        read(femi, heart_rate_high="155")

        page = femi.get(address).text

        assert told in page
        assert "155" not in page
        assert "sounds already" not in page

    def test_confirmed_it_is_told_with_every_look(self, femi: TestClient, visits: Visits) -> None:
        again = read(femi, heart_rate_high="150").headers["location"]
        visits.now = NOW + MINUTE
        settled = look(femi, again, heart_rate_high="150").headers["location"]

        page = femi.get(settled).text

        assert "sounds already at 150 /min instead of 170: noise." in page
        assert f'<a href="{DEVICE}/reports/1">Look 1</a>: 12 alarms, by Femi' in page
        assert "What they bear out" in page
        assert f'href="{settled}"' in femi.get(again).text
        assert f'<a href="{settled}">What they bear out</a>' in femi.get(f"{DEVICE}/reports/1").text

    def test_something_unsafe_is_told_without_a_value_and_waits_for_somebody_else(
        self, femi: TestClient, visits: Visits
    ) -> None:
        again = read(femi, heart_rate_high="203").headers["location"]

        mine = femi.get(again).text
        theirs = visits.of(Role.TECHNICIAN).get(again).text

        for page in (mine, theirs):
            assert "Keep boat-3 from the next patient" in page
            assert "203" not in page
            assert "170" not in page
        assert "Somebody else looks now" in mine
        assert asked_in(mine) == set()
        assert len(asked_in(theirs)) == 3

    def test_nobody_is_sent_to_switch_off_what_is_in_quarantine(
        self, femi: TestClient, visits: Visits
    ) -> None:
        again = read(femi, heart_rate_high="203").headers["location"]
        tess = visits.of(Role.TECHNICIAN)
        before = tess.get(again).text
        visits.seed(hold)

        for address in (again, READ):
            assert "do not switch it off" in tess.get(address).text
        assert "Bring the device into the same state" in before
        assert "Bring the device into the same state" not in tess.get(again).text

    def test_too_short_a_pause_is_told_at_its_field(self, visits: Visits) -> None:
        visits.seed(described)
        femi = visits.of(Role.FLEET_MANAGER)
        again = read(femi, heart_rate_high="150").headers["location"]
        visits.now = NOW + MINUTE
        sent = typed(femi, again, heart_rate_high="150") | {"minutes_off": "4"}
        short = femi.post(again, data=sent)

        assert short.status_code == 422
        assert "leave it off longer" in short.text

    def test_after_a_day_it_is_read_anew(self, femi: TestClient, visits: Visits) -> None:
        again = read(femi, heart_rate_high="150").headers["location"]
        visits.now = NOW + DAY + HOUR

        page = femi.get(again).text

        assert "A day has passed" in page
        assert f'href="{READ}?preset={PRESET}"' in page


@pytest.mark.parametrize("path", [READ, ALL, "/skerry/readings/1"])
def test_another_agency_finds_nothing(femi: TestClient, visits: Visits, path: str) -> None:
    begin(femi)
    outsider = visits.of_outsider()

    assert outsider.get(path).status_code == 404
    elsewhere = outsider.get(path.replace("skerry", "elsewhere"))
    assert elsewhere.status_code == (200 if path == ALL else 404)


@pytest.mark.parametrize(
    ("role", "status"),
    [(Role.FLEET_MANAGER, 200), (Role.TECHNICIAN, 200), (Role.CREW, 200), (Role.AUTHOR, 403)],
)
def test_who_reads_devices(femi: TestClient, visits: Visits, role: Role, status: int) -> None:
    begin(femi)
    person = visits.of(role)

    for path in (READ, ALL, "/skerry/readings/1"):
        assert person.get(path).status_code == status
    assert person.post(READ, data={}).status_code == (422 if status == 200 else 403)


def test_a_crew_reading_says_so(femi: TestClient, visits: Visits) -> None:
    cruz = visits.of(Role.CREW)

    locked = look(cruz, begin(cruz, trigger="handover")).headers["location"]

    assert "Cruz (sent in by crew)" in femi.get(locked).text
    assert "no part of a random sample" in femi.get(locked).text


@pytest.mark.parametrize(
    ("role", "offered"), [(None, True), (Role.CREW, True), (Role.AUTHOR, False)]
)
def test_the_code_on_a_device_offers_to_read_it(
    visits: Visits, role: Role | None, offered: bool
) -> None:
    """Whoever is not signed in may be somebody who reads."""
    visits.seed(ready)
    client = TestClient(visits.app) if role is None else visits.of(role)

    page = client.get("/skerry/d/boat-3").text

    assert (f'href="{READ}"' in page) is offered
    assert ("sign-in needed" in page) is (role is None)
