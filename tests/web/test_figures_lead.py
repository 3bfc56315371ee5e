"""The list behind every figure of the measures is as long as the figure says."""

import re
from html import unescape
from pathlib import Path

import pytest
from sqlmodel import Session
from starlette.testclient import TestClient

from app.actions.findings import move_finding
from app.domain.device_reports import FoundOff, FoundText, StateRead
from app.domain.finding_life import FindingStatus
from app.domain.people import Role
from app.storage.database import Database
from tests.builders import (
    DAY,
    HOUR,
    NOW,
    a_device,
    a_document,
    a_person,
    a_report,
    a_signed_revision,
    as_signed,
    limit,
)
from tests.web.visits import Visits

MEASURES = "/skerry/fleet/measures"
VOLUME = {"audio-volume": {"value": 80, "reason": "heard at the seat of the crew"}}


@pytest.fixture
def quinn(database: Database, tmp_path: Path) -> TestClient:
    visits = Visits(database, tmp_path)
    visits.seed(strayed)
    visits.now = NOW + 40 * DAY
    return visits.of(Role.QUALITY_OFFICER)


def strayed(tx: Session) -> None:
    """Presets that stray in every direction, one of which a later reading did not look at; a crew
    beyond its latitude; a retired device; and a finding that is older than the period."""
    a_signed_revision(tx, document={**a_document(), "options": VOLUME}, now=NOW - 200 * DAY)
    for tag in ("boat-3", "boat-4", "boat-10", "boat-11", "kit-1"):
        a_device(tx, tag)
    loose, tight = as_signed(heart_rate_high=limit(200)), as_signed(spo2_low=limit(92))
    a_report(tx, loose, device="boat-3")
    known = as_signed()
    known.pop("heart-rate-high")
    a_report(tx, known, device="boat-3", read_at=NOW + HOUR)
    both = as_signed(heart_rate_high=limit(200), spo2_low=limit(92))
    a_report(tx, both, device="boat-4")
    a_report(tx, tight, device="boat-10")
    a_report(tx, as_signed(asystole=FoundOff()), device="boat-11", state_read=StateRead.IN_USE)
    a_report(tx, {"audio-volume": FoundText("off")}, device="boat-11", preset="*")
    a_report(tx, loose, device="kit-1", read_at=NOW - 100 * DAY)
    femi = a_person(tx, Role.FLEET_MANAGER)
    contained = FindingStatus.CONTAINED
    move_finding(tx, finding_id=1, to=contained, by=femi, now=NOW + HOUR, note="taken away")


def figures(page: str) -> list[tuple[str, int]]:
    """Every number that is a link, and where it leads."""
    told = re.findall(r'<a href="([^"]+)">(\d+)(?: of \d+)?</a>', page)
    return [(unescape(address), int(number)) for address, number in told]


def rows(page: str) -> int:
    return page.count('<th scope="row"')


def test_every_number_leads_to_as_many(quinn: TestClient) -> None:
    found = [one for one in figures(quinn.get(MEASURES).text) if "?days=" not in one[0]]

    assert {"lean=looser", "lean=tighter", "lean=other", "status=unsafe", "overdue=1"} <= {
        address.partition("?")[2] for address, _ in found
    }
    assert {address: rows(quinn.get(address).text) for address, _ in found} == dict(found)


def test_the_ratio_counts_what_a_later_reading_did_not_look_at(quinn: TestClient) -> None:
    page = quinn.get(f"{MEASURES}/astray?lean=looser").text

    assert "3 on 3 devices" in page
    assert re.findall(r'reports/\d+">([^<]+)</a>', page) == ["boat-3", "boat-4", "kit-1"]


def test_an_alarm_that_strays_leads_to_its_devices(quinn: TestClient) -> None:
    told = re.search(
        r'<a href="([^"]*alarm=heart-rate-high)">[^<]+</a></th><td class="number">(\d+)<',
        quinn.get(MEASURES).text,
    )
    assert told is not None

    assert rows(quinn.get(told[1]).text) == int(told[2]) == 3


@pytest.mark.parametrize("days", [30, 90, 365])
def test_times_lead_to_the_findings_of_the_same_period(quinn: TestClient, days: int) -> None:
    page = quinn.get(f"{MEASURES}?days={days}").text
    lists = re.findall(r'<th scope="row"><a href="([^"]*severity=[^"]*)">.*?of (\d+) done', page)

    counted = {
        address: len(re.findall(r'class="consequence"', quinn.get(unescape(address)).text))
        for address, _ in lists
    }

    assert counted == {address: int(number) for address, number in lists}
    assert (len(lists) == 0) is (days == 30)


def test_what_was_never_so_says_so(quinn: TestClient) -> None:
    assert "Nothing that was read strays so." in quinn.get(f"{MEASURES}/astray?alarm=nonsense").text
