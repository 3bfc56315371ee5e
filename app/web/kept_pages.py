"""Answers of the open look-up, kept as bytes: hundreds of phones ask for the same few pages.

A page is kept for exactly one state of its agency's policy. What this process changes counts at
once. What another one changes is asked for again and again, so that a new revision is shown within
a second by every process, however many of them there are.
"""

import asyncio
import gzip
import hashlib
import re
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import anyio.to_thread
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from app.lookups.policy_marks import PolicyMark, policy_mark
from app.web.notices import COOKIE as NOTICE
from app.web.sessions import COOKIE as SESSION

PROBE_S, LATEST_S = 0.3, 0.8
"""From the first on the database is asked beside the answers; from the second on they wait."""
MOST_KEPT = 400
_OPEN = re.compile(r"/([a-z0-9-]{1,40})/(?:limits(?:/copy\.json|/kept)?|check/kept)", re.ASCII)
_LONGEST_COOKIE = 300
_OF_ONE_PERSON = (SESSION.encode(), NOTICE.encode())
_ANSWERED_HERE = frozenset({b"if-none-match", b"accept-encoding"})
_OF_ONE_FORM = frozenset({b"content-length", b"content-encoding", b"etag", b"vary"})
_OF_THE_SAME = frozenset({b"etag", b"vary", b"cache-control", b"repr-digest"})
"""All that a browser needs to be told again of a page that it holds with its other headers."""
Headers = list[tuple[bytes, bytes]]


@dataclass(frozen=True)
class Asked:
    """What decides an answer, and how it may be sent."""

    agency: str
    key: tuple[str, bytes, bytes]
    tag: bytes
    zipped: bool

    @classmethod
    def of(cls, scope: Scope) -> "Asked | None":
        """None for what is answered anew each time: a change, another page, somebody signed in."""
        if scope["type"] != "http" or scope["method"] != "GET":
            return None
        found = _OPEN.fullmatch(scope["path"])
        if found is None:
            return None
        cookie = tag = coding = b""
        for name, value in scope["headers"]:
            if name == b"cookie":
                cookie += value
            elif name == b"if-none-match":
                tag = value
            elif name == b"accept-encoding":
                coding = value
        if len(cookie) > _LONGEST_COOKIE or any(one in cookie for one in _OF_ONE_PERSON):
            return None
        return cls(found[1], (scope["path"], scope["query_string"], cookie), tag, b"gzip" in coding)


@dataclass(frozen=True)
class Kept:
    mark: PolicyMark
    tag: bytes
    plain: tuple[Message, Message]
    zipped: tuple[Message, Message]
    same: tuple[Message, Message]

    def answer(self, asked: Asked) -> tuple[Message, Message]:
        if asked.tag and self.tag in asked.tag:
            return self.same
        return self.zipped if asked.zipped else self.plain


@dataclass
class _Probed:
    """`commits`: how many this process had made before it asked."""

    mark: PolicyMark
    at: float
    commits: int


class KeptPages:
    """Stands in front of everything, also of the guard, whose headers are kept with the page."""

    def __init__(self, app: ASGIApp, *, state: Any, clock: Callable[[], float] = time.monotonic):
        self._app, self._state, self._clock = app, state, clock
        self._kept: dict[tuple[str, bytes, bytes], Kept] = {}
        self._probed: dict[str, _Probed] = {}
        self._asking: dict[str, asyncio.Task[PolicyMark | None]] = {}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        asked = Asked.of(scope)
        mark = None if asked is None else await self._mark(asked.agency)
        if asked is None or mark is None:
            await self._app(scope, receive, send)
            return
        kept = self._kept.get(asked.key)
        if kept is None or kept.mark is not mark:
            answer = await self._made(scope, receive)
            kept = _kept(mark, answer)
            if kept is None:
                for message in answer:
                    await send(message)
                return
            self._keep(asked, kept)
        start, body = kept.answer(asked)
        await send(start)
        await send(body)

    async def _mark(self, agency: str) -> PolicyMark | None:
        known = self._probed.get(agency)
        age = LATEST_S if known is None else self._clock() - known.at
        if known is not None and age < LATEST_S and self._holds(known):
            if age >= PROBE_S:
                self._asked_anew(agency)
            return known.mark
        return await asyncio.shield(self._asked_anew(agency))

    def _holds(self, known: _Probed) -> bool:
        """As far as this process can tell."""
        same: bool = known.commits == self._state.database.commits
        return same and bool(self._state.clock() < known.mark.until)

    def _asked_anew(self, agency: str) -> "asyncio.Task[PolicyMark | None]":
        """Whoever comes meanwhile waits for the same answer, or for none."""
        task = self._asking.get(agency)
        if task is None:
            task = self._asking[agency] = asyncio.create_task(self._probe(agency))
            task.add_done_callback(lambda done: self._answered(agency, done))
        return task

    def _answered(self, agency: str, done: "asyncio.Task[PolicyMark | None]") -> None:
        self._asking.pop(agency, None)
        if not done.cancelled() and done.exception() is not None:
            self._probed.pop(agency, None)  # whoever comes next asks, and is told

    async def _probe(self, agency: str) -> PolicyMark | None:
        began, commits = self._clock(), self._state.database.commits
        before = self._probed.get(agency)
        known = None if before is None else before.mark
        mark = await anyio.to_thread.run_sync(self._ask, agency, known)
        if mark is None:
            self._probed.pop(agency, None)
        else:
            self._probed[agency] = _Probed(mark, began, commits)
        return mark

    def _ask(self, agency: str, before: PolicyMark | None) -> PolicyMark | None:
        with self._state.database.reading() as tx:
            return policy_mark(tx, agency=agency, before=before, now=self._state.clock())

    async def _made(self, scope: Scope, receive: Receive) -> list[Message]:
        """The whole answer of the service, which is asked for a plain one."""
        headers = [one for one in scope["headers"] if one[0] not in _ANSWERED_HERE]
        told: list[Message] = []

        async def note(message: Message) -> None:
            told.append(message)

        await self._app({**scope, "headers": headers}, receive, note)
        return told

    def _keep(self, asked: Asked, kept: Kept) -> None:
        if len(self._kept) >= MOST_KEPT:
            self._kept.clear()
        self._kept[asked.key] = kept


def _kept(mark: PolicyMark, answer: list[Message]) -> Kept | None:
    """None for what is no page to be kept: a refusal, a redirect, a cookie."""
    start, body = answer[0], b"".join(one.get("body", b"") for one in answer[1:])
    headers: Headers = list(start["headers"])
    told = dict(headers)
    if start["status"] != 200 or b"set-cookie" in told:
        return None
    tag = told.get(b"etag") or f'"{hashlib.sha256(body).hexdigest()[:24]}"'.encode()
    shared = [one for one in headers if one[0] not in _OF_ONE_FORM]
    shared += [(b"etag", b"W/" + tag), (b"vary", b"Cookie, Accept-Encoding")]
    zipped = gzip.compress(body, mtime=0)
    return Kept(
        mark,
        tag,
        _messages(200, shared, body),
        _messages(200, [*shared, (b"content-encoding", b"gzip")], zipped),
        _messages(304, [one for one in shared if one[0] in _OF_THE_SAME], b""),
    )


def _messages(status: int, headers: Headers, body: bytes) -> tuple[Message, Message]:
    if status == 200:
        headers = [*headers, (b"content-length", str(len(body)).encode())]
    start = {"type": "http.response.start", "status": status, "headers": headers}
    return start, {"type": "http.response.body", "body": body}
