"""A service over a fresh database, whose clock a test moves, and people who visit it."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any, TypeVar

import sqlalchemy as sa
from fastapi import FastAPI
from sqlmodel import Session
from starlette.testclient import TestClient

from app.actions.sign_ins import sign_in
from app.domain.people import Role
from app.main import build
from app.settings import Settings
from app.storage.database import Database
from app.web.sessions import COOKIE
from tests.builders import NOW, PASSWORD, a_person, olu

Found = TypeVar("Found")


class Visits:
    def __init__(self, database: Database, folder: Path) -> None:
        self.database = database
        self._now = NOW
        self._visitors: list[tuple[TestClient, str, str]] = []
        settings = Settings(data_dir=folder, database_url="sqlite:///unused")
        self.app: FastAPI = build(settings, database, clock=self._clock)

    @property
    def now(self) -> datetime:
        return self._now

    @now.setter
    def now(self, now: datetime) -> None:
        """Whoever is signed in signs in again: sessions end sooner than tests do."""
        self._now = now
        for client, agency, username in self._visitors:
            client.cookies[COOKIE] = self._token(agency, username)

    def wait(self, passed: timedelta) -> None:
        """Nobody signs in again meanwhile."""
        self._now += passed

    def _clock(self) -> datetime:
        return self._now

    def seed(self, walk: Callable[[Session], Found]) -> Found:
        with self.database.writing() as tx:
            return walk(tx)

    def of(self, role: Role, name: str | None = None) -> TestClient:
        """Signed in; redirects are told, not followed."""
        with self.database.writing() as tx:
            person = a_person(tx, role, name=name)
        return self._signed_in(person.agency, person.username)

    def of_outsider(self) -> TestClient:
        with self.database.writing() as tx:
            person = olu(tx)
        return self._signed_in(person.agency, person.username)

    def _signed_in(self, agency: str, username: str) -> TestClient:
        cookies = {COOKIE: self._token(agency, username)}
        client = TestClient(self.app, cookies=cookies, follow_redirects=False)
        self._visitors.append((client, agency, username))
        return client

    def _token(self, agency: str, username: str) -> str:
        with self.database.writing() as tx:
            return sign_in(
                tx,
                agency=agency,
                username=username,
                password=PASSWORD,
                now=self._now,
                address="127.0.0.1",
            )


@contextmanager
def statements(database: Database) -> Iterator[list[str]]:
    """What is sent to the database meanwhile; setting up a connection does not count."""
    sent: list[str] = []

    def note(*told: Any) -> None:
        if not told[2].startswith(("PRAGMA", "BEGIN")):
            sent.append(told[2])

    sa.event.listen(database.engine, "before_cursor_execute", note)
    yield sent
    sa.event.remove(database.engine, "before_cursor_execute", note)
