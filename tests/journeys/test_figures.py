"""Femi draws a sample, asks why devices differ, reads the measures, and looks back."""

from collections.abc import Callable

import pytest
from playwright.sync_api import Page, expect
from sqlmodel import Session

from app.domain.people import Role
from tests.builders import (
    a_device,
    a_person,
    a_report,
    a_signed_revision,
    as_signed,
    limit,
)
from tests.journeys.conftest import Seed, axe, overflows
from tests.journeys.readers import sign_in

STRAYED = as_signed(heart_rate_high=limit(200))


def seed(tx: Session) -> None:
    """Forty devices, of which those on software 3.2 strayed."""
    a_signed_revision(tx)
    femi = a_person(tx, Role.FLEET_MANAGER)
    for number in range(40):
        tag, off = f"boat-{number:02}", number < 5
        a_device(tx, tag)
        a_report(
            tx,
            STRAYED if off else None,
            by=femi,
            device=tag,
            software="3.2" if off else "3.1",
        )


@pytest.mark.parametrize(
    ("width", "theme"), [(1280, "day"), (1280, "night"), (360, "day"), (320, "night")]
)
def test_figures_lead_to_what_they_count(
    serve: Callable[[Seed], str], open_page: Callable[..., Page], width: int, theme: str
) -> None:
    address = serve(seed)
    femi = sign_in(open_page(width=width, theme=theme), address, "femi")

    def look() -> None:
        assert axe(femi) == []
        assert not overflows(femi)

    # A sample is drawn, and what it lacks is told.
    femi.goto(f"{address}/skerry/fleet")
    femi.get_by_role("link", name="Samples").click()
    expect(femi.get_by_role("heading", level=1)).to_have_text("Samples")
    look()
    femi.get_by_label("Purpose").fill("monthly check")
    femi.get_by_label("Share off that must not stay hidden").fill("none")
    femi.get_by_role("button", name="Draw").click()
    expect(femi.get_by_text("must be a share such as 10% or 0.1")).to_be_visible()
    look()
    femi.get_by_label("Share off that must not stay hidden").fill("5%")
    femi.get_by_role("button", name="Draw").click()
    expect(femi.get_by_text("0 of 31 drawn devices read")).to_be_visible()
    femi.get_by_text("How to draw it again").click()
    look()

    # Why: one sentence, which leads to its devices.
    femi.goto(f"{address}/skerry/fleet")
    femi.get_by_role("link", name="Why devices differ").click()
    expect(femi.get_by_text("All 5 devices on software 3.2 hold")).to_be_visible()
    femi.get_by_text("The 5 devices").click()
    look()
    femi.get_by_role("link", name="boat-00", exact=True).click()

    # Looking back from the device.
    femi.get_by_role("link", name="What should it have held").click()
    expect(femi.get_by_role("heading", level=1)).to_contain_text("boat-00")
    look()

    # The measures.
    femi.goto(f"{address}/skerry/fleet/measures")
    expect(femi.get_by_role("heading", name="What strays most")).to_be_visible()
    look()
