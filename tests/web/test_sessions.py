from datetime import timedelta
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from app.domain.people import Role
from app.main import build
from app.settings import Settings
from app.storage.database import Database
from app.web.render import THEME_COOKIE
from app.web.sessions import COOKIE, local_path
from tests.builders import HOUR, MINUTE, NOW, PASSWORD, a_person
from tests.web.visits import Visits

HOME = "/skerry/"


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path) -> Visits:
    return Visits(sqlite_database, tmp_path)


def signed_in_with(database: Database, settings: Settings) -> str:
    """The cookie as it is sent."""
    with database.writing() as tx:
        a_person(tx, Role.CREW)
    client = TestClient(build(settings, database, clock=lambda: NOW), follow_redirects=False)
    form = {"agency": "skerry", "username": "cruz", "password": PASSWORD}
    return client.post("/sign-in", data=form).headers["set-cookie"]


def test_the_cookie_is_out_of_reach_of_scripts_and_other_sites(
    sqlite_database: Database, tmp_path: Path
) -> None:
    cookie = signed_in_with(sqlite_database, Settings(data_dir=tmp_path, session_hours=8))

    assert cookie.startswith(f"{COOKIE}=")
    assert {"HttpOnly", "SameSite=lax", "Max-Age=28800", "Path=/"} <= set(cookie.split("; "))
    assert "Secure" not in cookie


def test_the_cookie_keeps_to_https_where_it_is_used(
    sqlite_database: Database, tmp_path: Path
) -> None:
    cookie = signed_in_with(sqlite_database, Settings(data_dir=tmp_path, secure_cookies=True))

    assert "Secure" in cookie.split("; ")


def over_https(database: Database, folder: Path) -> TestClient:
    settings = Settings(data_dir=folder, public_url="https://stones.example.org")
    app = build(settings, database, clock=lambda: NOW)
    return TestClient(app, base_url="https://testserver", follow_redirects=False)


def test_over_https_every_cookie_is_kept_to_this_host(
    sqlite_database: Database, tmp_path: Path
) -> None:
    with sqlite_database.writing() as tx:
        a_person(tx, Role.CREW)
    client = over_https(sqlite_database, tmp_path)
    form = {"agency": "skerry", "username": "cruz", "password": PASSWORD}

    told = client.post("/sign-in", data=form).headers.get_list("set-cookie")
    told += client.post("/theme", data={"theme": "night"}).headers.get_list("set-cookie")

    assert [cookie.partition("=")[0] for cookie in told] == [
        f"__Host-{COOKIE}",
        f"__Host-{THEME_COOKIE}",
    ]
    for cookie in told:
        assert {"Secure", "Path=/"} <= set(cookie.split("; "))
        assert "domain" not in cookie.lower()
    assert 'data-theme="night"' in client.get(HOME).text
    client.post("/sign-out")
    assert client.get(HOME).status_code == 303


def test_over_https_a_cookie_without_the_prefix_is_nobodys(
    sqlite_database: Database, tmp_path: Path
) -> None:
    """As another host of the same domain could plant it."""
    cookie = signed_in_with(sqlite_database, Settings(data_dir=tmp_path)).partition(";")[0]
    client = over_https(sqlite_database, tmp_path)

    planted = client.get(HOME, headers={"Cookie": cookie})
    own = client.get(HOME, headers={"Cookie": f"__Host-{cookie}"})

    assert (planted.status_code, own.status_code) == (303, 200)


@pytest.mark.parametrize(("after", "status"), [(59 * MINUTE, 200), (60 * MINUTE, 303)])
def test_an_idle_session_ends(visits: Visits, after: timedelta, status: int) -> None:
    cruz = visits.of(Role.CREW)
    visits.wait(after)

    assert cruz.get(HOME).status_code == status


def test_work_keeps_a_session_going(visits: Visits) -> None:
    cruz = visits.of(Role.CREW)

    for _ in range(5):
        visits.wait(HOUR / 2)
        assert cruz.get(HOME).status_code == 200


def test_a_made_up_cookie_is_nobody(visits: Visits) -> None:
    visits.of(Role.CREW)
    forger = TestClient(visits.app, cookies={COOKIE: "a" * 43}, follow_redirects=False)

    assert forger.get(HOME).status_code == 303


@pytest.mark.parametrize(
    ("wanted", "led_to"),
    [
        ("/skerry/people?a=1#b", "/skerry/people?a=1#b"),
        ("/", "/"),
        (None, "/"),
        ("", "/"),
        ("skerry/people", "/"),
        ("//elsewhere.example", "/"),
        ("/\\elsewhere.example", "/"),
        ("/\t/elsewhere.example", "/"),
        ("/\r\n/elsewhere.example", "/"),
        ("https://elsewhere.example/", "/"),
        ("javascript:alert(1)", "/"),
    ],
)
def test_only_our_own_addresses_are_led_to(wanted: str | None, led_to: str) -> None:
    assert local_path(wanted) == led_to
