"""The values of a device are one tap from its label, also without signal, and are remembered."""

import re
from collections.abc import Callable
from datetime import timedelta

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect
from sqlmodel import Session

from app.main import wall_clock
from tests.builders import a_report, as_signed, limit
from tests.journeys import shift_phones
from tests.journeys.conftest import Seed, axe, overflows
from tests.journeys.readers import sign_in
from tests.journeys.shift_phones import fill, lock, ready, taken, until

Serve = Callable[[Seed], str]
Open = Callable[..., Page]
KEPT = """async () => {
  const store = await caches.open("labels");
  return Boolean(await store.match("/skerry/d/boat-3/values"));
}"""
SHOWN = """async () => {
  const base = await new Promise((done) => {
    const asked = indexedDB.open("marchstone", 1);
    asked.onsuccess = () => done(asked.result);
  });
  const asked = base.transaction("phone").objectStore("phone").get("skerry");
  const phone = await new Promise((done) => { asked.onsuccess = () => done(asked.result); });
  return Boolean(phone && phone.shown && phone.shown["boat-3"]);
}"""


def seed(tx: Session) -> None:
    shift_phones.seed(tx)
    read_at = wall_clock() - timedelta(hours=3)
    a_report(tx, as_signed(heart_rate_high=limit(150)), read_at=read_at)


@pytest.mark.parametrize("offline", [False, True], ids=["with signal", "without signal"])
def test_a_check_after_the_values_counts_and_proves_nothing(
    serve: Serve, open_page: Open, sqlite_url: str, offline: bool
) -> None:
    address = serve(seed)
    page = sign_in(open_page(width=360, failures=True), address, "cruz")
    ready(page, address)
    page.goto(f"{address}/skerry/d/boat-3")
    expect(page.locator("main")).not_to_contain_text("150")
    until(page, KEPT)
    page.context.set_offline(offline)

    page.get_by_role("link", name="Show the values").click()
    expect(page.locator("main")).to_contain_text("150")
    until(page, SHOWN)
    page.goto(f"{address}/skerry/check?device=boat-3")
    fill(page)
    lock(page)
    if offline:
        expect(page.locator("#locked .notice")).to_be_visible()
        page.context.set_offline(False)
        # In the queue, or on the check's own page where the first try was still under way.
        expect(page.locator("main")).to_contain_text(
            re.compile("(its|the) values were seen before")
        )
    else:
        expect(page.locator("#brought")).to_contain_text("the values were seen before")
    assert [row.seen for row in taken(sqlite_url)] == [True]


def test_to_keep_the_values_is_not_to_have_seen_them(
    serve: Serve, open_page: Open, sqlite_url: str
) -> None:
    address = serve(seed)
    page = sign_in(open_page(width=360), address, "cruz")
    ready(page, address)
    page.goto(f"{address}/skerry/d/boat-3")
    until(page, KEPT)

    page.get_by_role("link", name="Shift check", exact=True).click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Shift check: boat-3")
    fill(page)
    lock(page)

    expect(page.locator("#brought")).to_be_visible()
    assert [row.seen for row in taken(sqlite_url)] == [False]


@pytest.mark.parametrize(("width", "theme"), [(320, "day"), (360, "night"), (1280, "day")])
def test_without_script_it_is_a_plain_link_to_a_plain_page(
    serve: Serve, open_page: Open, width: int, theme: str
) -> None:
    address = serve(seed)
    plain = open_page(width=width, theme=theme, javascript=False)
    plain.goto(f"{address}/skerry/d/boat-3")
    plain.get_by_role("link", name="Show the values").click()
    expect(plain.get_by_role("heading", level=1)).to_have_text("Values of boat-3")

    page = open_page(width=width, theme=theme)
    page.goto(f"{address}/skerry/d/boat-3/values")
    assert axe(page) == []
    assert not overflows(page)
    found = Axe().run(page, options={"runOnly": ["color-contrast-enhanced"]})
    assert [broken["id"] for broken in found.response["violations"]] == []
