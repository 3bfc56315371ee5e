import html
import re
from datetime import timedelta
from pathlib import Path

import pytest
from sqlmodel import Session
from starlette.testclient import TestClient

from app.domain.people import Role
from app.lookups import fleet as fleet_lookup
from app.storage.database import Database
from app.web import fleet
from tests.builders import (
    DAY,
    HOUR,
    MINUTE,
    NOW,
    PRESET,
    a_device,
    a_document,
    a_report,
    a_signed_revision,
    as_signed,
    limit,
)
from tests.web.blind_readings import DEVICE, READ, begin, look, read
from tests.web.visits import Visits, statements

FLEET = "/skerry/fleet"


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


def kits(tx: Session, many: int) -> None:
    for number in range(many):
        a_device(tx, f"kit-{number}")
        a_report(tx, device=f"kit-{number}")


class TestTheWall:
    def test_it_shows_every_device_as_mark_and_in_the_table(
        self, femi: TestClient, visits: Visits
    ) -> None:
        visits.seed(lambda tx: a_report(tx, as_signed(heart_rate_high=limit(200))))
        visits.seed(lambda tx: a_device(tx, "boat-4"))
        visits.now = NOW + 3 * DAY

        page = femi.get(FLEET).text

        assert 'aria-label="boat-3: unsafe, looser, read 3 days ago"' in page
        assert 'aria-label="boat-4: not judged, never read, under water"' in page
        assert "revision 1 began" in page
        assert page.index('<a href="/skerry/devices/boat-3">') < page.index(
            '<a href="/skerry/devices/boat-4">'
        )

    def test_without_devices_it_says_what_will_be_there(self, visits: Visits) -> None:
        page = visits.of(Role.FLEET_MANAGER).get(FLEET)

        assert "There is no device yet" in page.text

    @pytest.mark.parametrize(
        ("asked", "found"),
        [
            ("?start=3", {"boat-3", "boat-4"}),
            ("?start=3&end=3", {"boat-3"}),
            ("?start=4&end=400", set()),
            ("?station=North", {"boat-3", "boat-4"}),
            ("?station=South", set()),
            ("?start=soon", {"boat-3", "boat-4"}),
            ("?status=not-judged", {"boat-3", "boat-4"}),
            ("?status=holds", set()),
            ("?status=fine", {"boat-3", "boat-4"}),
            ("?overdue=1", {"boat-4"}),
            ("?never=1", {"boat-4"}),
        ],
    )
    def test_a_stretch_makes_the_job_list(
        self, femi: TestClient, visits: Visits, asked: str, found: set[str]
    ) -> None:
        visits.seed(lambda tx: a_report(tx))
        visits.seed(lambda tx: a_device(tx, "boat-4"))
        visits.now = NOW + 3 * DAY

        page = femi.get(FLEET + asked).text

        assert set(re.findall(r'<th scope="row"><a href="/skerry/devices/([^"]+)"', page)) == found

    def test_a_large_fleet_is_counted_by_station(self, femi: TestClient, visits: Visits) -> None:
        visits.seed(lambda tx: kits(tx, 45))

        page = femi.get(FLEET).text

        assert "counted by station" in page
        assert '<a href="?station=North">North</a>' in page
        assert 'aria-label="kit-1:' not in page
        assert "kit-1</a>" in femi.get(f"{FLEET}?station=North").text

    def test_every_figure_of_a_counted_wall_leads_to_its_devices(
        self, femi: TestClient, visits: Visits
    ) -> None:
        visits.seed(lambda tx: kits(tx, 45))
        page = html.unescape(femi.get(FLEET).text)

        assert 'aria-label="North: 45 in all, 0 to 21 days ago"' in page
        assert "<strong>46</strong> not judged</a>" in page
        for query, devices in (
            ("?station=North&start=0&end=21", 45),
            ("?station=North&never=1", 1),
        ):
            assert f'href="{query}#list"' in page
            assert f"{devices} device" in femi.get(FLEET + query).text

    def test_every_stretch_of_the_axis_is_a_link(self, femi: TestClient) -> None:
        page = html.unescape(femi.get(FLEET).text)

        assert (
            'href="?station=&start=0&end=44#list" aria-label="Job list: read 0 to 44 d ago"' in page
        )
        assert 'href="?station=&never=1#list" aria-label="Job list: never read"' in page

    def test_a_long_list_has_pages(
        self, femi: TestClient, visits: Visits, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        for module in (fleet, fleet_lookup):
            monkeypatch.setattr(module, "MOST_LISTED", 4)
        visits.seed(lambda tx: kits(tx, 5))

        first, second = (femi.get(f"{FLEET}?station=North&page={n}").text for n in (1, 2))

        assert "6 devices, what needs somebody first; these are 1 to 4" in first
        assert 'rel="next" href="?station=North&amp;page=2#list"' in first
        assert "these are 5 to 6" in second
        assert 'rel="next"' not in second
        assert "The list is not that long" in femi.get(f"{FLEET}?page=9").text

    def test_it_costs_the_same_however_large_the_fleet(
        self, femi: TestClient, visits: Visits
    ) -> None:
        femi.get(FLEET)
        with statements(visits.database) as few:
            femi.get(FLEET)
        visits.seed(lambda tx: kits(tx, 10))
        with statements(visits.database) as many:
            femi.get(FLEET)

        assert 0 < len(few) == len(many)


class TestTheChangeover:
    @pytest.fixture
    def behind(self, femi: TestClient, visits: Visits) -> TestClient:
        """Read before the second revision began, which moved one limit of one category."""
        visits.seed(lambda tx: a_report(tx))
        visits.seed(
            lambda tx: a_signed_revision(
                tx, document=a_document({"heart-rate-high": 165}), now=NOW + DAY
            )
        )
        visits.now = NOW + 2 * DAY
        return femi

    def test_the_wall_says_which_device_a_revision_has_not_reached(
        self, behind: TestClient
    ) -> None:
        assert "not yet reached by revision 2: holds revision 1" in behind.get(FLEET).text

    def test_the_device_page_shows_the_gap_beside_the_judgement_of_then(
        self, behind: TestClient
    ) -> None:
        page = behind.get(DEVICE).text

        assert "not yet reached by revision 2: holds revision 1" in page
        assert "held against revision 1 (no longer the one in force)" in page
        assert "Beside revision 2, in force today" in page
        assert "Perhaps: as in revision 1." in page

    def test_after_the_changeover_it_was_missed(self, behind: TestClient, visits: Visits) -> None:
        visits.now = NOW + 31 * DAY

        assert "missed by the changeover to revision 2" in behind.get(FLEET).text


class TestThePauseBefore:
    @pytest.mark.parametrize(
        ("minutes_off", "told", "unchanged"),
        [
            (4, "off for only 4 min", True),
            (5, "", False),
            (None, "minutes off not recorded", False),
        ],
    )
    def test_the_report_says_whether_it_was_too_short(
        self, visits: Visits, minutes_off: int | None, told: str, unchanged: bool
    ) -> None:
        keeping = a_document() | {"models": {"dunlin": {"retention_min": 4}}}
        visits.seed(lambda tx: a_signed_revision(tx, document=keeping))
        visits.seed(lambda tx: a_device(tx))
        visits.seed(lambda tx: a_report(tx, minutes_off=minutes_off))

        page = visits.of(Role.FLEET_MANAGER).get(f"{DEVICE}/reports/1").text

        assert told in page
        assert ("its place on the wall is unchanged" in page) is unchanged


class TestAddingADevice:
    def test_it_stands_on_the_wall_at_once(self, femi: TestClient) -> None:
        added = femi.post(
            f"{FLEET}/add", data={"tag": "boat-9", "model": "dunlin", "station": "Harbour"}
        )

        assert (added.status_code, added.headers["location"]) == (303, "/skerry/devices/boat-9")
        assert "boat-9: not judged, never read" in femi.get(FLEET).text

    @pytest.mark.parametrize(
        ("wrong", "told"),
        [
            ({"tag": "boat-3"}, "a device has this tag already"),
            ({"tag": "boat 9"}, "use 1 to 40 letters"),
            ({"station": ""}, "this must not be empty"),
        ],
    )
    def test_what_was_typed_stays(self, femi: TestClient, wrong: dict[str, str], told: str) -> None:
        typed = {"tag": "boat-9", "model": "petrel", "station": "Harbour"} | wrong

        refused = femi.post(f"{FLEET}/add", data=typed)

        assert refused.status_code == 422
        assert told in refused.text
        assert 'value="petrel"' in refused.text

    def test_only_a_fleet_manager_adds(self, visits: Visits) -> None:
        tess = visits.of(Role.TECHNICIAN)

        assert tess.get(f"{FLEET}/add").status_code == 403
        assert tess.post(f"{FLEET}/add", data={"tag": "x"}).status_code == 403
        assert "Add a device" not in tess.get(FLEET).text


class TestAfterLocking:
    def test_the_consequence_comes_first(self, femi: TestClient, visits: Visits) -> None:
        visits.seed(
            lambda tx: a_report(tx, as_signed(heart_rate_high=limit(200), spo2_low=limit(92)))
        )

        page = femi.get(f"{DEVICE}/reports/1").text

        sentence = "Heart rate can rise from 170 to 200 /min unannounced."
        assert page.index(sentence) < page.index("Signed beside found")
        assert "boat-3, power-on, preschool (1 y to 5 y)" in page
        assert "SpO₂ sounds already at 92 % instead of 90: noise." in page
        assert 'aria-label="Heart rate high: signed 170 /min, found 200 /min, silent' in page
        assert "/skerry/findings/1" in page

    def test_what_conforms_is_said_in_one_line(self, femi: TestClient) -> None:
        locked = read(femi)

        page = femi.get(locked.headers["location"]).text

        assert "What was read holds." in page
        assert "12 of 12 alarms" in page

    def test_a_reading_in_use_moves_nothing(self, femi: TestClient) -> None:
        locked = look(femi, begin(femi, state_read="in-use"))

        assert "place on the wall is unchanged" in femi.get(locked.headers["location"]).text
        assert "never read" in femi.get(FLEET).text

    def test_before_any_policy_it_is_kept_and_not_judged(
        self, femi: TestClient, visits: Visits
    ) -> None:
        visits.seed(lambda tx: a_report(tx, read_at=NOW - DAY))

        page = femi.get(f"{DEVICE}/reports/1").text

        assert "No policy was in force when it was read" in page

    def test_a_report_is_found_under_its_own_device_only(
        self, femi: TestClient, visits: Visits
    ) -> None:
        visits.seed(lambda tx: (a_report(tx), a_device(tx, "boat-4")))

        assert femi.get(f"{DEVICE}/reports/1").status_code == 200
        assert femi.get("/skerry/devices/boat-4/reports/1").status_code == 404


class TestTheDevicePage:
    def test_it_tells_what_is_known_and_what_is_not(self, femi: TestClient, visits: Visits) -> None:
        visits.seed(lambda tx: a_report(tx, as_signed(heart_rate_high=limit(200))))

        page = femi.get(DEVICE).text

        assert "unsafe, looser" in page
        assert "1 of 5 presets read." in page
        assert "Heart rate can rise from 170 to 200 /min unannounced." in page
        assert page.count("Never read in a state that counts.") == 4
        assert "/skerry/findings/1" in page

    @pytest.mark.parametrize(
        ("presets", "later", "told"),
        [
            ((), 0 * DAY, "It was never read in a state that counts"),
            ((PRESET,), 0 * DAY, "Only 1 of 5 presets read."),
            (("neonate", "infant", PRESET, "school", "adult"), 90 * DAY, "5 of 5 presets read; "),
            (
                ("neonate", "infant", PRESET, "school", "adult"),
                90 * DAY + MINUTE,
                "past the check interval",
            ),
        ],
    )
    def test_it_says_what_its_status_stands_on(
        self, visits: Visits, presets: tuple[str, ...], later: timedelta, told: str
    ) -> None:
        def walk(tx: Session) -> None:
            ready(tx)
            for preset in presets:
                a_report(tx, as_signed(preset), preset=preset)

        visits.seed(walk)
        visits.now = NOW + later

        assert told in visits.of(Role.FLEET_MANAGER).get(DEVICE).text

    def test_it_costs_the_same_however_often_it_was_read(
        self, femi: TestClient, visits: Visits
    ) -> None:
        visits.seed(lambda tx: a_report(tx))
        femi.get(DEVICE)
        with statements(visits.database) as few:
            femi.get(DEVICE)
        strayed = as_signed(heart_rate_high=limit(200), spo2_low=limit(80))
        visits.seed(
            lambda tx: [a_report(tx, strayed, read_at=NOW + hours * HOUR) for hours in range(1, 9)]
        )
        visits.now = NOW + DAY
        femi.get(DEVICE)
        with statements(visits.database) as many:
            femi.get(DEVICE)

        assert 0 < len(few) == len(many)


@pytest.mark.parametrize(
    "path", [FLEET, DEVICE, READ, f"{DEVICE}/reports/1", f"{FLEET}/add", "/skerry/findings"]
)
def test_another_agency_finds_nothing(visits: Visits, path: str) -> None:
    visits.seed(ready)
    visits.seed(a_report)

    assert visits.of_outsider().get(path).status_code == 404


@pytest.mark.parametrize(
    ("role", "status"),
    [(Role.FLEET_MANAGER, 200), (Role.TECHNICIAN, 200), (Role.CREW, 200), (Role.AUTHOR, 403)],
)
def test_who_reads_devices(visits: Visits, role: Role, status: int) -> None:
    visits.seed(ready)
    person = visits.of(role)

    assert person.get(READ).status_code == status
    assert person.get(DEVICE).status_code == 200
    assert ("Read it blind" in person.get(DEVICE).text) is (status == 200)
