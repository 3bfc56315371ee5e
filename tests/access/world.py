"""A service with the whole demo in it, somebody signed in for every role, and two strangers."""

import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path
from shutil import copyfile
from typing import Any

import pytest
from fastapi import FastAPI
from fastapi.routing import APIRoute
from sqlmodel import Session
from starlette.testclient import TestClient

from app.actions.api_tokens import give_token
from app.actions.sign_ins import sign_in
from app.api.programs import APIS
from app.demo.people import KEY, SIGN_INS
from app.demo.seeding import seed
from app.domain.people import Role, Scope
from app.lookups.agencies import agency, people_of
from app.main import build
from app.settings import Settings
from app.storage.database import Database
from app.storage.devices import devices_of
from app.web.sessions import COOKIE
from tests.builders import PASSWORD, olu, quick_digest
from tests.web.test_every_address import routes as page_routes

TODAY = date(2026, 3, 2)
NOON = datetime(2026, 3, 2, 12, tzinfo=UTC)
V1 = "/api/v1"


def every_route() -> list[tuple[str, str]]:
    """(method, path) of all pages and of the whole API, from the routers themselves."""
    pages = [(method, route.path) for route in page_routes() for method in route.methods or ()]
    apis = [
        (method, V1 + route.path)
        for module in APIS
        for route in module.router.routes
        if isinstance(route, APIRoute)
        for method in route.methods or ()
    ]
    return sorted({*pages, *apis})


@dataclass
class World:
    """`there`: what stands at the braces of an address. `ours`: words that only our things have."""

    app: FastAPI
    by_role: dict[Role, TestClient]
    outsider: TestClient
    nobody: TestClient
    tokens: dict[Scope, str]
    there: dict[str, str]
    ours: tuple[str, ...]

    def bearing(self, scope: Scope) -> dict[str, str]:
        return {"Authorization": f"Bearer {self.tokens[scope]}"}


THERE = {
    "agency": KEY,
    "category": "child",
    "alarm": "heart-rate-low",
    "key": "dunlin",
    "model": "dunlin",
    "vital": "heart-rate",
    "form": "move",
}


@contextmanager
def demo_world(template: Path, folder: Path) -> Iterator[World]:
    file = folder / "marchstone.sqlite3"
    copyfile(template, file)
    database = Database(f"sqlite:///{file}")
    with pytest.MonkeyPatch.context() as patch, database.writing() as tx:
        patch.setattr("app.actions.people.digest_of", quick_digest)
        seed(tx, today=TODAY)
        olu(tx)
        tokens = _tokens(tx)
        agency_id = agency(tx, key=KEY).id
        tags = [one.tag for one in devices_of(tx, agency_id)]
        names = [one.name for one in people_of(tx, agency_id=agency_id)]
    app = build(
        Settings(data_dir=folder, database_url="sqlite:///unused"), database, clock=lambda: NOON
    )
    try:
        yield World(
            app,
            {
                one.role: _signed_in(app, database, KEY, one.username, one.password)
                for one in SIGN_INS
            },
            _signed_in(app, database, "elsewhere", "olu", PASSWORD),
            _client(app),
            tokens,
            {**THERE, "tag": tags[0]},
            (*(f">{tag}<" for tag in tags), *names),
        )
    finally:
        database.dispose()


def _tokens(tx: Session) -> dict[Scope, str]:
    ada = next(
        one
        for one in people_of(tx, agency_id=agency(tx, key=KEY).id)
        if Role.ADMINISTRATOR in one.roles
    )
    give_token(tx, name="first", scopes=set(Scope), days=30, by=ada, now=NOON)  # to be taken back
    return {
        scope: give_token(tx, name=scope.value, scopes={scope}, days=30, by=ada, now=NOON)
        for scope in Scope
    }


def _client(app: FastAPI, **also: Any) -> TestClient:
    return TestClient(app, follow_redirects=False, raise_server_exceptions=False, **also)


def _signed_in(
    app: FastAPI, database: Database, agency: str, username: str, password: str
) -> TestClient:
    with database.writing() as tx:
        token = sign_in(
            tx, agency=agency, username=username, password=password, now=NOON, address="test"
        )
    return _client(app, cookies={COOKIE: token})


def filled(path: str, there: dict[str, str]) -> str:
    """Every part in braces by what is there; a number is 1, as the first of everything is."""
    return re.sub(r"\{(\w+)\}", lambda found: there.get(found[1], "1"), path)
