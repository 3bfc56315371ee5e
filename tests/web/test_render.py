import re
from datetime import UTC, datetime
from pathlib import Path

import pytest
from jinja2 import UndefinedError
from starlette.testclient import TestClient

from app.places import folder
from app.storage.database import Database
from app.web.render import environment, moment, static_address
from tests.web.visits import Visits


@pytest.fixture
def client(sqlite_database: Database, tmp_path: Path) -> TestClient:
    return TestClient(Visits(sqlite_database, tmp_path).app)


def test_whatever_a_page_asks_for_must_be_there() -> None:
    with pytest.raises(UndefinedError):
        environment().from_string("{% if page.misspelt %}{% endif %}").render(page=object())


def test_text_is_never_markup() -> None:
    assert environment().from_string("{{ x }}").render(x="<b>") == "&lt;b&gt;"


@pytest.mark.parametrize(
    "name", sorted(file.name for file in folder("static").iterdir() if file.is_file())
)
def test_a_file_with_its_hash_is_kept_for_good_and_without_it_asked_for_again(
    client: TestClient, name: str
) -> None:
    with_hash, without = client.get(static_address(name)), client.get(f"/static/{name}")

    assert with_hash.headers["cache-control"] == "public, max-age=31536000, immutable"
    assert without.headers["cache-control"] == "no-cache"
    assert with_hash.content == (folder("static") / name).read_bytes()


def test_every_file_a_page_asks_for_is_there(client: TestClient) -> None:
    wanted = re.findall(r'(?:href|src)="(/static/[^"]+)"', client.get("/").text)

    assert len(wanted) >= 4
    assert [path for path in wanted if client.get(path).status_code != 200] == []


def test_no_file_outside_of_its_folder_is_given_away(client: TestClient) -> None:
    assert client.get("/static/..%2Fpyproject.toml").status_code == 404
    assert client.get("/static/").status_code == 404


@pytest.mark.parametrize(
    ("zone", "shown"),
    [
        ("UTC", "29 Mar 2026, 01:00 UTC"),
        ("Europe/London", "29 Mar 2026, 02:00 BST"),
        ("America/St_Johns", "28 Mar 2026, 22:30 NDT"),
    ],
)
def test_a_time_is_shown_in_the_agencys_zone_with_its_name(zone: str, shown: str) -> None:
    assert moment(datetime(2026, 3, 29, 1, 0, tzinfo=UTC), zone) == shown
