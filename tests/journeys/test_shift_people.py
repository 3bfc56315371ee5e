"""Whose check is it? A phone is handed on, people sign in and out, also of another agency."""

from collections.abc import Callable

from playwright.sync_api import Page, expect
from sqlmodel import Session

from app.actions.devices import add_device
from app.domain.people import Role
from app.main import wall_clock
from tests.builders import a_person
from tests.journeys.conftest import Seed, axe, overflows
from tests.journeys.readers import sign_in
from tests.journeys.shift_phones import check, fill, kept, lock, ready, seed, taken

Serve = Callable[[Seed], str]
Open = Callable[..., Page]


def with_another_agency(tx: Session) -> None:
    """Where a device has the same tag."""
    seed(tx)
    a_person(tx, Role.CREW, name="Kit", agency="elsewhere")
    fay = a_person(tx, Role.FLEET_MANAGER, name="Fay", agency="elsewhere")
    add_device(tx, tag="boat-3", model="dunlin", station="East", by=fay, now=wall_clock())


def test_without_signal_a_phone_handed_on_asks_who_checks(
    serve: Serve, open_page: Open, sqlite_url: str
) -> None:
    address = serve(seed)
    page = sign_in(open_page(width=360, failures=True), address, "cruz")
    ready(page, address)
    page.context.set_offline(True)
    page.goto(f"{address}/skerry/check?device=boat-3")
    expect(page.locator("#checker")).to_contain_text("Who checks this device?")
    fill(page)
    page.locator("#checker input").first.evaluate("one => { one.checked = false; }")

    lock(page)
    expect(page.locator("#checker")).to_contain_text("say who you are")
    assert axe(page) == []
    assert not overflows(page)
    page.get_by_label("somebody else").check()
    lock(page)
    expect(page.locator("#locked")).to_contain_text("Locked: boat-3.")
    page.context.set_offline(False)
    page.goto(f"{address}/skerry/limits")

    expect(page.locator("#queue")).to_contain_text("locked while nobody was signed in")
    assert taken(sqlite_url) == []


def test_somebody_else_signed_in_since_and_nothing_is_lost(
    serve: Serve, open_page: Open, sqlite_url: str
) -> None:
    address = serve(seed)
    page = sign_in(open_page(width=360, failures=True), address, "cruz")
    ready(page, address)
    page.goto(f"{address}/skerry/check?device=boat-3")
    fill(page)
    page.context.clear_cookies()
    other = page.context.new_page()
    sign_in(other, address, "tess")

    lock(page)

    expect(page.locator("#queue")).to_contain_text("Somebody else is signed in now.")
    assert kept(page) == [(1, "waiting")]
    other.close()
    page.context.clear_cookies()
    sign_in(page, address, "cruz")
    page.goto(f"{address}/skerry/limits")
    expect(page.locator("#queue")).to_contain_text("what you read holds the policy")
    assert len(taken(sqlite_url)) == 1


def test_somebody_of_another_agency_sends_nothing_there(
    serve: Serve, open_page: Open, sqlite_url: str
) -> None:
    address = serve(with_another_agency)
    page = sign_in(open_page(width=360, failures=True), address, "kit", agency="elsewhere")

    page.goto(f"{address}/skerry/check?device=boat-3")
    expect(page.locator(".lede")).to_contain_text("You are not signed in")
    fill(page)
    lock(page)

    expect(page.locator("#queue")).to_contain_text("waits until you sign in")
    assert taken(sqlite_url) == []
    page.context.clear_cookies()
    sign_in(page, address, "cruz")
    page.goto(f"{address}/skerry/limits")
    page.get_by_role("button", name="I checked it: send as cruz").click()
    expect(page.locator("#queue")).to_contain_text("what you read holds the policy")
    assert len(taken(sqlite_url)) == 1


def test_another_agency_signed_in_since_and_nothing_is_lost(
    serve: Serve, open_page: Open, sqlite_url: str
) -> None:
    address = serve(with_another_agency)
    page = sign_in(open_page(width=360, failures=True), address, "cruz")
    ready(page, address)
    page.context.set_offline(True)
    check(page, address)
    page.context.clear_cookies()
    page.context.set_offline(False)
    sign_in(page, address, "kit", agency="elsewhere")

    page.goto(f"{address}/skerry/limits")

    expect(page.locator("#queue")).to_contain_text("waits until cruz signs in")
    assert kept(page) == [(1, "waiting")]
    assert taken(sqlite_url) == []
