"""The shift check on a phone: locked without signal, sent once, in order, whatever breaks."""

import os
import shutil
import signal
import time
from collections.abc import Callable
from contextlib import suppress
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect

from tests.journeys.conftest import FLAGS, NAMES, Seed, axe, overflows
from tests.journeys.keyboard import Keyboard
from tests.journeys.readers import sign_in
from tests.journeys.shift_phones import (
    SIGNED,
    WRONG_CLOCK,
    check,
    fill,
    kept,
    lock,
    ready,
    seed,
    taken,
)

MOST_TAPS = 32
IN_VAIN = "No signal, or the server does not answer."
API = "**/api/v1/skerry/checks"
HOUR_MS = 3_600_000
Serve = Callable[[Seed], str]
Open = Callable[..., Page]


def waiting(page: Page) -> Any:
    return page.locator("#queue")


@pytest.mark.parametrize(("width", "height", "theme"), [(360, 800, "day"), (320, 700, "night")])
def test_without_signal_it_is_kept_and_told_and_sent_later(
    serve: Serve, open_page: Open, sqlite_url: str, width: int, height: int, theme: str
) -> None:
    address = serve(seed)
    page = sign_in(
        open_page(width=width, height=height, theme=theme, failures=True), address, "cruz"
    )
    ready(page, address)
    page.context.set_offline(True)

    page.goto(f"{address}/skerry/check?device=boat-3")
    expect(page.get_by_label("Device, as on its label")).to_have_value("boat-3")
    assert axe(page) == []
    assert not overflows(page)
    fill(page)
    lock(page)

    expect(page.locator("#locked")).to_contain_text("Locked: boat-3.")
    expect(page.locator("form.shift")).to_be_hidden()
    expect(waiting(page)).to_contain_text("1 check is kept on this phone, not sent yet.")
    assert axe(page) == []
    assert not overflows(page)
    page.goto(f"{address}/skerry/limits?age=3+y")
    expect(waiting(page)).to_contain_text("1 check is kept on this phone, not sent yet.")
    assert axe(page) == []
    assert not overflows(page)
    assert taken(sqlite_url) == []

    page.context.set_offline(False)

    expect(waiting(page)).to_contain_text("what you read holds the policy")
    page.get_by_role("link", name="What it brought").click()
    expect(page.get_by_role("heading", level=2)).to_contain_text("holds the policy")
    expect(waiting(page)).to_be_empty()
    assert [row.number for row in taken(sqlite_url)] == [1]


def test_with_signal_it_takes_few_taps_and_tells_at_once(serve: Serve, open_page: Open) -> None:
    address = serve(seed)
    page = sign_in(open_page(width=360), address, "cruz")
    page.goto(f"{address}/skerry/check?device=boat-3")

    assert fill(page) + 1 <= MOST_TAPS
    lock(page)

    expect(page.get_by_role("heading", level=2)).to_contain_text("holds the policy")
    assert axe(page) == []
    assert not overflows(page)


@pytest.mark.parametrize("size", [(360, 800), (800, 360)], ids=["upright", "landscape"])
def test_what_is_tapped_is_large_enough_for_a_glove(
    serve: Serve, open_page: Open, size: tuple[int, int]
) -> None:
    address = serve(seed)
    page = open_page(width=size[0], height=size[1])
    page.goto(f"{address}/skerry/check?device=boat-3")

    small = page.evaluate(
        """() => [...document.querySelectorAll("form.shift :is(button, select, label.pick,"
          + " input:not([type=radio], [type=hidden]))")].filter((one) => one.offsetParent
          && one.getBoundingClientRect().height < 48).map((one) => one.outerHTML)"""
    )

    assert small == []
    assert not overflows(page)


def test_somebody_may_send_by_hand(serve: Serve, open_page: Open, sqlite_url: str) -> None:
    address = serve(seed)
    page = sign_in(open_page(width=360, failures=True), address, "cruz")
    page.route(API, lambda route: route.abort())
    check(page, address)
    expect(waiting(page)).to_contain_text(IN_VAIN)
    assert taken(sqlite_url) == []

    page.unroute(API)
    page.get_by_role("button", name="Send now").click()

    expect(waiting(page)).to_contain_text("what you read holds the policy")
    assert len(taken(sqlite_url)) == 1


class TestCuts:
    """The line breaks at one step, and the phone is killed right after."""

    @staticmethod
    def _before(route: Any) -> None:
        route.abort()

    @staticmethod
    def _server_fails(route: Any) -> None:
        route.fulfill(status=503, body="<p>Bad gateway")

    @staticmethod
    def _other_page(route: Any) -> None:
        """As a station's own sign-in page answers everything."""
        route.fulfill(status=200, body="<p>Welcome to our network")

    @staticmethod
    def _after_commit(route: Any) -> None:
        route.fetch()
        route.abort()

    @staticmethod
    def _half_an_answer(route: Any) -> None:
        answer = route.fetch()
        route.fulfill(response=answer, body=answer.body()[:20])

    @pytest.mark.parametrize(
        "cut", ["_before", "_server_fails", "_other_page", "_after_commit", "_half_an_answer"]
    )
    def test_nothing_is_lost_or_doubled(
        self, serve: Serve, open_page: Open, sqlite_url: str, cut: str
    ) -> None:
        address = serve(seed)
        page = sign_in(open_page(width=360, failures=True), address, "cruz")
        ready(page, address)
        tries: list[str] = []

        def broken(route: Any) -> None:
            tries.append(route.request.headers["idempotency-key"])
            getattr(self, cut)(route)

        page.route(API, broken)
        check(page, address)
        expect(waiting(page)).to_contain_text("1 check is kept on this phone")
        assert kept(page) == [(1, "waiting")]
        context = page.context
        page.close()

        again = context.new_page()
        again.on("request", lambda one: tries.append(one.headers.get("idempotency-key", "")))
        again.goto(f"{address}/skerry/limits")

        expect(waiting(again)).to_contain_text("what you read holds the policy")
        assert len({one for one in tries if one}) == 1
        assert len(taken(sqlite_url)) == 1

    def test_a_line_that_comes_and_goes(
        self, serve: Serve, open_page: Open, sqlite_url: str
    ) -> None:
        """Every second request is cut, after the service has taken it or before."""
        address = serve(seed)
        page = sign_in(open_page(width=360, failures=True), address, "cruz")
        ready(page, address)
        page.context.set_offline(True)
        for _ in range(3):
            check(page, address)
        expect(waiting(page)).to_contain_text(IN_VAIN)
        count = 0

        def flapping(route: Any) -> None:
            nonlocal count
            count += 1
            if count % 2:
                (self._before if count % 4 == 1 else self._after_commit)(route)
            else:
                route.continue_()

        page.route(API, flapping)
        page.context.set_offline(False)
        page.goto(f"{address}/skerry/limits")
        for _ in range(20):
            if all(state == "taken" for _, state in kept(page)):
                break
            page.evaluate("MarchstoneQueue.send()")

        assert kept(page) == [(1, "taken"), (2, "taken"), (3, "taken")]
        assert [row.number for row in taken(sqlite_url)] == [1, 2, 3]

    def test_two_pages_that_send_at_once(
        self, serve: Serve, open_page: Open, sqlite_url: str
    ) -> None:
        address = serve(seed)
        page = sign_in(open_page(width=360, failures=True), address, "cruz")
        ready(page, address)
        page.context.set_offline(True)
        check(page, address)
        other = page.context.new_page()
        other.goto(f"{address}/skerry/limits")
        expect(waiting(page)).to_contain_text(IN_VAIN)

        page.context.set_offline(False)

        for one in (page, other):
            expect(waiting(one)).to_contain_text("what you read holds the policy")
        assert len(taken(sqlite_url)) == 1


def test_a_phone_that_loses_its_power_has_kept_what_was_locked(
    serve: Serve, chromium: Browser, tmp_path: Path, sqlite_url: str
) -> None:
    """The browser is killed, not closed, as soon as the page says that it is locked."""
    address, folder = serve(seed), tmp_path / "phone"
    phone = _switched_on(chromium, folder)
    page = sign_in(phone.new_page(), address, "cruz")
    ready(page, address)
    phone.set_offline(True)
    check(page, address)
    expect(page.locator("#locked")).to_contain_text("Locked: boat-3.")
    _kill(folder)

    again = _switched_on(chromium, folder)
    page = again.new_page()
    sign_in(page, address, "cruz")  # a browser writes down who is signed in only now and then
    page.goto(f"{address}/skerry/limits")

    expect(waiting(page)).to_contain_text("what you read holds the policy")
    again.close()
    assert len(taken(sqlite_url)) == 1


def _switched_on(chromium: Browser, folder: Path) -> BrowserContext:
    path = next(found for name in NAMES if (found := shutil.which(name)))
    return chromium.browser_type.launch_persistent_context(
        str(folder), executable_path=path, args=FLAGS, viewport={"width": 360, "height": 800}
    )


def _kill(folder: Path) -> None:
    """The one browser that has this folder, and nothing else; it is gone when this returns."""
    processes = [entry for entry in Path("/proc").iterdir() if entry.name.isdigit()]
    ours = [entry for entry in processes if f"--user-data-dir={folder}".encode() in _told(entry)]
    for entry in ours:
        with suppress(ProcessLookupError):
            os.kill(int(entry.name), signal.SIGKILL)
    while any(_told(entry) for entry in ours):
        time.sleep(0.01)


def _told(process: Path) -> list[bytes]:
    """Its command line; nothing once it has ended."""
    try:
        told = (process / "cmdline").read_bytes()
    except OSError:
        return []
    return told.split(b"\0") if told else []


def test_checks_go_out_in_the_order_in_which_they_were_locked(
    serve: Serve, open_page: Open, sqlite_url: str
) -> None:
    address = serve(seed)
    page = sign_in(open_page(width=360, failures=True), address, "cruz")
    ready(page, address)
    page.context.set_offline(True)
    for low in ("75", "74", "73"):
        check(page, address, {**SIGNED, "heart-rate-low": low})
    expect(waiting(page)).to_contain_text("3 checks are kept on this phone, not sent yet.")

    page.context.set_offline(False)
    page.goto(f"{address}/skerry/limits")

    expect(waiting(page).get_by_role("link", name="What it brought")).to_have_count(3)
    expect(waiting(page)).not_to_contain_text("not sent yet")
    rows = taken(sqlite_url)
    assert [row.number for row in rows] == [1, 2, 3]
    assert len({row.phone for row in rows}) == 1
    assert sorted(row.read_at for row in rows) == [row.read_at for row in rows]


@pytest.mark.parametrize("hours", [-5, 5], ids=["slow", "fast"])
def test_a_wrong_clock_is_corrected(
    serve: Serve, open_page: Open, sqlite_url: str, hours: int
) -> None:
    address = serve(seed)
    page = open_page(width=360, failures=True)
    page.add_init_script(WRONG_CLOCK.replace("AHEAD", str(hours * HOUR_MS)))
    sign_in(page, address, "cruz")
    ready(page, address)
    page.context.set_offline(True)
    check(page, address)
    expect(waiting(page)).to_contain_text(IN_VAIN)

    page.context.set_offline(False)
    expect(waiting(page)).to_contain_text("what you read holds the policy")

    (row,) = taken(sqlite_url)
    assert row.sent_at is not None
    assert row.locked_at is not None
    assert abs(row.sent_at - row.received_at - timedelta(hours=hours)) < timedelta(minutes=1)
    assert row.received_at - row.read_at == row.sent_at - row.locked_at
    page.get_by_role("link", name="What it brought").click()
    told = f"the phone's clock was 5 hours {'fast' if hours > 0 else 'slow'}"
    expect(page.locator("dl.facts")).to_contain_text(told)


def test_what_is_refused_stays_in_sight_until_somebody_acts(
    serve: Serve, open_page: Open, sqlite_url: str
) -> None:
    address = serve(seed)
    page = sign_in(open_page(width=360, failures=True), address, "cruz")
    ready(page, address)
    page.context.set_offline(True)
    page.goto(f"{address}/skerry/check?device=boat-33")
    fill(page)
    lock(page)
    expect(page.locator("#locked")).to_contain_text("Locked: boat-33.")
    check(page, address)
    expect(waiting(page)).to_contain_text(IN_VAIN)

    page.context.set_offline(False)

    told = "not taken. There is no device boat-33."
    expect(waiting(page)).to_contain_text(told)
    page.goto(f"{address}/skerry/limits")
    expect(waiting(page)).to_contain_text("There is no device boat-33.")
    assert axe(page) == []
    assert not overflows(page)
    assert [row.number for row in taken(sqlite_url)] == [2]
    page.get_by_role("button", name="Throw this one away").click()
    expect(waiting(page)).not_to_contain_text("boat-33")


def test_locked_while_nobody_is_signed_in_it_waits_for_a_person(
    serve: Serve, open_page: Open, sqlite_url: str
) -> None:
    address = serve(seed)
    page = open_page(width=360, failures=True)
    page.goto(f"{address}/skerry/check?device=boat-3")
    expect(page.locator(".lede")).to_contain_text("You are not signed in")
    fill(page)
    lock(page)
    expect(waiting(page)).to_contain_text("waits until you sign in")
    assert taken(sqlite_url) == []

    page.get_by_role("main").get_by_role("link", name="Sign in").click()
    page.get_by_label("Username").fill("cruz")
    page.get_by_label("Password").fill("five stones on the hill")
    page.get_by_role("button", name="Sign in").click()

    expect(waiting(page)).to_contain_text("locked while nobody was signed in")
    page.get_by_role("button", name="I checked it: send as cruz").click()
    expect(waiting(page)).to_contain_text("what you read holds the policy")
    assert len(taken(sqlite_url)) == 1


def test_what_one_person_locked_is_not_sent_in_the_name_of_another(
    serve: Serve, open_page: Open, sqlite_url: str
) -> None:
    address = serve(seed)
    page = sign_in(open_page(width=360, failures=True), address, "cruz")
    ready(page, address)
    page.context.set_offline(True)
    check(page, address)
    page.context.clear_cookies()
    page.context.set_offline(False)

    sign_in(page, address, "tess")
    page.goto(f"{address}/skerry/limits")
    expect(waiting(page)).to_contain_text("waits until cruz signs in")
    assert taken(sqlite_url) == []

    page.context.clear_cookies()
    sign_in(page, address, "cruz")
    page.goto(f"{address}/skerry/limits")
    expect(waiting(page)).to_contain_text("what you read holds the policy")
    assert len(taken(sqlite_url)) == 1


def test_what_is_unsafe_is_told_until_somebody_has_seen_it(serve: Serve, open_page: Open) -> None:
    address = serve(seed)
    page = sign_in(open_page(width=360, failures=True), address, "cruz")
    ready(page, address)
    page.context.set_offline(True)
    check(page, address, {**SIGNED, "heart-rate-high": "230"})
    expect(waiting(page)).to_contain_text(IN_VAIN)

    page.context.set_offline(False)
    page.goto(f"{address}/skerry/limits")

    expect(waiting(page)).to_contain_text("unsafe: keep it from the next patient, and swap it now")
    assert axe(page) == []
    page.get_by_role("link", name="What it brought").click()
    expect(page.locator(".notice.grave")).to_contain_text("Swap boat-3 for another device now")
    assert axe(page) == []
    assert not overflows(page)


def test_what_is_missing_is_told_at_its_field(serve: Serve, open_page: Open) -> None:
    address = serve(seed)
    page = open_page(width=320)
    page.goto(f"{address}/skerry/check?device=boat-3")

    lock(page)
    expect(page.locator(".amiss-words:visible").first).to_have_text("nothing is entered")
    assert axe(page) == []
    assert not overflows(page)
    fill(page, {**SIGNED, "heart-rate-low": "7"})
    lock(page)
    expect(page.locator(".amiss-words:visible")).to_have_text(
        "look again; if it is so, lock once more"
    )
    lock(page)
    expect(page.locator("#locked")).to_contain_text("Locked: boat-3.")


def test_by_keyboard_alone(serve: Serve, open_page: Open) -> None:
    address = serve(seed)
    page = sign_in(open_page(), address, "cruz")
    page.goto(f"{address}/skerry/check?device=boat-3")
    keys = Keyboard(page)
    for name in ("preset", "state_read"):
        keys.to(page.locator(f"input[name={name}]").first)
        keys.press("Space")
        if name == "preset":
            keys.press("ArrowRight", "ArrowRight")
    for alarm, value in SIGNED.items():
        keys.to(page.locator(f'input[name="{alarm}"]'))
        keys.type(value)
    keys.to(page.locator('select[name="spo2-high.found"]'))
    keys.type("off")
    for question in ("alarms-on", "volume", "no-pause", "etco2", "clock", "undamaged"):
        keys.to(page.locator(f"input[name={question}]").first)
        keys.press("Space")
    keys.to(page.get_by_role("button", name="Lock this check"))
    keys.press("Enter")

    expect(page.get_by_role("heading", level=2)).to_contain_text("holds the policy")


def test_without_script_the_form_itself_is_sent(
    serve: Serve, open_page: Open, sqlite_url: str
) -> None:
    address = serve(seed)
    page = sign_in(open_page(javascript=False), address, "cruz")
    page.goto(f"{address}/skerry/check?device=boat-3")
    fill(page)
    lock(page)

    expect(page.get_by_role("heading", level=2)).to_contain_text("holds the policy")
    (row,) = taken(sqlite_url)
    assert row.phone is None


def test_the_list_of_those_that_want_one(serve: Serve, open_page: Open) -> None:
    address = serve(seed)
    for width in (360, 1280):
        page = sign_in(open_page(width=width), address, "femi")
        page.goto(f"{address}/skerry/checks")
        expect(page.locator(".lede")).to_contain_text("1 of 1 devices in service")
        assert axe(page) == []
        assert not overflows(page)


def test_a_device_page_without_signal_tells_what_waits(serve: Serve, open_page: Open) -> None:
    address = serve(seed)
    page = sign_in(open_page(width=360, failures=True), address, "cruz")
    ready(page, address)
    page.goto(f"{address}/skerry/d/boat-3")
    page.context.set_offline(True)
    check(page, address)

    page.goto(f"{address}/skerry/d/boat-3")

    expect(page.locator("body")).to_contain_text("this is what was known of the device on")
    expect(waiting(page)).to_contain_text("1 check is kept on this phone, not sent yet.")
