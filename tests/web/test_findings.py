import csv
import io
import re
from datetime import timedelta
from pathlib import Path

import pytest
from sqlmodel import Session
from starlette.testclient import TestClient

from app.domain.device_reports import FoundOff, StateRead
from app.domain.people import Role
from app.storage.database import Database
from tests.builders import (
    HOUR,
    MINUTE,
    NOW,
    a_device,
    a_report,
    a_signed_revision,
    as_signed,
    limit,
)
from tests.web.visits import Visits, statements

ALL, ONE = "/skerry/findings", "/skerry/findings/1"
HELD = "/skerry/devices/boat-3/quarantine"
CONSEQUENCE = "Heart rate can rise from 170 to 200 /min unannounced."


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path) -> Visits:
    found = Visits(sqlite_database, tmp_path)
    found.seed(strayed)
    return found


def strayed(tx: Session) -> None:
    a_signed_revision(tx)
    a_device(tx)
    a_report(tx, as_signed(heart_rate_high=limit(200), spo2_low=limit(92)))


def listed(client: TestClient, asked: str = "") -> list[str]:
    return re.findall(
        r'<a href="/skerry/findings/\d+">([^<]+)</a></p>', client.get(ALL + asked).text
    )


def move(client: TestClient, to: str, note: str = "seen to") -> int:
    return client.post(ONE, data={"to": to, "note": note}).status_code


class TestTheList:
    def test_the_gravest_stands_first_with_its_consequence(self, visits: Visits) -> None:
        assert listed(visits.of(Role.FLEET_MANAGER)) == [
            CONSEQUENCE,
            "SpO₂ sounds already at 92 % instead of 90: noise.",
        ]

    @pytest.mark.parametrize(
        ("asked", "found"),
        [
            ("?severity=unsafe", 1),
            ("?severity=off-protocol", 1),
            ("?severity=&status=not-closed", 2),
            ("?status=open", 2),
            ("?status=contained", 0),
            ("?status=closed", 0),
            ("?station=North", 2),
            ("?station=South", 0),
            ("?device=boat-3", 2),
            ("?device=boat-4", 0),
            ("?status=nonsense", 2),
            ("?status=any", 2),
            ("?status=look-again", 0),
            ("?model=dunlin", 2),
            ("?model=petrel", 0),
            ("?alarm=heart-rate-high", 1),
            ("?alarm=heart-rate-low", 0),
            ("?cause=software-update", 0),
            ("?kind=held", 2),
            ("?kind=use", 0),
            ("?owner=me", 0),
            ("?owner=nonsense", 2),
            ("?overdue=yes", 0),
            ("?accepted=yes", 0),
            ("?quarantined=yes", 0),
            ("?page=9", 2),
            ("?page=nonsense", 2),
        ],
    )
    def test_it_is_narrowed(self, visits: Visits, asked: str, found: int) -> None:
        assert len(listed(visits.of(Role.QUALITY_OFFICER), asked)) == found

    def test_a_station_that_was_chosen_stays_chosen_though_nothing_is_found(
        self, visits: Visits
    ) -> None:
        page = visits.of(Role.FLEET_MANAGER).get(f"{ALL}?station=South").text

        assert '<option value="South" selected>' in page

    @pytest.mark.parametrize(
        ("later", "told"), [(HOUR, "next step due"), (HOUR + MINUTE, "overdue")]
    )
    def test_what_is_late_says_so(self, visits: Visits, later: timedelta, told: str) -> None:
        femi = visits.of(Role.FLEET_MANAGER)
        visits.now = NOW + later

        assert told in femi.get(f"{ALL}?severity=unsafe").text

    def test_it_costs_the_same_however_many_there_are(self, visits: Visits) -> None:
        femi = visits.of(Role.FLEET_MANAGER)
        femi.get(ALL)
        with statements(visits.database) as few:
            femi.get(ALL)

        def more(tx: Session) -> None:
            for number in range(8):
                a_device(tx, f"kit-{number}")
                a_report(tx, as_signed(spo2_low=FoundOff()), device=f"kit-{number}")

        visits.seed(more)
        with statements(visits.database) as many:
            assert len(listed(femi)) == 10

        assert 0 < len(few) == len(many)


class TestItsLife:
    def test_each_step_needs_its_note_and_is_stamped(self, visits: Visits) -> None:
        tess = visits.of(Role.TECHNICIAN)

        assert move(tess, "contained", note=" ") == 422
        assert move(tess, "contained", note="taken off the boat") == 303

        page = tess.get(ONE).text
        assert "taken off the boat" in page
        assert re.search(r"<strong>contained</strong>\s*<span>Tess, ", page)
        assert "What was set, and why had it strayed?" in page

    def test_a_step_out_of_turn_is_told_and_changes_nothing(self, visits: Visits) -> None:
        refused = visits.of(Role.TECHNICIAN).post(
            ONE, data={"to": "corrected", "note": "kept text"}
        )

        assert refused.status_code == 409
        assert "A finding that is open cannot become corrected." in refused.text
        assert "kept text" in refused.text

    def test_the_word_of_who_corrected_it_verifies_nothing(self, visits: Visits) -> None:
        tess = visits.of(Role.TECHNICIAN)
        move(tess, "contained")
        move(tess, "corrected")

        refused = tess.post(ONE, data={"to": "verified"})

        assert refused.status_code == 409
        assert "Nobody but Tess has read" in refused.text

    def test_the_reading_that_verified_it_is_named(self, visits: Visits) -> None:
        tess = visits.of(Role.TECHNICIAN)
        move(tess, "contained")
        move(tess, "corrected")
        visits.seed(lambda tx: a_report(tx, read_at=NOW + MINUTE))
        visits.now = NOW + HOUR

        assert move(tess, "verified", note="") == 303
        closing = {"to": "closed", "cause": "human-set", "heard": "yes", "seen": "not-tested"}
        assert tess.post(ONE, data={"to": "closed"}).status_code == 422
        assert tess.post(ONE, data=closing).status_code == 303
        page = tess.get(ONE).text
        assert re.search(r"by <a href=\"/skerry/devices/boat-3/reports/2\">report 2</a>", page)
        assert "it is closed" in page
        assert len(listed(tess, "?status=closed")) == 1

    @pytest.mark.parametrize(
        ("role", "works"),
        [
            (Role.FLEET_MANAGER, True),
            (Role.TECHNICIAN, True),
            (Role.MEDICAL_DIRECTOR, True),
            (Role.CREW, False),
            (Role.AUTHOR, False),
        ],
    )
    def test_the_buttons_are_there_for_those_who_may(
        self, visits: Visits, role: Role, works: bool
    ) -> None:
        person = visits.of(role)

        assert (">Contain</button>" in person.get(ONE).text) is works
        assert move(person, "contained") == (303 if works else 403)

    @pytest.mark.parametrize("path", [ALL, ONE])
    def test_another_agency_finds_nothing(self, visits: Visits, path: str) -> None:
        outsider = visits.of_outsider()

        assert outsider.get(path).status_code == 404
        assert outsider.get(path.replace("skerry", "elsewhere")).status_code == (
            200 if path == ALL else 404
        )

    def test_what_is_not_there_is_not_found(self, visits: Visits) -> None:
        assert visits.of(Role.FLEET_MANAGER).get("/skerry/findings/99").status_code == 404


def post(client: TestClient, path: str, **data: str) -> int:
    return client.post(f"{ONE}{path}", data=data).status_code


def contained(visits: Visits) -> TestClient:
    femi = visits.of(Role.FLEET_MANAGER)
    assert move(femi, "contained", note="off the boat") == 303
    return femi


class TestWords:
    def test_the_director_accepts_it_and_takes_it_back(self, visits: Visits) -> None:
        dana = visits.of(Role.MEDICAL_DIRECTOR)

        assert post(dana, "/accept", reason="next revision", until="2026-03-04") == 303
        page = dana.get(ONE).text
        assert "Accepted by Dana until 4 Mar 2026:" in page
        assert "The device still differs." in page
        assert len(listed(dana, "?accepted=yes")) == 1
        assert post(dana, "/withdraw") == 303
        assert "Accepted by Dana until" not in dana.get(ONE).text

    def test_when_its_day_is_over_it_says_so(self, visits: Visits) -> None:
        dana = visits.of(Role.MEDICAL_DIRECTOR)
        post(dana, "/accept", reason="next revision", until="2026-03-04")
        visits.now = NOW + timedelta(days=3)

        assert "That day is over." in dana.get(ONE).text
        assert listed(dana, "?accepted=yes") == []
        assert len(listed(dana, "?overdue=yes&severity=unsafe")) == 1

    @pytest.mark.parametrize(
        ("reason", "until"), [(" ", "2026-03-04"), ("x", "soon"), ("x", "2026-03-01")]
    )
    def test_what_is_missing_is_told_and_nothing_typed_is_lost(
        self, visits: Visits, reason: str, until: str
    ) -> None:
        dana = visits.of(Role.MEDICAL_DIRECTOR)
        answer = dana.post(f"{ONE}/accept", data={"reason": reason, "until": until})

        assert answer.status_code == 422
        assert "Nothing was stored." in answer.text
        assert f'value="{until}"' in answer.text

    def test_an_owner_finds_his_own(self, visits: Visits) -> None:
        femi, tess = visits.of(Role.FLEET_MANAGER), visits.of(Role.TECHNICIAN)

        assert post(femi, "/assign", owner="tess") == 303
        assert len(listed(tess, "?owner=me")) == 1
        assert listed(femi, "?owner=me") == []
        assert post(femi, "/assign", owner="nobody-here") == 422

    def test_a_comment_stands_in_the_story_as_text(self, visits: Visits) -> None:
        cruz = visits.of(Role.CREW)

        assert post(cruz, "/comments", text="<b>as told</b>") == 303
        assert "&lt;b&gt;as told&lt;/b&gt;" in cruz.get(ONE).text
        assert post(cruz, "/comments", text=" ") == 422

    @pytest.mark.parametrize(
        ("path", "data"),
        [
            ("/accept", {"reason": "x", "until": "2026-03-04"}),
            ("/withdraw", {}),
            ("/assign", {"owner": "femi"}),
            ("/quarantine", {"why": "x"}),
        ],
    )
    def test_a_crew_changes_nothing(self, visits: Visits, path: str, data: dict[str, str]) -> None:
        assert post(visits.of(Role.CREW), path, **data) == 403

    def test_what_a_step_must_not_say_is_refused(self, visits: Visits) -> None:
        femi = contained(visits)
        wrong = {"to": "corrected", "note": "set to 170", "cause": "ghosts"}

        assert femi.post(ONE, data=wrong).status_code == 422


class TestQuarantine:
    def hold(self, visits: Visits) -> TestClient:
        femi = contained(visits)
        assert post(femi, "/quarantine", why="harm is possible") == 303
        return femi

    def test_it_is_told_wherever_the_device_is(self, visits: Visits) -> None:
        femi = self.hold(visits)

        order = "Do not power-cycle, discharge or erase it. Export the log first."
        for path in (ONE, HELD, "/skerry/devices/boat-3"):
            assert order in femi.get(path).text
        assert "in quarantine" in femi.get(ALL).text
        assert len(listed(femi, "?quarantined=yes")) == 2
        assert "leave it as it is" in femi.get("/skerry/d/boat-3").text
        assert "in quarantine" in femi.get("/skerry/fleet").text

    def test_correcting_waits_for_the_log(self, visits: Visits) -> None:
        femi = self.hold(visits)

        assert move(femi, "corrected") == 409
        log = {"fingerprint": "AB" * 32, "place": "safe, drive 2"}
        assert femi.post(f"{HELD}/log", data={**log, "fingerprint": "ab"}).status_code == 422
        assert femi.post(f"{HELD}/log", data=log).status_code == 303
        assert "ab" * 32 in femi.get(HELD).text
        assert move(femi, "corrected") == 303

    def test_the_director_can_go_on_without(self, visits: Visits) -> None:
        femi = self.hold(visits)
        dana = visits.of(Role.MEDICAL_DIRECTOR)

        assert femi.post(f"{HELD}/without-log", data={"why": "x"}).status_code == 403
        assert "Go on without the log" not in femi.get(HELD).text
        assert dana.post(f"{HELD}/without-log", data={"why": "no port"}).status_code == 303
        assert "Dana lets it go on without: no port" in femi.get(HELD).text

    def test_its_custody_is_a_chain(self, visits: Visits) -> None:
        femi = self.hold(visits)
        link = {
            "given_by": "Femi",
            "taken_by": "Maker’s courier",
            "at": "2026-03-02T09:00",
            "place": "depot",
            "seal": "4417",
        }

        assert femi.post(f"{HELD}/custody", data=link).status_code == 303
        page = femi.get(HELD).text
        assert "Femi → Maker’s courier" in page
        assert "seal 4417" in page
        early = femi.post(f"{HELD}/custody", data={**link, "at": "2026-03-02T08:59"})
        assert early.status_code == 422
        assert "before the last entry" in early.text
        assert femi.post(f"{HELD}/custody", data={**link, "at": "noon"}).status_code == 422

    def test_it_is_released_and_the_past_stays(self, visits: Visits) -> None:
        femi = self.hold(visits)
        dana = visits.of(Role.MEDICAL_DIRECTOR)

        assert femi.post(f"{HELD}/release", data={"reason": "x"}).status_code == 409
        assert dana.post(f"{HELD}/release", data={"reason": "all written"}).status_code == 303
        page = femi.get(HELD).text
        assert "is not in quarantine" in page
        assert "Released by Dana: all written" in page
        assert femi.post(f"{HELD}/release", data={"reason": "x"}).status_code == 409

    def test_a_device_that_is_not_there_is_not_found(self, visits: Visits) -> None:
        nowhere = HELD.replace("boat-3", "boat-99")

        assert visits.of(Role.CREW).get(nowhere).status_code == 404


class TestTheFile:
    def rows(self, client: TestClient, asked: str = "") -> list[dict[str, str]]:
        answer = client.get(f"{ALL}.csv{asked}")
        assert answer.headers["content-disposition"].startswith("attachment")
        return list(csv.DictReader(io.StringIO(answer.content.decode("utf-8-sig"))))

    def test_it_holds_what_the_list_tells(self, visits: Visits) -> None:
        quinn = visits.of(Role.QUALITY_OFFICER)

        first, second = self.rows(quinn)
        assert first["consequence"] == CONSEQUENCE
        assert (first["signed"], first["found"]) == ("170 /min", "200 /min")
        assert (second["severity"], second["overdue"]) == ("off-protocol", "no")
        assert len(self.rows(quinn, "?severity=unsafe")) == 1
        assert self.rows(quinn, "?station=South") == []

    def test_no_cell_is_a_formula(self, visits: Visits) -> None:
        femi = visits.of(Role.FLEET_MANAGER)
        move(femi, "contained", note="=1+1")

        assert self.rows(femi)[0]["note"] == "'=1+1"


class TestSiblings:
    def test_devices_at_risk_are_a_list_to_take_along(self, visits: Visits) -> None:
        visits.seed(lambda tx: a_device(tx, "boat-4"))
        femi = visits.of(Role.FLEET_MANAGER)

        page = femi.get(f"{ONE}/siblings").text
        assert '<a href="/skerry/devices/boat-4">boat-4</a>' in page
        assert "same station" in page
        taken = femi.get(f"{ONE}/siblings.csv").content.decode("utf-8-sig")
        assert taken.splitlines()[1] == "boat-4,North,dunlin,,same station"

    def test_alone_it_says_so(self, visits: Visits) -> None:
        assert "No other device" in visits.of(Role.CREW).get(f"{ONE}/siblings").text

    def test_what_is_not_there_is_not_found(self, visits: Visits) -> None:
        cruz = visits.of(Role.CREW)

        assert cruz.get("/skerry/findings/99/siblings").status_code == 404
        assert cruz.get("/skerry/findings/99/siblings.csv").status_code == 404


class TestInUse:
    @pytest.fixture
    def tess(self, visits: Visits) -> TestClient:
        def beyond(tx: Session) -> None:
            readings = as_signed(heart_rate_high=limit(210))
            a_report(tx, readings, state_read=StateRead.IN_USE, read_at=NOW + MINUTE)

        visits.seed(beyond)
        return visits.of(Role.TECHNICIAN)

    def test_what_a_crew_set_is_a_note_of_its_own(self, tess: TestClient) -> None:
        (told,) = listed(tess, "?kind=use")
        page = tess.get("/skerry/findings/3").text

        assert "Heart rate can rise from 170 to 210" in told
        assert "It says nothing of what the device holds" in page
        assert "Looking back" not in page
        assert "Put boat-3 in quarantine" not in page
        assert len(listed(tess, "?kind=held")) == 2

    def test_it_is_spoken_about_and_closed(self, tess: TestClient) -> None:
        use = "/skerry/findings/3"

        assert tess.post(use, data={"to": "contained", "note": "x"}).status_code == 409
        assert tess.post(use, data={"to": "closed"}).status_code == 422
        spoken = {"to": "closed", "note": "They meant the other patient category."}
        assert tess.post(use, data=spoken).status_code == 303
        assert listed(tess, "?kind=use") == []

    @pytest.mark.usefixtures("tess")
    def test_nobody_accepts_it_for_a_time(self, visits: Visits) -> None:
        dana = visits.of(Role.MEDICAL_DIRECTOR)
        data = {"reason": "x", "until": "2026-03-04"}

        assert dana.post("/skerry/findings/3/accept", data=data).status_code == 409


def test_more_than_a_page_is_turned_over(visits: Visits) -> None:
    def many(tx: Session) -> None:
        for number in range(50):
            a_device(tx, f"kit-{number}")
            a_report(tx, as_signed(spo2_low=FoundOff()), device=f"kit-{number}")

    visits.seed(many)
    femi = visits.of(Role.FLEET_MANAGER)

    assert len(listed(femi)) == 50
    assert len(listed(femi, "?page=2")) == 2
    assert "Page 1 of 2" in femi.get(ALL).text
    assert (
        'href="/skerry/findings?severity=unsafe&amp;page=2"'
        in femi.get(f"{ALL}?severity=unsafe").text
    )
