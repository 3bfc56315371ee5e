"""Several findings of one device, the readings behind a figure, and the file for an inspector."""

from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal
from io import BytesIO
from pathlib import Path
from zipfile import ZipFile

import pytest
from playwright.sync_api import Page, expect
from sqlmodel import Session

from app.domain.device_reports import FoundOn, Origin
from app.domain.people import Role
from app.domain.settings_of_alarms import Priority
from app.main import wall_clock
from tests.builders import a_device, a_person, a_report, a_signed_revision, as_signed, limit
from tests.journeys.conftest import Seed, axe, overflows
from tests.journeys.readers import begin, sign_in

LOW = FoundOn(Decimal(170), priority=Priority.LOW)


def seed(tx: Session) -> None:
    """What a file told: a low rate of breathing, a low saturation, and a priority."""
    now = wall_clock()
    a_signed_revision(tx, now=now - timedelta(days=70))
    a_device(tx)
    strayed = as_signed(heart_rate_high=LOW, spo2_low=limit(95), respiratory_rate_low=limit(20))
    a_report(tx, strayed, read_at=now - timedelta(days=40), origin=Origin.FILE)
    a_person(tx, Role.FLEET_MANAGER)


@pytest.fixture(params=[(360, "night"), (1280, "day")], ids=["phone", "desk"])
def femi(
    request: pytest.FixtureRequest, serve: Callable[[Seed], str], open_page: Callable[..., Page]
) -> Page:
    width, theme = request.param
    return sign_in(open_page(width=width, theme=theme), serve(seed), "femi")


def look_at(page: Page, heading: str) -> None:
    expect(page.get_by_role("heading", level=1, name=heading)).to_be_visible()
    assert axe(page) == []
    assert not overflows(page)


def at(page: Page, address: str) -> None:
    page.goto(f"{page.url.split('/skerry')[0]}/skerry{address}")


def test_all_findings_of_a_device_take_a_step_together(femi: Page) -> None:
    at(femi, "/devices/boat-3")
    femi.get_by_role("link", name="Take a step with all of them").click()
    look_at(femi, "Findings of boat-3")
    note = femi.get_by_label("What keeps patients away from it until then?")
    note.focus()
    femi.keyboard.type("Taken off the boat")
    femi.keyboard.press("Tab")
    femi.keyboard.press("Enter")

    expect(femi.get_by_text("3 findings are contained.")).to_be_visible()
    look_at(femi, "Findings of boat-3")
    expect(femi.get_by_role("button", name="Correct all 3")).to_be_visible()


def test_the_blind_form_asks_more_where_a_finding_is_about_it(femi: Page) -> None:
    at(femi, "/devices/boat-3/read")
    begin(femi)
    expect(femi.get_by_label("Heart rate high: priority")).to_have_value("")
    expect(femi.locator(".facets")).to_have_count(3)
    assert axe(femi) == []
    assert not overflows(femi)

    femi.get_by_label("Heart rate high, /min", exact=True).fill("170")
    femi.get_by_role("button", name="Lock this look").click()
    expect(
        femi.get_by_text("say its priority, or that the device does not show it")
    ).to_be_visible()
    assert axe(femi) == []


def test_a_figure_leads_to_its_readings(femi: Page) -> None:
    at(femi, "/fleet/measures")
    femi.get_by_text("As a table that leads to the readings").first.click()
    femi.locator(".run-chart tbody a").first.click()
    expect(femi.get_by_role("link", name="boat-3")).to_be_visible()
    assert axe(femi) == []
    assert not overflows(femi)
    at(femi, "/fleet/measures/looks")
    look_at(femi, "Looked at again")


def test_the_inspection_file_is_one_button(femi: Page, tmp_path: Path) -> None:
    at(femi, "/fleet/measures")
    femi.get_by_role("link", name="Inspection file").click()
    look_at(femi, "Inspection file")

    with femi.expect_download(timeout=60_000) as waiting:
        femi.get_by_role("button", name="Make the file").click()
    waiting.value.save_as(tmp_path / "inspection.zip")

    packed = ZipFile(BytesIO((tmp_path / "inspection.zip").read_bytes()))
    assert {"report.pdf", "readings.csv", "ledger.ndjson"} <= set(packed.namelist())
