"""Somebody who asks the service for changes, and remembers what was acknowledged."""

import json
import threading
from dataclasses import dataclass, field
from http import HTTPStatus
from http.client import HTTPConnection, HTTPException
from typing import Any

from app.web.sessions import COOKIE

JSON, CSV = "application/json", "text/csv"


_AWAY = (b"The database", b"The disk is full")


class Gone(Exception):
    """The service died before it answered, or its database did, or there is no room: the change
    may be there or not, but not by half."""


class Unexpected(AssertionError):
    """It answered what it should not."""


@dataclass
class Client:
    port: int
    tokens: dict[str, str]
    answered: int = 0
    over: threading.Event = field(default_factory=threading.Event)
    """Nothing more is asked."""
    refused: set[tuple[int, str]] = field(default_factory=set)
    """What was said when the database was away, or the disk full."""

    def post(
        self,
        path: str,
        body: object,
        *,
        who: str,
        key: str = "",
        kind: str = JSON,
        taken_already: bool = False,
    ) -> dict[str, Any]:
        """What the service acknowledged. Raises Gone. `taken_already`: it may well be, since the
        same was asked before and nobody answered."""
        text = body if isinstance(body, bytes) else json.dumps(body).encode()
        headers = {"Cookie": f"{COOKIE}={self.tokens[who]}", "Content-Type": kind}
        if key:
            headers["Idempotency-Key"] = key
        status, told = self._ask(f"/api/v1/skerry/{path}", text, headers)
        while status == HTTPStatus.SERVICE_UNAVAILABLE:  # others write: it says to ask again
            status, told = self._ask(f"/api/v1/skerry/{path}", text, headers)
        if status == HTTPStatus.CONFLICT and taken_already:
            return {}
        if status >= HTTPStatus.MULTIPLE_CHOICES:
            raise Unexpected(f"{path}: {status} {told[:500]!r}")
        self.answered += 1
        found: dict[str, Any] = json.loads(told)
        return found

    def _ask(self, path: str, body: bytes, headers: dict[str, str]) -> tuple[int, bytes]:
        if self.over.is_set():
            raise Gone
        connection = HTTPConnection("127.0.0.1", self.port, timeout=60)
        try:
            connection.request("POST", path, body, headers)
            answer = connection.getresponse()
            status, told = answer.status, answer.read()
        except (OSError, HTTPException) as error:
            raise Gone from error
        finally:
            connection.close()
        if status >= HTTPStatus.INTERNAL_SERVER_ERROR and any(one in told for one in _AWAY):
            self.refused.add((status, told.decode()))
            raise Gone
        return status, told


@dataclass
class Memory:
    """Over all rounds: what was acknowledged, and what was sent last without an answer."""

    signed: set[int] = field(default_factory=set)
    drafts: set[int] = field(default_factory=set)
    files: set[str] = field(default_factory=set)
    works: dict[int, str] = field(default_factory=dict)
    checks: set[str] = field(default_factory=set)
    steps: set[tuple[int, str, str]] = field(default_factory=set)
    unanswered_file: bytes | None = None
    unanswered_check: tuple[str, dict[str, Any]] | None = None
    unanswered_step: tuple[int, str, str] | None = None
    counter: int = 0

    def next(self) -> int:
        self.counter += 1
        return self.counter
