"""What a crew chooses besides the age, and what a model leaves to be set by hand."""

from collections.abc import Callable
from datetime import timedelta

import pytest
from playwright.sync_api import Page, expect
from sqlmodel import Session

from app.demo.profile import document
from app.main import wall_clock
from tests.builders import a_device, a_signed_revision
from tests.journeys.conftest import Seed, axe, overflows


def seed(tx: Session) -> None:
    a_signed_revision(tx, document=document(2), now=wall_clock() - timedelta(days=30))
    a_device(tx, "air-1", model="petrel")


def expect_saturation(page: Page, words: str) -> None:
    line = page.get_by_role("region", name="SpO₂").locator(".low .line")
    expect(line).to_have_text(words, use_inner_text=True)


@pytest.mark.parametrize("theme", ["day", "night"])
def test_a_circumstance_is_one_tap_away_and_one_tap_back(
    serve: Callable[[Seed], str], open_page: Callable[..., Page], theme: str
) -> None:
    page = open_page(width=320, height=640, theme=theme)
    page.goto(f"{serve(seed)}/skerry/limits?age=40+y")
    expect_saturation(page, "alarm below 88 %")

    page.get_by_role("link", name="Hypercapnia risk").click()

    expect(page.get_by_text("Hypercapnia risk: chosen by the crew.")).to_be_visible()
    expect_saturation(page, "alarm below 86 %")
    assert axe(page) == []
    assert not overflows(page)
    heights = page.locator("main a").evaluate_all(
        "all => all.filter(one => one.offsetParent).map(one => one.getBoundingClientRect().height)"
    )
    assert min(heights) >= 48

    page.get_by_role("link", name="Back to the limits without it").click()

    expect_saturation(page, "alarm below 88 %")


def test_the_label_names_what_the_model_leaves_to_be_set_by_hand(
    serve: Callable[[Seed], str], open_page: Callable[..., Page]
) -> None:
    page = open_page(width=320, height=640)
    page.goto(f"{serve(seed)}/skerry/d/air-1")

    page.get_by_role("link", name="Show the values").click()
    page.locator("summary", has_text="Neonate").click()

    expect(page.get_by_text("It holds the values of Infant, so set:").first).to_be_visible()
    expect(page.get_by_text("above 95 %")).to_be_visible()
    assert axe(page) == []
    assert not overflows(page)
