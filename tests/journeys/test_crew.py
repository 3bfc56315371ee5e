"""A phone, no sign-in → the age → the limits, by day and by night, with and without script."""

from collections.abc import Callable
from datetime import timedelta

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect
from sqlmodel import Session

from app.main import wall_clock
from tests.builders import a_device, a_report, a_signed_revision, as_signed, limit
from tests.journeys.conftest import Seed, axe, overflows


def seed(tx: Session) -> None:
    a_signed_revision(tx, now=wall_clock() - timedelta(days=30))
    a_device(tx)
    read_at = wall_clock() - timedelta(days=2)
    a_report(tx, as_signed(heart_rate_high=limit(200)), read_at=read_at)


def heart_rate(page: Page) -> tuple[str, str]:
    sign = page.get_by_role("region", name="Heart rate", exact=True)
    low, high = (sign.locator(f".{side} .line").inner_text() for side in ("low", "high"))
    return low, high


@pytest.mark.parametrize(
    ("width", "height", "theme", "javascript"),
    [
        (320, 640, "day", True),
        (320, 640, "night", True),
        (740, 360, "day", True),
        (1280, 800, "night", True),
        (360, 740, "day", False),
    ],
)
def test_the_limits_of_an_age_in_two_taps(
    serve: Callable[[Seed], str],
    open_page: Callable[..., Page],
    width: int,
    height: int,
    theme: str,
    javascript: bool,
) -> None:
    page = open_page(width=width, height=height, theme=theme, javascript=javascript)
    address = serve(seed)
    page.goto(f"{address}/skerry/limits")
    look_at(page, javascript=javascript)

    page.get_by_label("Age", exact=True).click()
    page.keyboard.type("7")
    page.get_by_role("button", name="months").click()

    expect(page).to_have_url(f"{address}/skerry/limits?age=7+mo")
    expect(page.get_by_role("heading", level=1)).to_have_text("Infant 7 months")
    assert heart_rate(page) == ("alarm below 90 /min", "above 180 /min")
    look_at(page, javascript=javascript)
    page.get_by_text("All other alarms").click()
    expect(page.get_by_role("region", name="Temperature")).to_be_visible()
    look_at(page, javascript=javascript)


@pytest.mark.parametrize("theme", ["day", "night"])
def test_every_word_stands_out_seven_to_one(
    serve: Callable[[Seed], str], open_page: Callable[..., Page], theme: str
) -> None:
    page = open_page(width=360, height=740, theme=theme)
    page.goto(f"{serve(seed)}/skerry/limits?age=27+d")
    page.get_by_text("All other alarms").click()

    found = Axe().run(page, options={"runOnly": ["color-contrast-enhanced"]})

    assert [broken["id"] for broken in found.response["violations"]] == []
    assert [rule["id"] for rule in found.response["passes"]] == ["color-contrast-enhanced"]


def test_an_unknown_age_takes_one_tap_and_never_says_adult_by_itself(
    serve: Callable[[Seed], str], open_page: Callable[..., Page]
) -> None:
    page = open_page(width=360, height=740)
    page.goto(f"{serve(seed)}/skerry/limits")
    expect(page.get_by_text("alarm below")).to_have_count(0)

    page.get_by_role("link", name="Infant").click()

    expect(page.get_by_text("Chosen as a category, without an age")).to_be_visible()
    assert heart_rate(page) == ("alarm below 90 /min", "above 180 /min")


def test_off_is_a_word_and_a_shape(
    serve: Callable[[Seed], str], open_page: Callable[..., Page]
) -> None:
    page = open_page(width=320, height=640)
    page.goto(f"{serve(seed)}/skerry/limits?age=7+mo")

    off = page.get_by_role("region", name="SpO₂").locator(".high .line")

    assert " ".join(off.inner_text().split()) == "OFF no high alarm"
    expect(off.locator("svg")).to_be_visible()


def test_the_thumb_ruler_tells_the_age_and_leads_to_it(
    serve: Callable[[Seed], str], open_page: Callable[..., Page]
) -> None:
    page = open_page(width=360, height=740)
    page.goto(f"{serve(seed)}/skerry/limits")

    box = page.get_by_role("slider").bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + 24, box["y"] + 20)
    page.mouse.down()
    page.mouse.move(box["x"] + box["width"] * 0.45, box["y"] + 20, steps=5)
    told = page.locator("output").inner_text()
    page.mouse.up()

    expect(page.get_by_role("heading", level=1)).to_contain_text("Preschool")
    assert told.endswith(("mo", "y"))


def test_numbers_can_be_read_and_controls_hit_with_gloves(
    serve: Callable[[Seed], str], open_page: Callable[..., Page]
) -> None:
    page = open_page(width=320, height=640)
    page.goto(f"{serve(seed)}/skerry/limits?age=7+mo")

    sizes = page.locator(".limit").evaluate_all(
        "all => all.map(one => parseFloat(getComputedStyle(one).fontSize))"
    )
    heights = page.locator("main a, main button, main input, main summary").evaluate_all(
        "all => all.filter(one => one.offsetParent).map(one => one.getBoundingClientRect().height)"
    )

    assert min(sizes) >= 32  # 24 pt
    assert min(heights) >= 48


@pytest.mark.parametrize("theme", ["day", "night"])
def test_the_label_of_a_device_leads_on(
    serve: Callable[[Seed], str], open_page: Callable[..., Page], theme: str
) -> None:
    page = open_page(width=320, height=640, theme=theme)
    page.goto(f"{serve(seed)}/skerry/d/boat-3")

    expect(page.get_by_text("1 setting differs, 1 of them unsafe")).to_be_visible()
    look_at(page, javascript=True)
    page.get_by_role("link", name="Show the values").click()
    expect(page.get_by_text("Heart rate can rise from 170 to 200 /min unannounced")).to_be_visible()
    look_at(page, javascript=True)
    page.get_by_role("link", name="boat-3", exact=True).click()
    page.get_by_role("link", name="Read this device").click()

    expect(page.get_by_role("button", name="Sign in")).to_be_visible()


def look_at(page: Page, *, javascript: bool) -> None:
    """Nothing breaks WCAG 2.2 AA, and nothing must be scrolled sideways."""
    if javascript:  # both are asked by script
        assert axe(page) == []
        assert not overflows(page)
