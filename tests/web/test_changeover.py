import re
from pathlib import Path

import pytest
from sqlmodel import Session
from starlette.testclient import TestClient

from app.domain.people import Role
from app.storage.database import Database
from tests.adopted_bounds import adopted_bounds
from tests.builders import (
    DAY,
    NOW,
    PRESET,
    a_device,
    a_document,
    a_report,
    a_signed_revision,
    as_signed,
    limit,
)
from tests.web.visits import Visits

CHANGEOVER = "/skerry/fleet/changeover"
EVERY = ("neonate", "infant", PRESET, "school", "adult")
BEGAN = NOW + DAY


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path) -> Visits:
    return Visits(sqlite_database, tmp_path)


def behind(tx: Session) -> None:
    """One device read as signed before the second revision began, one that nobody has read."""
    a_signed_revision(tx)
    for preset in EVERY:
        a_device(tx)
        a_report(tx, as_signed(preset), preset=preset)
    a_device(tx, "boat-4")
    a_signed_revision(tx, document=a_document({"heart-rate-high": 165}), now=BEGAN)


@pytest.fixture
def femi(visits: Visits) -> TestClient:
    visits.seed(behind)
    femi = visits.of(Role.FLEET_MANAGER)
    visits.now = BEGAN + DAY
    return femi


def text_of(page: str) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", page))


def options_never_read(tx: Session) -> None:
    behind(tx)
    told = {"audio-volume": 80, "default-lead": "II"}
    options = {key: {"value": value, "reason": "agreed"} for key, value in told.items()}
    a_signed_revision(tx, document={**a_document(), "options": options}, now=BEGAN + DAY)


class TestOptions:
    def test_they_stand_among_the_jobs_with_what_is_signed(self, visits: Visits) -> None:
        visits.seed(options_never_read)
        femi = visits.of(Role.FLEET_MANAGER)
        visits.now = BEGAN + 2 * DAY
        told = text_of(femi.get(CHANGEOVER).text)

        assert "options never read" in told
        assert "Audio volume: not known → 80 %" in told
        assert "read?preset=%2A&amp;trigger=" in femi.get(CHANGEOVER).text

    def test_a_work_order_names_them(self, visits: Visits) -> None:
        visits.seed(options_never_read)
        femi = visits.of(Role.FLEET_MANAGER)
        visits.now = BEGAN + 2 * DAY
        told = text_of(femi.get(f"{CHANGEOVER}/orders").text)

        assert "Options, never read" in told
        assert "Audio volume not known 80 %" in told


class TestThePage:
    def test_it_says_what_it_means_then_what_to_set(self, femi: TestClient) -> None:
        told = text_of(femi.get(CHANGEOVER).text)

        assert "2 devices not verified yet: they may alarm by an older policy" in told
        assert "Heart rate high: 170 /min → 165 /min" in told
        assert "everything; nobody knows what it holds" in told
        assert "80 % in 7 days: not yet" in told
        assert "missed" not in told.replace("was missed", "")

    def test_what_was_verified_names_the_reader(self, femi: TestClient, visits: Visits) -> None:
        changed = as_signed(heart_rate_high=limit(165))
        visits.seed(lambda tx: a_report(tx, changed, read_at=BEGAN))
        told = text_of(femi.get(CHANGEOVER).text)

        assert "1 device not verified yet" in told
        assert "1 of 2 devices on which there is anything to do" in told
        assert "boat-3" not in told

    @pytest.mark.parametrize(
        ("role", "shown"), [(Role.FLEET_MANAGER, True), (Role.QUALITY_OFFICER, False)]
    )
    def test_a_job_leads_to_its_reading(self, visits: Visits, role: Role, shown: bool) -> None:
        visits.seed(behind)
        visits.now = BEGAN + DAY
        page = visits.of(role).get(CHANGEOVER).text

        here = f"/skerry/devices/boat-3/read?preset={PRESET}&amp;trigger=after%20a%20new%20revision"
        assert (here in page) is shown

    def test_a_missed_device_stands_out(self, femi: TestClient, visits: Visits) -> None:
        visits.now = BEGAN + 30 * DAY

        page = femi.get(CHANGEOVER).text

        assert "2 devices were missed: not verified within 30 days" in text_of(page)
        assert page.count('<li class="device-jobs missed">') == 2
        assert "100 % in 30 days: missed" in page

    def test_the_curve_has_its_figures_beside_it(self, femi: TestClient) -> None:
        page = femi.get(CHANGEOVER).text

        assert '<path class="risen" d="M' in page
        assert re.search(
            r'<th scope="row">2</th><td class="number">0</td><td class="number">2', page
        )

    @pytest.mark.parametrize(("station", "shown"), [("North", True), ("South", False)])
    def test_it_is_narrowed_to_a_station(self, femi: TestClient, station: str, shown: bool) -> None:
        page = femi.get(f"{CHANGEOVER}?station={station}").text

        assert ("/skerry/devices/boat-4" in page) is shown

    def test_it_can_be_prepared_ahead(self, visits: Visits) -> None:
        visits.seed(lambda tx: a_signed_revision(tx))
        visits.seed(lambda tx: a_device(tx))
        visits.seed(lambda tx: a_signed_revision(tx, in_force_at=NOW + 5 * DAY))
        femi = visits.of(Role.FLEET_MANAGER)

        assert 'href="?revision=2"' in femi.get(CHANGEOVER).text
        ahead = femi.get(f"{CHANGEOVER}?revision=2").text
        assert "set them when it begins" in ahead
        assert '<path class="risen"' not in ahead

    def test_without_a_policy_there_is_nothing_to_bring(self, visits: Visits) -> None:
        page = visits.of(Role.FLEET_MANAGER).get(CHANGEOVER)

        assert "there is nothing to bring to the devices" in page.text

    @pytest.mark.parametrize("number", [1, 9])
    def test_a_revision_that_is_over_has_none(self, femi: TestClient, number: int) -> None:
        assert femi.get(f"{CHANGEOVER}?revision={number}").status_code == 404


class TestWorkOrders:
    def test_one_sheet_a_device_with_what_is_known_and_what_to_set(self, femi: TestClient) -> None:
        page = femi.get(f"{CHANGEOVER}/orders").text
        told = text_of(page)

        assert page.count('<section class="order">') == 2
        assert "Heart rate high 170 /min 165 /min" in told
        assert "Somebody else reads it blind afterwards" in told
        assert "not known" in told
        assert page.count("no advice for a patient") >= 2

    def test_presets_that_are_done_are_left_out(self, femi: TestClient) -> None:
        page = femi.get(f"{CHANGEOVER}/orders?device=boat-3").text

        assert f"<h3>{PRESET}" in page
        assert "<h3>adult" not in page

    def test_with_nothing_to_do_there_is_no_sheet(self, femi: TestClient) -> None:
        assert femi.get(f"{CHANGEOVER}/orders?device=nobody").status_code == 404


class TestTheApi:
    def test_it_says_the_same(self, femi: TestClient) -> None:
        told = femi.get("/api/v1/skerry/changeover").json()

        assert (told["revision"], told["devices"], told["matching"]) == (2, 2, 2)
        boat = next(one for one in told["jobs"] if one["device"] == "boat-3")
        states = {job["preset"]: job["state"] for job in boat["jobs"]}
        assert states == {
            preset: "not read since" if preset == PRESET else "holds already" for preset in EVERY
        }
        assert [target["missed"] for target in told["targets"]] == [False, False]

    def test_it_leaves_out_what_was_seen(self, femi: TestClient) -> None:
        told = femi.get("/api/v1/skerry/changeover?after=1").json()

        assert (told["matching"], len(told["jobs"])) == (2, 1)

    def test_a_revision_that_is_over_is_not_found(self, femi: TestClient) -> None:
        assert femi.get("/api/v1/skerry/changeover?revision=1").status_code == 404


class TestTheReaudit:
    REAUDIT = "/skerry/fleet/reaudit"

    def test_it_tells_what_is_unsafe_only_today_and_opens_its_finding(
        self, femi: TestClient, visits: Visits
    ) -> None:
        visits.seed(lambda tx: a_device(tx, "boat-5"))
        visits.seed(lambda tx: a_report(tx, as_signed(heart_rate_high=limit(175)), device="boat-5"))
        visits.seed(lambda tx: adopted_bounds(tx, now=BEGAN))

        before = text_of(femi.get(self.REAUDIT).text)
        ran = femi.post(self.REAUDIT)
        after = femi.get(ran.headers["location"]).text

        assert "1 device unsafe by today’s policy and bounds, although not when read" in before
        assert ran.status_code == 303
        assert "1 made graver" in text_of(after)
        assert 'href="/skerry/findings/1"' in after

    def test_where_nothing_changed_it_says_so(self, femi: TestClient) -> None:
        assert "No device has become unsafe since it was read" in femi.get(self.REAUDIT).text

    @pytest.mark.usefixtures("femi")
    @pytest.mark.parametrize("role", [Role.TECHNICIAN, Role.CREW, Role.QUALITY_OFFICER])
    def test_others_may_not(self, visits: Visits, role: Role) -> None:
        other = visits.of(role)

        assert other.get(self.REAUDIT).status_code == 403
        assert other.post(self.REAUDIT).status_code == 403
        assert "Re-audit" not in other.get("/skerry/fleet").text

    def test_without_a_reading_there_is_nothing_to_hold(self, visits: Visits) -> None:
        visits.seed(lambda tx: a_signed_revision(tx))

        page = visits.of(Role.MEDICAL_DIRECTOR).get(self.REAUDIT).text
        assert "No device was read yet" in page
