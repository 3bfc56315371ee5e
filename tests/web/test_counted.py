"""Every figure of the fleet audit leads to the readings that it was counted from."""

import re
from pathlib import Path

import pytest

from app.domain.people import Role
from app.storage.database import Database
from tests.actions.test_readings import LOOSE, TIGHT, begun, look, ready
from tests.builders import DAY, HOUR, MINUTE, NOW, a_report, as_signed, limit
from tests.web.visits import Visits

LOOKS = "/skerry/fleet/measures/looks"
MONTH = "/skerry/fleet/measures/months/2026-03"


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path) -> Visits:
    """One slip that no further look bore out, and one deviation that they did."""
    visits = Visits(sqlite_database, tmp_path)
    with sqlite_database.writing() as tx:
        ready(tx)
        session = look(tx, begun(tx), {"heart-rate-high": TIGHT})
        session = look(tx, session, now=NOW + MINUTE)
        look(tx, session, by=Role.CREW, now=NOW + 2 * MINUTE)
        later = NOW + HOUR
        session = look(tx, begun(tx, now=later), {"heart-rate-high": LOOSE}, now=later)
        look(tx, session, {"heart-rate-high": LOOSE}, now=later + MINUTE)
        strayed = as_signed(heart_rate_high=limit(200))
        a_report(tx, strayed, read_at=NOW + 2 * HOUR)
    visits.now = NOW + DAY
    return visits


def test_what_was_looked_at_again_leads_to_every_look(visits: Visits) -> None:
    quinn = visits.of(Role.QUALITY_OFFICER)

    page = quinn.get(LOOKS).text

    assert "Of 2 deviations that first looks found, 1 were confirmed." in page
    assert len(re.findall(r"<tr><th scope=\"row\">", page)) == 2
    addresses = re.findall(r'href="(/skerry/devices/boat-3/reports/\d+)"', page)
    assert len(set(addresses)) == 7  # five looks, and what each reading bears out
    assert {quinn.get(address).status_code for address in addresses} == {200}
    assert f'href="{LOOKS}?days=90"' in quinn.get("/skerry/fleet/measures").text


def test_a_period_without_any_says_so(visits: Visits) -> None:
    visits.now = NOW + 40 * DAY

    page = visits.of(Role.QUALITY_OFFICER).get(f"{LOOKS}?days=7").text

    assert "Nothing was looked at again in that time." in page


def test_a_month_leads_to_its_readings(visits: Visits) -> None:
    quinn = visits.of(Role.QUALITY_OFFICER)

    page = quinn.get(MONTH).text

    assert "1 device read at power-on" in page
    assert "0 held the policy in every one of these readings, 1 did not, 1 of them unsafe" in page
    rows = re.findall(r'<th scope="row"><a href="([^"]+)">boat-3</a>', page)
    assert len(rows) == 3  # of several looks what they bear out
    assert {quinn.get(address).status_code for address in rows} == {200}
    visits.now = NOW + 40 * DAY
    assert f'href="{MONTH}"' in visits.of(Role.QUALITY_OFFICER).get("/skerry/fleet/measures").text


@pytest.mark.parametrize("month", ["2026-13", "march", "2026-1x", "0000-01", "9999-12"])
def test_what_is_no_month_is_not_found(visits: Visits, month: str) -> None:
    found = visits.of(Role.QUALITY_OFFICER).get(f"/skerry/fleet/measures/months/{month}")

    assert found.status_code == 404


def test_an_empty_month_says_so(visits: Visits) -> None:
    page = visits.of(Role.QUALITY_OFFICER).get("/skerry/fleet/measures/months/2025-12").text

    assert "No device was read in that month." in page


def test_another_agency_sees_none_of_it(visits: Visits) -> None:
    assert visits.of(Role.CREW).get(LOOKS).status_code in (200, 403)
    assert visits.of_outsider().get(LOOKS).status_code == 404
