"""Answers of the open look-up, kept as bytes: hundreds of phones ask for the same few pages.

A page is kept as long as nothing changed of what it shows. Whoever changes something is answered
when this process knows of it, and until then nobody waits for it. What another process changes is
asked for again and again, so that a new revision is shown within a second by every process,
however many of them there are.
"""

import asyncio
import gzip
import hashlib
import re
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from typing import Any

import anyio
import anyio.to_thread
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from app.lookups.policy_marks import PolicyMark, policy_mark
from app.web.journal import Counts, route_of
from app.web.notices import COOKIE as NOTICE
from app.web.sessions import COOKIE as SESSION

PROBE_S, LATEST_S = 0.3, 0.8
"""From the first on the database is asked beside the answers; from the second on they wait."""
MOST_KEPT = 400
_PROBES = 2
"""Threads of their own, since the others may all be busy with long work."""
_OPEN = re.compile(r"/([a-z0-9-]{1,40})/(?:limits(?:/copy\.json|/kept)?|check/kept)", re.ASCII)
_LONGEST_COOKIE = 300
_OF_ONE_PERSON = (SESSION.encode(), NOTICE.encode())
_ANSWERED_HERE = frozenset({b"if-none-match", b"accept-encoding"})
_OF_ONE_FORM = frozenset({b"content-length", b"content-encoding", b"etag", b"vary"})
_OF_THE_SAME = frozenset({b"etag", b"vary", b"cache-control"})
"""All that a browser needs to be told again of a page that it holds with its other headers."""
Headers = list[tuple[bytes, bytes]]
Key = tuple[str, bytes, bytes]
"""Path, query and cookies: together with the policy they decide an answer."""


@dataclass(frozen=True, slots=True)
class Answer:
    start: Message
    body: Message
    count: Callable[[], None]


@dataclass(frozen=True, slots=True)
class Kept:
    agency: str
    shown: object
    tag: bytes
    plain: Answer
    zipped: Answer
    same: Answer

    def answer(self, tag: bytes, coding: bytes) -> Answer:
        """For a browser that holds `tag` and takes `coding`."""
        if tag and self.tag in tag:
            return self.same
        return self.zipped if b"gzip" in coding else self.plain


@dataclass(frozen=True, slots=True)
class _Probed:
    """`commits`: how many this process had made before it asked."""

    mark: PolicyMark
    at: float
    commits: int


@dataclass(frozen=True, slots=True)
class _Making:
    """Hundreds ask at once when a revision comes into force; the page is made for the first."""

    shown: object
    over: asyncio.Event


class KeptPages:
    """Stands in front of everything: of the guard, whose headers are kept with the page, and of
    the journal, so what is answered from here is counted and not told one by one."""

    def __init__(self, app: ASGIApp, *, state: Any, clock: Callable[[], float] = time.monotonic):
        self._app, self._state, self._clock = app, state, clock
        self._kept: dict[Key, Kept] = {}
        self._probed: dict[str, _Probed] = {}
        self._asking: dict[str, asyncio.Task[PolicyMark | None]] = {}
        self._making: dict[Key, _Making] = {}
        self._changing: set[object] = set()
        self._threads: anyio.CapacityLimiter | None = None

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        if scope["method"] != "GET":
            await self._change(scope, receive, send)
            return
        key, tag, coding = _asked(scope)
        kept = self._kept.get(key)
        if kept is None or not self._stands(kept):
            agency = _agency_of(key)
            mark = None if agency is None else await self._mark_or_none(agency)
            if agency is None or mark is None:
                await self._app(scope, receive, send)
                return
            making = self._making.get(key)
            if making is not None and making.shown is mark.shown:
                await making.over.wait()  # somebody else has it made
            kept = self._kept.get(key)
            if kept is None or kept.shown is not mark.shown:
                await self._anew(scope, receive, send, agency=agency, mark=mark)
                return
        answer = kept.answer(tag, coding)
        answer.count()
        await send(answer.start)
        await send(answer.body)

    async def _change(self, scope: Scope, receive: Receive, send: Send) -> None:
        """As long as nobody has been told that something changed, what was kept before is still
        true; so the one who changes it waits for the look-up, and no crew waits for him."""
        change = object()
        self._changing.add(change)

        async def told(message: Message) -> None:
            if message["type"] == "http.response.start":
                await self._catch_up(scope["path"])
                self._changing.discard(change)
            await send(message)

        try:
            await self._app(scope, receive, told)
        finally:
            self._changing.discard(change)

    async def _catch_up(self, path: str) -> None:
        commits = self._state.database.commits
        for agency in self._probed.keys() & set(path.split("/")):
            while (known := self._probed.get(agency)) is not None and known.commits < commits:
                with suppress(Exception):  # who asks next is told
                    await asyncio.shield(self._asked_anew(agency))

    def _stands(self, kept: Kept) -> bool:
        """As far as is known without waiting for anything."""
        known = self._probed.get(kept.agency)
        return known is not None and known.mark.shown is kept.shown and self._holds(known)

    def _holds(self, known: _Probed) -> bool:
        """Asks in time, so that nobody has to wait who comes later."""
        age = self._clock() - known.at
        if age >= LATEST_S:
            return False
        if known.commits != self._state.database.commits and not self._changing:
            return False
        if age >= PROBE_S:
            self._asked_anew(known.mark.shown.agency.key)
        return bool(self._state.clock() < known.mark.until)

    async def _mark_or_none(self, agency: str) -> PolicyMark | None:
        """None also where the database is in trouble: who is behind this asks it, and tells."""
        try:
            return await self._mark(agency)
        except Exception:
            return None

    async def _mark(self, agency: str) -> PolicyMark | None:
        known = self._probed.get(agency)
        if known is not None and self._holds(known):
            return known.mark
        return await asyncio.shield(self._asked_anew(agency))

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
        if self._threads is None:
            self._threads = anyio.CapacityLimiter(_PROBES)
        mark = await anyio.to_thread.run_sync(self._ask, agency, known, limiter=self._threads)
        if mark is None:
            self._probed.pop(agency, None)
        else:
            self._probed[agency] = _Probed(mark, began, commits)
        return mark

    def _ask(self, agency: str, before: PolicyMark | None) -> PolicyMark | None:
        with self._state.database.reading() as tx:
            return policy_mark(tx, agency=agency, before=before, now=self._state.clock())

    async def _anew(
        self, scope: Scope, receive: Receive, send: Send, *, agency: str, mark: PolicyMark
    ) -> None:
        """Those who ask meanwhile wait for the same page."""
        key = _asked(scope)[0]
        making = self._making[key] = _Making(mark.shown, asyncio.Event())
        try:
            await self._made(scope, receive, send, agency=agency, mark=mark)
        finally:
            making.over.set()
            if self._making.get(key) is making:
                del self._making[key]

    async def _made(
        self, scope: Scope, receive: Receive, send: Send, *, agency: str, mark: PolicyMark
    ) -> None:
        """The service is asked for a plain answer, which the journal tells and counts."""
        key, tag, coding = _asked(scope)
        headers = [one for one in scope["headers"] if one[0] not in _ANSWERED_HERE]
        asked = {**scope, "headers": headers}
        told: list[Message] = []

        async def note(message: Message) -> None:
            told.append(message)

        await self._app(asked, receive, note)
        kept = _kept(agency, mark, told, counts=self._state.counts, route=route_of(asked))
        if kept is not None:
            self._keep(key, kept)
            answer = kept.answer(tag, coding)
            told = [answer.start, answer.body]
        for message in told:
            await send(message)

    def _keep(self, key: Key, kept: Kept) -> None:
        if len(self._kept) >= MOST_KEPT:
            self._kept.clear()
        self._kept[key] = kept


def _asked(scope: Scope) -> tuple[Key, bytes, bytes]:
    """And what the browser holds already, and which coding it takes."""
    cookie = tag = coding = b""
    for name, value in scope["headers"]:
        if name == b"cookie":
            cookie += value
        elif name == b"if-none-match":
            tag = value
        elif name == b"accept-encoding":
            coding = value
    return (scope["path"], scope["query_string"], cookie), tag, coding


def _agency_of(key: Key) -> str | None:
    """None for what is answered anew each time: another page, somebody signed in."""
    found, cookie = _OPEN.fullmatch(key[0]), key[2]
    if found is None or len(cookie) > _LONGEST_COOKIE:
        return None
    return None if any(one in cookie for one in _OF_ONE_PERSON) else found[1]


def _kept(
    agency: str, mark: PolicyMark, answer: list[Message], *, counts: Counts, route: str
) -> Kept | None:
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
    page, same = counts.counter("GET", route, 200), counts.counter("GET", route, 304)
    again = [one for one in shared if one[0] in _OF_THE_SAME]
    return Kept(
        agency,
        mark.shown,
        tag,
        _answer(200, [*shared, _length(body)], body, page),
        _answer(200, [*shared, (b"content-encoding", b"gzip"), _length(zipped)], zipped, page),
        _answer(304, again, b"", same),
    )


def _length(body: bytes) -> tuple[bytes, bytes]:
    return b"content-length", str(len(body)).encode()


def _answer(status: int, headers: Headers, body: bytes, count: Callable[[], None]) -> Answer:
    start = {"type": "http.response.start", "status": status, "headers": headers}
    return Answer(start, {"type": "http.response.body", "body": body}, count)
