import re
from datetime import timedelta
from pathlib import Path

import pytest
from sqlmodel import Session
from starlette.testclient import TestClient

from app.domain.device_reports import FoundOff
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
        assert move(tess, "closed", note="") == 303
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
