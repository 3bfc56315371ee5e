"""What holds for every page, also for those that are added later."""

import importlib
import pkgutil
import re
from pathlib import Path

import pytest
from fastapi.routing import APIRoute
from starlette.testclient import TestClient

import app.web
from app.domain.agencies import check_agency_key
from app.domain.errors import Refused
from app.domain.people import Role
from app.storage.database import Database
from tests.web.visits import Visits

OPEN_TO_EVERYBODY = {
    "/{agency}/limits",
    "/{agency}/limits/code",
    "/{agency}/limits/kept",
    "/{agency}/limits/copy.json",
    "/{agency}/d/{tag}",
    "/{agency}/d/{tag}/values",
    "/{agency}/check",
    "/{agency}/check/kept",
    "/{agency}/confirm/{fingerprint}",
}
"""Crews look limits up without an account, also by the label on a device, where they may begin a
shift check that waits on their phone, and whoever holds a paper may ask whether it is still true;
nothing else is open."""


def routes() -> list[APIRoute]:
    names = [module.name for module in pkgutil.iter_modules(app.web.__path__, "app.web.")]
    routers = [getattr(importlib.import_module(name), "router", None) for name in names]
    return [route for router in routers if router for route in router.routes]


ADDRESSES = sorted((method, route.path) for route in routes() for method in route.methods or ())
OF_AN_AGENCY = [
    pytest.param(method, path, id=f"{method} {path}")
    for method, path in ADDRESSES
    if path.startswith("/{agency}") and path not in OPEN_TO_EVERYBODY
]


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path) -> Visits:
    visits = Visits(sqlite_database, tmp_path)
    visits.of(Role.CREW)
    return visits


def address(path: str) -> str:
    """Whatever else stands in it: who may not come in learns nothing of what there is."""
    return re.sub(r"\{[^}]*\}", "1", path.replace("{agency}", "skerry"))


@pytest.mark.parametrize(("method", "path"), OF_AN_AGENCY)
def test_nobody_comes_in_without_signing_in(visits: Visits, method: str, path: str) -> None:
    answer = TestClient(visits.app, follow_redirects=False).request(method, address(path))

    if method == "GET":
        assert answer.headers["location"].startswith("/sign-in?next=/skerry/")
    else:
        assert answer.status_code == 401


@pytest.mark.parametrize(("method", "path"), OF_AN_AGENCY)
def test_another_agency_is_not_found_whatever_the_role(
    visits: Visits, method: str, path: str
) -> None:
    answer = visits.of_outsider().request(method, address(path))

    assert answer.status_code == 404


@pytest.mark.parametrize("path", [path for method, path in ADDRESSES if method == "POST"])
def test_no_page_takes_a_change_from_another_site(visits: Visits, path: str) -> None:
    cruz = visits.of(Role.CREW, "Carl")

    answer = cruz.post(address(path), headers={"Sec-Fetch-Site": "cross-site"})

    assert answer.status_code == 403
    assert "another site" in answer.text


@pytest.mark.parametrize(
    "word",
    sorted({path.split("/")[1] for _, path in ADDRESSES} - {"", "{agency}"} | {"api", "static"}),
)
def test_no_agency_can_take_the_name_of_a_page(word: str) -> None:
    with pytest.raises(Refused):
        check_agency_key(word)
