"""A finding with everything around it: owner, words, acceptance, quarantine, proof, closing."""

from collections.abc import Callable
from datetime import timedelta

import pytest
from playwright.sync_api import Page, expect
from sqlmodel import Session

from app.domain.people import Role
from app.main import wall_clock
from tests.actions.test_findings import STRAYED
from tests.builders import a_device, a_person, a_report, a_signed_revision
from tests.journeys.conftest import Seed, axe, overflows
from tests.journeys.readers import begin, fill, lock, sign_in

CONSEQUENCE = "Heart rate can rise from 170 to 200 /min unannounced."
HEADING = "Heart rate can rise"


def seed(tx: Session) -> None:
    now = wall_clock()
    a_signed_revision(tx, now=now - timedelta(days=30))
    for tag in ("boat-3", "boat-4"):
        a_device(tx, tag)
    a_report(tx, read_at=now - timedelta(days=11, hours=20))
    a_report(tx, STRAYED, read_at=now - timedelta(hours=3))
    a_person(tx, Role.TECHNICIAN)


@pytest.mark.parametrize(("width", "javascript"), [(1280, True), (360, True), (360, False)])
def test_a_finding_is_followed_to_its_end_by_three_people(
    serve: Callable[[Seed], str], open_page: Callable[..., Page], width: int, javascript: bool
) -> None:
    address = serve(seed)
    femi, tess, dana = (
        sign_in(open_page(width=width, javascript=javascript), address, name)
        for name in ("femi", "tess", "dana")
    )
    finding, held = f"{address}/skerry/findings/1", f"{address}/skerry/devices/boat-3/quarantine"

    # Femi finds it in the list, sees since when nobody knows, and which devices are at risk.
    femi.goto(f"{address}/skerry/findings")
    femi.get_by_text("More", exact=True).click()
    femi.get_by_label("overdue").check()
    femi.get_by_role("button", name="Show").click()
    look_at(femi, "Findings", javascript=javascript)
    femi.get_by_role("link", name=CONSEQUENCE).click()
    expect(femi.get_by_text("12 days")).to_be_visible()
    look_at(femi, HEADING, javascript=javascript)
    femi.get_by_role("link", name="Other devices at risk").click()
    expect(femi.get_by_role("row", name="boat-4")).to_be_visible()
    look_at(femi, "Devices at risk with boat-3", javascript=javascript)
    femi.go_back()

    # She contains it, gives it to Tess, and holds the device.
    femi.get_by_label("What keeps patients away").fill("Taken off the boat")
    femi.get_by_role("button", name="Contain").click()
    expect(femi.get_by_text("Finding 1 is contained.")).to_be_visible()
    femi.get_by_label("Who sees to it").select_option("Tess")
    femi.get_by_role("button", name="Assign").click()
    expect(femi.get_by_text("Finding 1 has its owner.")).to_be_visible()
    femi.get_by_text("Put boat-3 in quarantine").click()
    femi.get_by_label("Why nobody may touch it").fill("Its log must tell since when")
    femi.get_by_role("button", name="Put in quarantine").click()
    look_at(femi, "boat-3 in quarantine", javascript=javascript)
    femi.get_by_label("Given by").fill("Femi")
    femi.get_by_label("Taken by").fill("Tess")
    femi.get_by_label("Where it is now").fill("Locked store")
    femi.get_by_role("button", name="Write it down").click()
    expect(femi.get_by_text("Femi → Tess")).to_be_visible()

    # Dana accepts it for a day, sees that it still differs, and takes it back.
    dana.goto(finding)
    dana.get_by_text("Accept it until a day").click()
    dana.get_by_label("Why it can stay so").fill("No spare before tomorrow")
    dana.get_by_label("Last day").fill(f"{wall_clock() + timedelta(days=2):%Y-%m-%d}")
    dana.get_by_role("button", name="Accept", exact=True).click()
    expect(dana.get_by_text("The device still differs.")).to_be_visible()
    look_at(dana, HEADING, javascript=javascript)
    dana.get_by_role("button", name="Withdraw the acceptance").click()
    expect(dana.get_by_text("The device still differs.")).to_have_count(0)

    # Tess may correct it only once its log is exported.
    tess.goto(f"{address}/skerry/findings?owner=me")
    tess.get_by_role("link", name=CONSEQUENCE).click()
    tess.get_by_label("What was set").fill("Set to 170")
    tess.get_by_label("Cause, if it is known").select_option("repair or service")
    tess.get_by_role("button", name="Correct").click()
    expect(tess.get_by_role("alert")).to_contain_text("Export the log first")
    expect(tess.get_by_label("What was set")).to_have_value("Set to 170")
    look_at(tess, HEADING, javascript=javascript)
    tess.goto(held)
    tess.get_by_label("SHA-256 of the exported file").fill("ab" * 32)
    tess.get_by_label("Where it is kept").fill("Safe, drive 2")
    tess.get_by_role("button", name="The log is exported").click()
    look_at(tess, "boat-3 in quarantine", javascript=javascript)
    tess.goto(finding)
    tess.get_by_label("What was set").fill("Set to 170")
    tess.get_by_label("Cause, if it is known").select_option("repair or service")
    tess.get_by_role("button", name="Correct").click()
    expect(tess.get_by_text("Finding 1 is corrected.")).to_be_visible()

    # Femi releases it, reads it blind, and says whether the alarm is heard.
    femi.goto(held)
    femi.get_by_label("Why it is no longer needed").fill("The log is read")
    femi.get_by_role("button", name="Release").click()
    look_at(femi, "boat-3 is not in quarantine", javascript=javascript)
    femi.goto(f"{address}/skerry/devices/boat-3/read")
    begin(femi)
    fill(femi)
    lock(femi)
    expect(femi.get_by_text("What was read holds.")).to_be_visible()
    femi.goto(finding)
    femi.get_by_label("Alarm heard").select_option("yes")
    femi.get_by_label("Alarm seen").select_option("yes")
    femi.get_by_role("button", name="Verify").click()
    expect(femi.get_by_text("Finding 1 is verified.")).to_be_visible()
    look_at(femi, HEADING, javascript=javascript)
    femi.get_by_label("Comment").fill("Heard above both engines.")
    femi.get_by_role("button", name="Add the comment").click()
    expect(femi.get_by_text("Your comment stands in the story.")).to_be_visible()
    femi.get_by_role("button", name="Close").click()
    expect(femi.get_by_text("it is closed")).to_be_visible()
    expect(femi.get_by_text("Heard above both engines.")).to_be_visible()
    look_at(femi, HEADING, javascript=javascript)


def look_at(page: Page, heading: str, *, javascript: bool) -> None:
    """Nothing breaks WCAG 2.2 AA, and nothing must be scrolled sideways."""
    expect(page.get_by_role("heading", level=1, name=heading)).to_be_visible()
    if javascript:  # both are asked by script
        assert axe(page) == []
        assert not overflows(page)
