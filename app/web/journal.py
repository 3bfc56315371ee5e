"""One line a request, as JSON, and the counts that monitoring reads; neither holds what was typed.

Addresses are told by their pattern: the real one may hold a token.
"""

import logging
import time
from collections.abc import Callable
from typing import Any, TextIO

import structlog
from fastapi import Request
from prometheus_client import CollectorRegistry, Counter, Histogram
from starlette.types import ASGIApp, Message, Receive, Scope, Send
from structlog.typing import EventDict, WrappedLogger

from app.domain.redaction import redacted

NOWHERE = "(no such address)"
_FAILED = 500
_REFUSED = frozenset({401, 403, 413, 429})


def _without_secrets(_: WrappedLogger, __: str, told: EventDict) -> EventDict:
    kept = {name: value for name, value in told.items() if name.startswith("_")}
    return redacted({name: told[name] for name in told if name not in kept}) | kept


_BEFORE: list[Any] = [
    structlog.stdlib.add_log_level,
    structlog.stdlib.add_logger_name,
    structlog.processors.TimeStamper(fmt="iso", utc=True, key="at"),
    structlog.processors.format_exc_info,
    _without_secrets,
]
_log: Any = structlog.wrap_logger(
    logging.getLogger("marchstone"),
    processors=[*_BEFORE, structlog.stdlib.ProcessorFormatter.wrap_for_formatter],
    wrapper_class=structlog.stdlib.BoundLogger,
)


def write_journal(level: str, to: TextIO) -> None:
    """Everything that the program and its libraries log, one JSON object a line."""
    handler = logging.StreamHandler(to)
    handler.setFormatter(
        structlog.stdlib.ProcessorFormatter(
            foreign_pre_chain=_BEFORE,
            processors=[
                structlog.stdlib.ProcessorFormatter.remove_processors_meta,
                structlog.processors.JSONRenderer(ensure_ascii=False),
            ],
        )
    )
    logging.basicConfig(handlers=[handler], level=level.upper(), force=True)


class Counts:
    """Of this process; several processes are asked one by one."""

    def __init__(self) -> None:
        self.registry = CollectorRegistry()
        self._requests = Counter(
            "marchstone_requests",
            "Requests answered.",
            ("method", "route", "status"),
            registry=self.registry,
        )
        self._seconds = Histogram(
            "marchstone_request_seconds",
            "How long an answer took that had to be made.",
            ("route",),
            registry=self.registry,
        )

    def counter(self, method: str, route: str, status: int) -> Callable[[], None]:
        """For answers that are made beforehand and sent often: they are counted, and no more."""
        return self._requests.labels(method, route, str(status)).inc

    def count(self, method: str, route: str, status: int, seconds: float) -> None:
        self._requests.labels(method, route, str(status)).inc()
        self._seconds.labels(route).observe(seconds)


class Journal:
    """Around everything else, so that what is refused at the door is told as well."""

    def __init__(self, app: ASGIApp, *, counts: Counts) -> None:
        self._app, self._counts = app, counts

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        began, status = time.perf_counter(), _FAILED

        async def note_status(message: Message) -> None:
            nonlocal status
            if message["type"] == "http.response.start":
                status = message["status"]
            await send(message)

        try:
            await self._app(scope, receive, note_status)
        finally:
            seconds = time.perf_counter() - began
            self._counts.count(scope["method"], route_of(scope), status, seconds)
            _tell(Request(scope), status, seconds)


def route_of(scope: Scope) -> str:
    """The pattern of the address: a list of them does not grow with the data."""
    route = scope.get("route")
    if route is not None:
        return str(route.path)
    return "/static" if scope.get("path", "").startswith("/static/") else NOWHERE


def _tell(request: Request, status: int, seconds: float) -> None:
    person = getattr(request.state, "person", None)
    told = {
        "method": request.method,
        "route": route_of(request.scope),
        "status": status,
        "ms": round(seconds * 1000, 1),
        "from": request.client.host if request.client else None,
        "agency": person.agency if person else None,
        "who": person.username if person else None,
    }
    if status >= _FAILED:
        _log.error("failed", **told)
    elif status in _REFUSED:
        _log.warning("refused", **told)
    else:
        _log.info("answered", **told)
