"""Added → away for service → back and not cleared → the director's word → found by its tag."""

from collections.abc import Callable
from datetime import timedelta

import pytest
from playwright.sync_api import Page, expect
from sqlmodel import Session

from app.domain.device_tags import with_check
from app.domain.people import Role
from app.main import wall_clock
from tests.builders import a_device, a_person, a_signed_revision
from tests.journeys.conftest import Seed, axe, overflows
from tests.journeys.readers import sign_in

TAG = with_check("boat-1")


def seed(tx: Session) -> None:
    a_signed_revision(tx, now=wall_clock() - timedelta(days=30))
    a_device(tx)
    for role in (Role.FLEET_MANAGER, Role.TECHNICIAN, Role.MEDICAL_DIRECTOR):
        a_person(tx, role)


@pytest.mark.parametrize(("width", "javascript"), [(1280, True), (360, True), (360, False)])
def test_a_device_comes_back_from_service(
    serve: Callable[[Seed], str], open_page: Callable[..., Page], width: int, javascript: bool
) -> None:
    address = serve(seed)
    femi = sign_in(open_page(width=width, javascript=javascript), address, "femi")
    dana = sign_in(open_page(width=width, javascript=javascript), address, "dana")

    # Femi adds it with the tag that the page proposes.
    femi.get_by_role("navigation").get_by_role("link", name="Register").click()
    look_at(femi, "The register", javascript=javascript)
    femi.get_by_role("link", name="Add a device").click()
    expect(femi.get_by_text(TAG)).to_be_visible()
    for label, text in (("Tag", TAG), ("Model", "dunlin"), ("Station", "South")):
        femi.get_by_label(label, exact=True).fill(text)
    look_at(femi, "Add a device", javascript=javascript)
    femi.get_by_role("button", name="Add").click()
    look_at(femi, TAG, javascript=javascript)
    expect(femi.get_by_text("Nobody has read what it holds.")).to_be_visible()

    # It goes away, and comes back.
    happened(femi, "It goes away for service")
    look_at(femi, f"What happened to {TAG}?", javascript=javascript)
    femi.get_by_label("Why").locator("visible=true").fill("The battery is weak")
    femi.get_by_role("button", name="It goes away").click()
    expect(femi.get_by_text("It is away for service.")).to_be_visible()
    happened(femi, "It came back from service")
    femi.get_by_label("Who did the work").select_option(label="Tess")
    femi.get_by_label("Why").locator("visible=true").fill("New battery")
    femi.get_by_role("button", name="It came back").click()
    expect(femi.get_by_text("If none is, use this one")).to_be_visible()
    expect(femi.get_by_text("work by Tess")).to_be_visible()
    look_at(femi, TAG, javascript=javascript)

    # Dana lets it ride with the card for a week.
    dana.goto(f"{address}/skerry/devices/{TAG}/clearance")
    dana.get_by_label("use with limits set by hand from the card").check()
    dana.get_by_label("Last day").fill((wall_clock() + timedelta(days=7)).date().isoformat())
    dana.get_by_label("Reason").fill("The only one on the island")
    look_at(dana, f"Clearance of {TAG}", javascript=javascript)
    dana.get_by_role("button", name="Override").click()
    expect(dana.get_by_text("Set its limits by hand from the card")).to_be_visible()

    # A slip of typing is noticed; the label tells everybody what to do.
    femi.goto(f"{address}/skerry/register")
    femi.get_by_label("Tag on the label").fill(f"boat-2{TAG[-2:]}")
    femi.get_by_role("button", name="Find").click()
    expect(femi.get_by_text(f"Did you mean {TAG}?")).to_be_visible()
    look_at(femi, "The register", javascript=javascript)
    femi.goto(f"{address}/skerry/d/{TAG}")
    expect(femi.get_by_text("Set its limits by hand from the card")).to_be_visible()
    expect(femi.get_by_text("The only one on the island")).to_have_count(0)
    look_at(femi, TAG, javascript=javascript)

    # Why, which may name what was found, is for those who are signed in and read nothing now.
    femi.goto(f"{address}/skerry/devices/{TAG}")
    expect(femi.get_by_text("The only one on the island")).to_be_visible()


def happened(page: Page, what: str) -> None:
    page.get_by_role("link", name="What happened to it?").click()
    page.get_by_text(what, exact=True).click()


@pytest.mark.parametrize(("width", "javascript"), [(1280, True), (360, False)])
def test_the_pages_around_the_register_are_fit_for_everybody(
    serve: Callable[[Seed], str], open_page: Callable[..., Page], width: int, javascript: bool
) -> None:
    address = serve(seed)
    femi = sign_in(open_page(width=width, javascript=javascript), address, "femi")
    dana = sign_in(open_page(width=width, javascript=javascript), address, "dana")

    femi.goto(f"{address}/skerry/register/many")
    femi.get_by_label("The list").fill("tag,model,station\nroad 1,,South\n")
    femi.get_by_role("button", name="Add them all").click()
    expect(femi.get_by_text("line 2, model: this must not be empty")).to_be_visible()
    look_at(femi, "Add many devices", javascript=javascript)
    femi.goto(f"{address}/skerry/models")
    look_at(femi, "Device models", javascript=javascript)
    femi.goto(f"{address}/skerry/models/dunlin")
    look_at(femi, "dunlin", javascript=javascript)
    femi.get_by_label("Name", exact=True).fill("Dunlin")
    femi.get_by_role("button", name="Record").click()
    expect(femi.get_by_text("Recorded of dunlin.")).to_be_visible()
    femi.goto(f"{address}/help/register")
    look_at(femi, "Register and clearance", javascript=javascript)
    femi.goto(f"{address}/skerry/fleet")
    look_at(femi, "The tide wall", javascript=javascript)

    dana.goto(f"{address}/skerry/choices")
    dana.get_by_label("Check interval (days)").fill("often")
    dana.get_by_label("SpO₂ low").first.check()
    dana.get_by_role("button", name="Choose").click()
    expect(dana.get_by_text("write a whole number")).to_be_visible()
    look_at(dana, "What the agency decides", javascript=javascript)
    dana.get_by_label("Check interval (days)").fill("60")
    dana.get_by_role("button", name="Choose").click()
    expect(dana.get_by_text("Chosen: 1.")).to_be_visible()


def look_at(page: Page, heading: str, *, javascript: bool) -> None:
    expect(page.get_by_role("heading", level=1, name=heading, exact=True)).to_be_visible()
    assert not overflows(page)
    if javascript:
        assert axe(page) == []
