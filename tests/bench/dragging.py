"""A limit dragged along its curves, in a real browser, against a bare page of the same service
asked for by the same browser. Nothing is asked while a limit is dragged: the curves are on the
page, so that is where the answer is. Without a script the page itself is asked again.
"""

import shutil
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory

import uvicorn
from playwright.sync_api import Page, sync_playwright
from sqlmodel import Session

from app.actions.recordings import add_recording, pack_trends
from app.demo.trends import invented
from app.domain.people import Role
from app.domain.recordings import NewRecording
from app.main import build
from app.settings import Settings
from app.storage.migrating import open_database
from tests.bench.contests import LEAST_TURNS, Line
from tests.builders import NOW, PRESET, a_document, a_draft, a_person, a_signed_revision
from tests.journeys.conftest import FLAGS, NAMES
from tests.journeys.readers import sign_in
from tests.recorded import an_evidence

NAME = "limit dragged"
MOVES = 50
TARGET = "at most 50 ms"
NOISE = f"/skerry/policy/2/noise?category={PRESET}&alarm=heart-rate-high"
_DRAG = """(moves) => {
  const slide = document.getElementById("slide"), section = document.getElementById("curve");
  const told = section.querySelector('[data-told="limit"]');
  const seen = new Set(), most = Number(slide.max), began = performance.now();
  for (let i = 0; i < moves; i++) {
    slide.value = (i * 7) % (most + 1);
    slide.dispatchEvent(new Event("input", { bubbles: true }));
    section.getBoundingClientRect();  // the browser lays the new picture out
    seen.add(told.textContent);
  }
  const each = (performance.now() - began) / moves;
  if (seen.size < Math.min(moves, most) / 2) throw new Error("the limit did not move");
  return each;
}"""
_ASK = """async ([address, moves]) => {
  const began = performance.now();
  for (let i = 0; i < moves; i++) {
    const answer = await fetch(address, { cache: "no-store" });
    if (!answer.ok) throw new Error(String(answer.status));
    await answer.text();
  }
  return (performance.now() - began) / moves;
}"""


def lines(turns: int) -> list[Line]:
    path = next((found for name in NAMES if (found := shutil.which(name))), None)
    with (
        TemporaryDirectory(prefix="marchstone-bench-") as folder,
        _served(Path(folder)) as address,
        sync_playwright() as playwright,
        playwright.chromium.launch(executable_path=path, args=FLAGS) as browser,
    ):
        page = sign_in(browser.new_page(), address, "dana")
        page.goto(address + NOISE)
        return _held(page, max(turns, LEAST_TURNS))


def _held(page: Page, turns: int) -> list[Line]:
    """Turn and turn about, in ms a move."""
    taken = [_turn(page) for _ in range(turns + 1)][1:]  # the first warms up
    dragged, asked, bare = (median(column) for column in zip(*taken, strict=True))
    size = page.locator("#slide").get_attribute("max")
    told = f"{size} limits × 5 delays"
    return [
        Line(f"{NAME}, by script", told, "a bare page", dragged, bare, dragged / bare, TARGET),
        Line(f"{NAME}, without one", told, "a bare page", asked, bare, asked / bare, TARGET),
    ]


def _turn(page: Page) -> tuple[float, float, float]:
    asked = f"{NOISE}&of=heart-rate-high&delay=10&limit=150"
    return (
        page.evaluate(_DRAG, MOVES),
        page.evaluate(_ASK, [asked, 10]),
        page.evaluate(_ASK, ["/help/caution", 10]),
    )


@contextmanager
def _served(folder: Path) -> Iterator[str]:
    database = open_database(f"sqlite:///{folder / 'bench.db'}", now=NOW)
    with database.writing() as tx:
        _seed(tx)
    app = build(Settings(data_dir=folder, database_url="sqlite:///unused"), database)
    listening = socket.create_server(("127.0.0.1", 0))
    server = uvicorn.Server(uvicorn.Config(app, log_level="warning"))
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
    thread.start()
    while not server.started:
        time.sleep(0.01)
    yield f"http://127.0.0.1:{listening.getsockname()[1]}"
    server.should_exit = True
    thread.join(timeout=10)
    listening.close()
    database.dispose()


def _seed(tx: Session) -> None:
    a_signed_revision(tx)
    a_draft(tx, document=a_document({"heart-rate-high": 185}))
    trends = invented()
    new = NewRecording("Invented transfers", PRESET, "invented", "SYNTHETIC: invented")
    by = a_person(tx, Role.QUALITY_OFFICER)
    add_recording(tx, new, trends, pack_trends(trends), by=by, now=NOW)
    an_evidence(tx, 2)
