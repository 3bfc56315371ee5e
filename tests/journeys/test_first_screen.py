"""Once an age or a category is chosen, the first alarms stand on one screen of a phone."""

from collections.abc import Callable
from datetime import timedelta

import pytest
from playwright.sync_api import Page, expect
from sqlmodel import Session

from app.main import wall_clock
from tests.builders import a_document, a_signed_revision
from tests.crew_documents import PETREL
from tests.journeys.conftest import Seed, axe, overflows
from tests.journeys.test_crew_offline import visit

FIRST = (
    "Heart rate",
    "SpO₂",
    "Respiratory rate",
    "Apnoea",
    "NIBP systolic/diastolic (mean)",
    "EtCO₂",
)
USUAL = {"priority": "medium", "delay_s": 10, "latching": False, "reason": "so", "source": "so"}
LATITUDE = {"from": 80, "to": 100, "off_by": "medical-control"}


def on(limit: float, **more: object) -> dict[str, object]:
    return {"state": "on", "limit": limit, **USUAL, **more}


def long_words() -> dict[str, object]:
    """Everything that makes a line long: deep lines, latitude, kPa, pressures with OFF in them."""
    found = a_document() | {"models": {"petrel": PETREL}}
    deep = {"limit": 80, "priority": "high", "delay_s": 0}
    found["settings"]["infant"] |= {
        "heart-rate-low": on(90, deep=deep, latitude=LATITUDE),
        "heart-rate-high": on(180, latitude=LATITUDE | {"from": 170, "to": 200}),
        "etco2-low": on(4.5, unit="kPa", delay_s=15),
        "etco2-high": on(6.5, unit="kPa", delay_s=15),
        "nibp-systolic-low": on(70),
        "nibp-diastolic-low": {"state": "off", "reason": "the mean guards it"},
        "nibp-mean-low": on(45, delay_s=20),
        "nibp-systolic-high": on(115),
        "nibp-diastolic-high": on(110),
        "nibp-mean-high": on(100),
    }
    return found


def seed(tx: Session) -> None:
    yesterday = wall_clock() - timedelta(days=1)
    a_signed_revision(tx, document=long_words(), now=yesterday)


def below_the_screen(page: Page, height: int) -> list[str]:
    """Which of the first alarms must be scrolled to."""
    found = []
    for name in FIRST:
        region = page.get_by_role("region", name=name, exact=True)
        expect(region).to_be_visible()
        for line in region.locator(".line").all():
            box = line.bounding_box()
            assert box
            if box["y"] < 0 or box["y"] + box["height"] > height:
                found.append(f"{name}: {line.inner_text()} at {box}")
    return found


@pytest.mark.parametrize(("width", "height"), [(360, 800), (740, 360)])
@pytest.mark.parametrize("theme", ["day", "night"])
@pytest.mark.parametrize("asked", ["age=7+mo", "category=infant"])
def test_the_first_alarms_need_no_scrolling(
    serve: Callable[[Seed], str],
    open_page: Callable[..., Page],
    width: int,
    height: int,
    theme: str,
    asked: str,
) -> None:
    address = serve(seed)
    page = visit(
        open_page(width=width, height=height, theme=theme, touch=True, failures=True), address
    )

    for offline in (False, True):
        page.context.set_offline(offline)
        page.goto(f"{address}/skerry/limits?{asked}")
        expect(page.locator(".copy-age")).to_have_count(int(offline))
        expect(page.locator(".reached")).to_contain_text("28 days to 1 year")
        expect(page.locator("main > .caution")).to_be_in_viewport()
        expect(page.get_by_role("link", name="Change")).to_be_in_viewport()
        assert below_the_screen(page, height) == []
        assert not overflows(page)
        assert axe(page) == []


def test_a_narrow_phone_shows_the_first_of_them(
    serve: Callable[[Seed], str], open_page: Callable[..., Page]
) -> None:
    page = open_page(width=320, height=640, touch=True)
    page.goto(f"{serve(seed)}/skerry/limits?age=7+mo")

    last = page.get_by_role("region", name="Apnoea", exact=True).locator(".line")

    expect(last).to_be_in_viewport(ratio=1)
    assert not overflows(page)


def test_why_an_alarm_is_off_stands_below_the_numbers(
    serve: Callable[[Seed], str], open_page: Callable[..., Page]
) -> None:
    page = open_page(width=360, height=800, touch=True)
    page.goto(f"{serve(seed)}/skerry/limits?age=7+mo")

    expect(page.locator(".why-off")).to_contain_text("NIBP diastolic low: the mean guards it")
    expect(page.locator(".more.both").first).to_have_text("medical control may switch off")
