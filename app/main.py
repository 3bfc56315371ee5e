"""Plugs the house together: the only place that knows every floor."""

import gc
import gzip
import mimetypes
import os
import socket
import sys
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager, suppress
from datetime import UTC, datetime
from functools import cache

import anyio.to_thread
import uvicorn
from fastapi import Depends, FastAPI
from starlette.datastructures import Headers
from starlette.responses import Response
from starlette.staticfiles import StaticFiles
from starlette.types import ASGIApp, Scope

from app.actions.people import make_setup_link
from app.api.access import EVERYWHERE
from app.api.programs import APIS
from app.api.rate_limits import RateLimits
from app.demo import people as demo_people
from app.demo.seeding import seed
from app.domain.errors import MarchstoneError
from app.exchange.leaked_passwords import check_leaked_passwords
from app.exchange.typst_papers import Press
from app.jobs.beside import WorkersBeside
from app.lookups.agencies import needs_setup
from app.opening import open_house
from app.places import folder
from app.settings import Settings
from app.storage.database import Database
from app.web.bounded_heads import BoundedHeads
from app.web.errors import install_error_pages, refusal
from app.web.journal import Counts, Journal, write_journal
from app.web.kept_pages import KeptPages
from app.web.known_agencies import KnownAgencies
from app.web.pages import PAGES
from app.web.render import environment
from app.web.security import Guard
from app.web.sessions import COOKIE
from app.web.typed import keep_typed

Clock = Callable[[], datetime]
FINE, FAILED = 0, 3
GRACE = 30  # seconds
HANDS_OVER_S = 0.0005
DEMO_AGENCY, DEMO_SIGN_INS = demo_people.KEY, demo_people.SIGN_INS


def wall_clock() -> datetime:
    return datetime.now(UTC)


def database_of(settings: Settings) -> Database:
    """Opened, with its schema brought up to date."""
    return open_house(settings, now=wall_clock())


def demo_database(settings: Settings) -> Database:
    """Opened, and filled with the invented agency if it is empty. Raises NotNow over real data."""
    house = database_of(settings)
    with house.writing() as tx:
        seed(tx, today=wall_clock().date())
    return house


def build(
    settings: Settings, database: Database, *, clock: Clock = wall_clock, demo: bool = False
) -> FastAPI:
    app = _House(
        title="Marchstone",
        description="An agency's own alarm-limit policy; no advice for a patient.",
        openapi_url="/api/v1/openapi.json",
        docs_url=None,
        redoc_url=None,
        telemetry={"tracing": False, "metrics": False},
        lifespan=_lifespan,
        dependencies=[Depends(keep_typed)],
    )
    app.state.settings = settings
    app.state.database = database
    app.state.clock = clock
    app.state.demo = demo
    app.state.session_cookie = COOKIE
    app.state.agencies = KnownAgencies(database)
    app.state.rate_limits = RateLimits()
    app.state.limit_copies = {}
    app.state.counts = Counts()
    app.state.press = Press(
        templates=folder("templates") / "papers", fonts=folder("static") / "fonts"
    )
    app.add_middleware(Guard, refuse=refusal)
    app.add_middleware(Journal, counts=app.state.counts)  # the last one added stands in front
    install_error_pages(app)
    app.mount("/static", _Static(directory=folder("static")), name="static")
    for page in PAGES:
        app.include_router(page.router, include_in_schema=False)
    for api in APIS:
        app.include_router(api.router, prefix="/api/v1", responses=EVERYWHERE)
    return app


class _House(FastAPI):
    def build_middleware_stack(self) -> ASGIApp:
        """Kept pages before everything, also before what the framework puts first."""
        return KeptPages(super().build_middleware_stack(), state=self.state)


@asynccontextmanager
async def _lifespan(app: FastAPI) -> AsyncIterator[None]:
    # The default of 40 threads starves SQLite; a few answer faster.
    anyio.to_thread.current_default_thread_limiter().total_tokens = app.state.settings.threads
    _warm(app)
    yield
    app.state.database.dispose()


def _warm(app: FastAPI) -> None:
    """The framework makes routes ready when they are first looked at, which takes a second and
    keeps everybody waiting: so they are looked at before anybody comes."""
    nowhere = {"type": "http", "method": "GET", "path": "/a/b/c/d/e/f", "root_path": ""}
    for route in app.router.routes:
        route.matches({**nowhere, "headers": [], "query_string": b"", "app": app})
    for name in ("limits/ask.html", "limits/shown.html"):
        environment().get_template(name)


class _Static(StaticFiles):
    """Addresses carry the content's hash, so a browser may keep the files for good."""

    async def get_response(self, path: str, scope: Scope) -> Response:
        response = await super().get_response(path, scope)
        if response.status_code == 200 and "gzip" in Headers(scope=scope).get(
            "accept-encoding", ""
        ):
            response = _zipped(path) or response
        if b"v=" in scope["query_string"]:
            response.headers["Cache-Control"] = "public, max-age=31536000, immutable"
        else:
            response.headers["Cache-Control"] = "no-cache"
        return response


@cache
def _zipped(path: str) -> Response | None:
    """A text of `static/`, packed once; None for what is packed already, such as a font."""
    kind = mimetypes.guess_type(path)[0] or ""
    if not kind.startswith("text/") and kind != "image/svg+xml":
        return None
    packed = gzip.compress((folder("static") / path).read_bytes(), mtime=0)
    response = Response(packed, media_type=kind)
    response.headers.update({"Content-Encoding": "gzip", "Vary": "Accept-Encoding"})
    return response


def serve(
    settings: Settings,
    *,
    open_house: Callable[[Settings], Database] = database_of,
    greeting: str = "",
    demo: bool = False,
) -> int:
    """Runs until it is stopped; 3 when it cannot start, told in plain words. The port is taken
    before anything is written or promised."""
    try:
        if settings.leaked_passwords is not None:
            check_leaked_passwords(settings.leaked_passwords)
        listening = _listen(settings)
        house = open_house(settings)
    except MarchstoneError as error:
        print(error.message, file=sys.stderr)
        return FAILED
    except OSError as error:
        print(_busy(settings, error), file=sys.stderr)
        return FAILED
    if greeting:
        print(greeting)
    _greet(settings, house)
    if demo:
        settings = settings.model_copy(update={"log_level": "warning"})
    write_journal(settings.log_level, sys.stdout)
    app = build(settings, house, demo=demo)
    server = uvicorn.Server(_config(app))
    settle()
    workers = WorkersBeside(settings.workers, settings.for_workers(os.environ))
    with listening, workers, suppress(KeyboardInterrupt):  # Ctrl-C is how it is meant to be stopped
        server.run(sockets=[listening])
    return FINE if server.started else FAILED


def settle() -> None:
    """For a process that serves and does nothing else. Whoever only looks up need not wait 5 ms for
    each page that is being drawn beside; and of what stands from the beginning nothing is garbage:
    to search it takes a fifth of a second, again and again."""
    sys.setswitchinterval(HANDS_OVER_S)
    gc.collect()
    gc.freeze()


def _config(app: FastAPI) -> uvicorn.Config:
    """Its own list of requests would tell whole addresses; ours tells patterns. Asked to stop, it
    takes no new request and answers those it has."""
    return uvicorn.Config(
        app,
        http=BoundedHeads,
        log_config=None,
        access_log=False,
        server_header=False,
        timeout_graceful_shutdown=GRACE,
    )


def _listen(settings: Settings) -> socket.socket:
    family = socket.AF_INET6 if ":" in settings.host else socket.AF_INET
    # Named by its protocol, or the event loop leaves Nagle's algorithm on: 40 ms a page.
    listening = socket.socket(family, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listening.bind((settings.host, settings.port))
        listening.listen(128)
    except OSError:
        listening.close()
        raise
    return listening


def _busy(settings: Settings, error: OSError) -> str:
    return (
        f"Marchstone cannot listen on {settings.host}:{settings.port}: {error.strerror}. "
        "Another program may use this port: stop it, or choose a free one by MARCHSTONE_PORT "
        "(for the demo: --port)."
    )


def _greet(settings: Settings, house: Database) -> None:
    print(f"Marchstone listens on {settings.address} (stop it with Ctrl-C)", flush=True)
    with house.reading() as tx:
        nobody = needs_setup(tx)
    if nobody:
        with house.writing() as tx:
            token = make_setup_link(tx, now=wall_clock())
        print("There is no administrator yet. Open this link, which works once, to make one:")
        print(f"  {settings.address}/setup/{token}", flush=True)
