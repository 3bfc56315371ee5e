"""A real service on a loopback port, and a real browser in front of it."""

import os
import shutil
import socket
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
import uvicorn
from axe_playwright_python.sync_playwright import Axe
from fastapi import Request
from playwright.sync_api import (
    Browser,
    BrowserContext,
    ConsoleMessage,
    Page,
    expect,
    sync_playwright,
)

from app.main import Clock, build, wall_clock
from app.settings import Settings
from app.storage.database import Database
from app.web.render import rendered

NAMES = ("chromium", "chromium-browser", "google-chrome-stable", "google-chrome")
MISSING = "No Chromium is found on this machine: the journeys in a real browser are not walked."
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
PATIENCE_MS = 30_000  # nothing is timed here, and machines may be busy
WORKERS_PATIENCE = "PATIENCE_MS = 1500;"
WCAG = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
Seed = Callable[[Any], object]


@pytest.fixture(scope="package")
def chromium() -> Iterator[Browser]:
    path = next((found for name in NAMES if (found := shutil.which(name))), None)
    if path is None:
        if os.environ.get("CI") == "true":
            pytest.fail(MISSING)
        pytest.skip(MISSING)
    expect.set_options(timeout=PATIENCE_MS)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=FLAGS)
        yield browser
        browser.close()


@pytest.fixture(scope="package", autouse=True)
def _patient_workers() -> Iterator[None]:
    """What answers after a second and a half is as good as no signal to a crew, and as good as any
    answer of a machine that runs several browsers at once."""

    def patient(request: Request, template: str, page: Any, **more: Any) -> str:
        text = rendered(request, template, page, **more)
        if template != "sw.js":
            return text
        assert WORKERS_PATIENCE in text
        return text.replace(WORKERS_PATIENCE, f"PATIENCE_MS = {PATIENCE_MS};")

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("app.web.limits_copy.rendered", patient)
        yield


@pytest.fixture
def serve(sqlite_url: str, tmp_path: Path) -> Iterator[Callable[[Seed], str]]:
    """`serve(seed)` fills a fresh database in one transaction, starts, and tells the address;
    `clock=` where a test moves time on."""
    stops: list[Callable[[], None]] = []

    def start(seed: Seed, clock: Clock = wall_clock) -> str:
        database = Database(sqlite_url)
        with database.writing() as tx:
            seed(tx)
        address, stop = _start(
            Settings(data_dir=tmp_path, database_url=sqlite_url), database, clock
        )
        stops.append(stop)
        return address

    yield start
    for stop in stops:
        stop()


def _start(settings: Settings, database: Database, clock: Clock) -> tuple[str, Callable[[], None]]:
    listening = socket.create_server(("127.0.0.1", 0))
    app = build(settings, database, clock=clock)
    server = uvicorn.Server(uvicorn.Config(app, log_level="warning"))
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
    thread.start()
    while not server.started:
        time.sleep(0.01)

    def stop() -> None:
        server.should_exit = True
        thread.join(timeout=10)
        listening.close()
        database.dispose()

    return f"http://127.0.0.1:{listening.getsockname()[1]}", stop


@pytest.fixture
def open_page(chromium: Browser) -> Iterator[Callable[..., Page]]:
    """`open_page(width=360, javascript=False, theme="night")`; what the console complains of
    (script errors, breaches of the content policy) fails the test at its end. `failures=True`
    where a test makes requests fail: the browser then says so, and is right."""
    contexts: list[BrowserContext] = []
    complaints: list[str] = []

    def opened(
        *,
        width: int = 1280,
        height: int = 800,
        javascript: bool = True,
        theme: str = "day",
        failures: bool = False,
        touch: bool = False,
    ) -> Page:
        context = chromium.new_context(
            has_touch=touch,
            is_mobile=touch,
            viewport={"width": width, "height": height},
            java_script_enabled=javascript,
            color_scheme="dark" if theme == "night" else "light",
            reduced_motion="reduce",
        )
        context.set_default_timeout(PATIENCE_MS)
        contexts.append(context)
        page = context.new_page()
        page.on("pageerror", lambda error: complaints.append(str(error)))
        page.on("console", lambda said: _note(complaints, said, failures=failures))
        return page

    yield opened
    for context in contexts:
        context.close()
    assert complaints == []


def _note(complaints: list[str], said: ConsoleMessage, *, failures: bool) -> None:
    expected: tuple[str, ...] = (
        "Failed to load resource: the server responded with a status of 4",
        "Response Status Error Code 4",  # htmx tells the same once more
    )
    if failures:
        expected += ("Failed to load resource", "Response Status Error Code", "htmx:")
    if said.type == "error" and not said.text.startswith(expected):
        complaints.append(said.text)


def axe(page: Page) -> list[str]:
    """What breaks WCAG 2.2 AA on the page, a line each. Whoever asks has waited for the page."""
    page.wait_for_load_state()
    found = Axe().run(page, options={"runOnly": {"type": "tag", "values": WCAG}})
    return [
        f"{broken['id']}: {node['html']}"
        for broken in found.response["violations"]
        for node in broken["nodes"]
    ]


def overflows(page: Page) -> bool:
    """Whether the page as a whole must be scrolled sideways."""
    page.wait_for_load_state()
    wide: bool = page.evaluate(
        "document.documentElement.scrollWidth > document.documentElement.clientWidth"
    )
    return wide
