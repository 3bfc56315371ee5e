"""What crews are promised of their pages, measured in a real browser: sizes, taps, bytes, keys."""

import socket
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from datetime import timedelta
from urllib.parse import urlsplit

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect
from sqlmodel import Session

from app.actions.crew_codes import set_crew_code
from app.domain.people import Role
from app.main import wall_clock
from tests.builders import (
    PASSWORD,
    a_device,
    a_document,
    a_person,
    a_signed_revision,
)
from tests.crew_documents import OXYGEN, PETREL, withdrawn
from tests.journeys.conftest import Seed, axe, overflows
from tests.journeys.shift_phones import until
from tests.journeys.test_crew_offline import visit

CODE = "north 44"
FIRST_VISIT = 60_000  # bytes over the wire, heads included
SHELL_KEPT = """async () => {
  for (const name of await caches.keys()) {
    if (name.startsWith("shell-")) return (await (await caches.open(name)).keys()).length;
  }
  return 0;
}"""
SMALL = [(320, 640, "day"), (320, 640, "night"), (740, 360, "night")]


def document() -> dict[str, object]:
    found = a_document() | {"circumstances": [OXYGEN], "models": {"petrel": PETREL}}
    usual = {"priority": "medium", "delay_s": 5, "latching": False, "reason": "so", "source": "so"}
    found["settings"]["infant"] |= {
        "nibp-systolic-low": {"state": "on", "limit": 70, **usual},
        "nibp-diastolic-low": {"state": "off", "reason": "the mean guards it"},
        "nibp-mean-low": {"state": "on", "limit": 45, **usual, "delay_s": 10},
        "nibp-systolic-high": {"state": "on", "limit": 115, **usual},
        "nibp-diastolic-high": {"state": "on", "limit": 110, **usual},
        "nibp-mean-high": {"state": "on", "limit": 100, **usual},
    }
    return found


def seed(tx: Session) -> None:
    yesterday = wall_clock() - timedelta(days=1)
    a_signed_revision(tx, document=document(), now=yesterday)
    a_device(tx, "air-1", model="petrel")
    a_person(tx, Role.CREW)
    a_person(tx, Role.EDUCATOR)


def with_code(tx: Session) -> None:
    seed(tx)
    set_crew_code(tx, code=CODE, by=a_person(tx), now=wall_clock())


def gone(tx: Session) -> None:
    seed(tx)
    withdrawn(tx, now=wall_clock())


def with_news(tx: Session) -> None:
    seed(tx)
    after = document()
    after["settings"]["adult"]["spo2-low"]["limit"] = 92  # type: ignore[index]
    a_signed_revision(tx, document=after, now=wall_clock())


def sign_in(page: Page, address: str, onward: str, name: str = "cruz") -> None:
    page.goto(f"{address}/sign-in?agency=skerry&next={onward}")
    page.get_by_label("Username").fill(name)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url(f"{address}{onward}")


def look_at(page: Page) -> None:
    assert axe(page) == []
    assert not overflows(page)


def too_low(page: Page) -> list[str]:
    """Whatever a glove must hit and is less than 48 px high; links in a sentence are words."""
    found: list[str] = page.locator(
        "main a:not(p:not(.near, .buttons, .born-answer) a), main button, main select,"
        " main summary, main input:not([type=radio], [type=hidden]), main label.pick"
    ).evaluate_all(
        """all => all.filter(one => one.offsetParent)
          .filter(one => one.getBoundingClientRect().height < 47.9)
          .map(one => one.outerHTML.slice(0, 120))"""
    )
    return found


@pytest.mark.parametrize(("width", "height", "theme"), SMALL)
@pytest.mark.parametrize("where", ["limits?age=7+mo", "limits?age=2+y&model=petrel", "d/air-1"])
def test_a_glove_hits_and_an_eye_reads(
    serve: Callable[[Seed], str],
    open_page: Callable[..., Page],
    width: int,
    height: int,
    theme: str,
    where: str,
) -> None:
    page = open_page(width=width, height=height, theme=theme)
    page.goto(f"{serve(seed)}/skerry/{where}")
    for more in page.locator("summary").all():
        more.click()

    sizes = page.locator(".limit, .off-part, .line.off b").evaluate_all(
        "all => all.map(one => parseFloat(getComputedStyle(one).fontSize))"
    )
    assert min(sizes, default=32) >= 32  # 24 pt
    assert too_low(page) == []
    look_at(page)
    found = Axe().run(page, options={"runOnly": ["color-contrast-enhanced"]})
    assert [broken["id"] for broken in found.response["violations"]] == []


def test_numbers_stand_in_columns_low_left_high_right(
    serve: Callable[[Seed], str], open_page: Callable[..., Page]
) -> None:
    page = open_page(width=320, height=640)
    page.goto(f"{serve(seed)}/skerry/limits?age=7+mo")

    for sign in page.locator(".sign:has(.low)").all():
        low, high = (sign.locator(f"> div.{side}").bounding_box() for side in ("low", "high"))
        assert low
        assert high
        assert low["x"] + low["width"] <= high["x"]
    figures = page.locator(".limit").first.evaluate(
        "one => getComputedStyle(one).fontVariantNumeric"
    )
    assert "tabular-nums" in figures


def test_pressures_are_one_block_with_off_by_word_and_shape(
    serve: Callable[[Seed], str], open_page: Callable[..., Page]
) -> None:
    page = open_page(width=320, height=640)
    page.goto(f"{serve(seed)}/skerry/limits?age=7+mo")

    block = page.get_by_role("region", name="NIBP systolic/diastolic (mean)")
    said = "".join(block.locator(".low .line").inner_text().split())
    assert said == "alarmbelow70/OFF(45)mmHg"
    off = block.locator(".off-part").evaluate(
        "one => [getComputedStyle(one).borderTopWidth, getComputedStyle(one).backgroundImage]"
    )
    assert off[0] == "3px"
    assert "gradient" in off[1]


def test_nothing_waits_for_a_hover(
    serve: Callable[[Seed], str], open_page: Callable[..., Page]
) -> None:
    page = open_page(width=360)
    page.goto(f"{serve(seed)}/skerry/limits?age=7+mo")

    hovering = page.evaluate(
        """() => [...document.styleSheets].flatMap(sheet => [...sheet.cssRules])
          .map(rule => rule.cssText).filter(text => /:hover/.test(text))
          .filter(text => /display|visibility|opacity|content/.test(text))"""
    )
    assert hovering == []
    expect(page.locator("main [title]:not(code, .limit)")).to_have_count(0)


def test_withdrawn_limits_stand_under_a_banner_with_signal_and_without(
    serve: Callable[[Seed], str], open_page: Callable[..., Page]
) -> None:
    address = serve(gone)
    page = visit(open_page(width=320, failures=True), address)
    page.goto(f"{address}/skerry/limits?age=7+mo")

    for _ in range(2):
        banner = page.locator(".withdrawn")
        expect(banner).to_contain_text("not in force")
        limits = page.locator(".signs").first
        top, below = banner.bounding_box(), limits.bounding_box()
        assert top
        assert below
        assert top["y"] < below["y"]
        expect(page.locator("main")).not_to_contain_text("in force since")
        look_at(page)
        page.context.set_offline(True)
        page.reload()
        expect(page.locator(".copy-age")).to_be_visible()


def test_a_copy_expires_on_the_phone_by_itself(
    serve: Callable[[Seed], str], open_page: Callable[..., Page]
) -> None:
    address = serve(seed)
    page = visit(open_page(width=360, failures=True), address)
    page.context.set_offline(True)
    years = 2 * 366 * 24 * 3_600_000
    page.add_init_script(
        f"""const Real = Date;
        globalThis.Date = class extends Real {{
          constructor(...given) {{ given.length ? super(...given) : super(Real.now() + {years}); }}
          static now() {{ return Real.now() + {years}; }}
        }};"""
    )

    page.goto(f"{address}/skerry/limits?age=7+mo")

    expect(page.locator("#kept")).to_contain_text("Expired after")


def test_what_is_set_by_hand_is_told_without_signal_as_well(
    serve: Callable[[Seed], str], open_page: Callable[..., Page]
) -> None:
    address = serve(seed)
    page = visit(open_page(width=360, failures=True), address)
    page.goto(f"{address}/skerry/d/air-1")
    page.get_by_label("Age", exact=True).fill("2")
    page.get_by_role("button", name="years").click()
    expect(page.locator(".on-model")).to_contain_text("choose preset SMALL")
    expect(page.locator(".changed").first).to_have_text("set by hand")

    page.context.set_offline(True)
    page.reload()

    expect(page.locator(".copy-age")).to_be_visible()
    expect(page.locator(".on-model")).to_contain_text("choose preset SMALL")
    look_at(page)


def test_a_code_is_asked_once_works_without_signal_and_a_new_one_locks_out(
    serve: Callable[..., str], open_page: Callable[..., Page]
) -> None:
    address = serve(with_code)
    page = open_page(width=320, failures=True)
    page.goto(f"{address}/skerry/limits?age=7+mo")
    expect(page.get_by_role("heading", level=1)).to_have_text("Crew code")
    look_at(page)
    assert too_low(page) == []
    page.get_by_label("Code").fill("wrong one")
    page.keyboard.press("Enter")
    expect(page.get_by_role("alert")).to_contain_text("this is not the crew code")
    page.get_by_label("Code").fill("North 44")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_contain_text("7 months")
    visit(page, address)

    page.context.set_offline(True)
    page.goto(f"{address}/skerry/limits?age=7+mo")
    expect(page.locator(".copy-age")).to_be_visible()
    page.context.set_offline(False)

    boss = open_page()
    sign_in(boss, address, "/skerry/choices", "dana")
    boss.get_by_label("New code").fill("south 55")
    boss.get_by_role("button", name="Set the code").click()
    expect(boss.get_by_text("The crew code is set.")).to_be_visible()
    page.goto(f"{address}/skerry/limits?age=7+mo")
    page.wait_for_selector("html[data-locked=yes]")

    page.context.set_offline(True)
    page.goto(f"{address}/skerry/limits?age=7+mo")
    expect(page.locator("body")).not_to_contain_text("alarm below")


@pytest.mark.parametrize("theme", ["day", "night"])
def test_news_are_read_and_said_to_be_seen_by_keyboard(
    serve: Callable[[Seed], str], open_page: Callable[..., Page], theme: str
) -> None:
    page = open_page(width=360, theme=theme)
    address = serve(with_news)
    sign_in(page, address, "/skerry/")
    page.locator(".unseen a").first.click()
    expect(page.get_by_role("heading", level=1)).to_have_text("What revision 2 changes")
    look_at(page)
    assert too_low(page) == []
    page.get_by_label("Category").select_option("infant")
    page.get_by_role("button", name="Show what changes for me").press("Enter")
    expect(page.locator("main")).to_contain_text("Nothing of this changes")

    page.get_by_label("The station at which you work now").fill("North")
    page.get_by_role("button", name="I have seen what changes").press("Enter")

    expect(page.locator("main")).to_contain_text("You said on")
    page.goto(f"{address}/skerry/")
    expect(page.locator(".unseen")).to_have_count(0)


@pytest.mark.parametrize(("width", "theme"), [(320, "day"), (360, "night"), (1280, "day")])
def test_a_drill_is_walked_and_its_result_told(
    serve: Callable[[Seed], str], open_page: Callable[..., Page], width: int, theme: str
) -> None:
    page = open_page(width=width, theme=theme)
    address = serve(seed)
    sign_in(page, address, "/skerry/practice")
    look_at(page)
    page.get_by_role("button", name="Begin").click()
    expect(page.locator(".drill fieldset")).to_have_count(20)
    look_at(page)
    assert too_low(page) == []
    page.get_by_role("button", name="Finish").press("Enter")
    expect(page.get_by_role("alert")).to_contain_text("20 of 20 are not answered yet")
    expect(page.locator(".drill fieldset")).to_have_count(20)
    for fieldset in page.locator(".drill fieldset").all():
        fieldset.locator("label.pick").first.click()
    page.get_by_role("button", name="Finish").click()

    expect(page.get_by_role("heading", level=1)).to_contain_text("of 20 right")
    look_at(page)
    page.get_by_role("link", name="Results by case").click()
    expect(page.locator("main")).to_contain_text("1 drill finished")
    look_at(page)


@pytest.mark.parametrize("first", ["limits", "limits?age=7+mo", "d/air-1"])
def test_the_first_visit_is_small_and_asks_nobody_else(
    serve: Callable[[Seed], str], open_page: Callable[..., Page], first: str
) -> None:
    port = urlsplit(serve(seed)).port
    assert port
    page = open_page(width=360)
    hosts: set[str | None] = set()
    page.context.on("request", lambda asked: hosts.add(urlsplit(asked.url).netloc))

    with counting(port) as counted:
        here = f"127.0.0.1:{counted.port}"
        page.goto(f"http://{here}/skerry/{first}")
        page.wait_for_selector("html[data-kept=yes]")
        page.wait_for_function("() => navigator.serviceWorker.controller !== null")
        page.wait_for_load_state("networkidle")
        until(page, SHELL_KEPT)
        page.wait_for_load_state("networkidle")

    assert hosts == {here}
    assert 10_000 < counted.received <= FIRST_VISIT


class Counter:
    """Passes bytes on to a service and back, and counts those that come back."""

    def __init__(self, service: int) -> None:
        self._service, self._lock = service, threading.Lock()
        self._listening = socket.create_server(("127.0.0.1", 0))
        self.port: int = self._listening.getsockname()[1]
        self.received = 0
        self._sockets = [self._listening]
        threading.Thread(target=self._accept, daemon=True).start()

    def _accept(self) -> None:
        with suppress(OSError):
            while True:
                phone, _ = self._listening.accept()
                service = socket.create_connection(("127.0.0.1", self._service))
                self._sockets += [phone, service]
                for source, target in ((phone, service), (service, phone)):
                    passing = threading.Thread(
                        target=self._pass_on, args=(source, target), daemon=True
                    )
                    passing.start()

    def _pass_on(self, source: socket.socket, target: socket.socket) -> None:
        with suppress(OSError):
            while got := source.recv(65_536):
                target.sendall(got)
                if source.getpeername()[1] == self._service:
                    with self._lock:
                        self.received += len(got)
            target.shutdown(socket.SHUT_WR)

    def close(self) -> None:
        for one in self._sockets:
            with suppress(OSError):
                one.shutdown(socket.SHUT_RDWR)
            one.close()


@contextmanager
def counting(service: int) -> Iterator[Counter]:
    counter = Counter(service)
    try:
        yield counter
    finally:
        counter.close()
