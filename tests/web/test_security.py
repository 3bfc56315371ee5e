from pathlib import Path

import pytest
from starlette.testclient import TestClient

from app.main import build
from app.settings import Settings
from app.storage.database import Database
from app.web.security import LARGEST_BODY

SIGN_IN = "/sign-in"


@pytest.fixture
def client(sqlite_database: Database, tmp_path: Path) -> TestClient:
    return TestClient(build(Settings(data_dir=tmp_path), sqlite_database))


def secure(database: Database, tmp_path: Path) -> TestClient:
    settings = Settings(
        data_dir=tmp_path, secure_cookies=True, public_url="https://stones.example.org"
    )
    return TestClient(build(settings, database))


@pytest.mark.parametrize(
    "path", ["/", "/help/", "/sign-in", "/nowhere", "/static/app.css", "/api/v1/nowhere"]
)
def test_every_answer_carries_a_policy_without_loopholes(client: TestClient, path: str) -> None:
    headers = client.get(path).headers

    policy = headers["content-security-policy"]
    assert "default-src 'self'" in policy
    assert "unsafe" not in policy
    assert "frame-ancestors 'none'" in policy
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "same-origin"


def test_pages_are_not_kept_by_browsers(client: TestClient) -> None:
    assert client.get("/").headers["cache-control"] == "no-store"


def test_https_is_demanded_only_where_it_is_used(
    sqlite_database: Database, tmp_path: Path, client: TestClient
) -> None:
    name = "strict-transport-security"

    assert name not in client.get("/").headers
    assert name in secure(sqlite_database, tmp_path).get("/").headers


@pytest.mark.parametrize(
    ("headers", "comes_in"),
    [
        # A browser says where the request comes from.
        ({"Sec-Fetch-Site": "same-origin"}, True),
        ({"Sec-Fetch-Site": "none"}, True),
        ({"Sec-Fetch-Site": "same-site"}, False),
        ({"Sec-Fetch-Site": "cross-site"}, False),
        # It says more than an origin could.
        ({"Sec-Fetch-Site": "cross-site", "Origin": "http://testserver"}, False),
        # An older one tells the origin only.
        ({"Origin": "http://testserver"}, True),
        ({"Origin": "http://testserver:81"}, False),
        ({"Origin": "http://elsewhere.example"}, False),
        ({"Origin": "null"}, False),
        # A program tells nothing, and has no cookies that another site could borrow.
        ({}, True),
    ],
)
def test_a_change_comes_from_our_own_pages(
    client: TestClient, headers: dict[str, str], comes_in: bool
) -> None:
    answer = client.post(SIGN_IN, headers=headers)

    assert answer.status_code == (401 if comes_in else 403)


def test_looking_is_allowed_from_anywhere(client: TestClient) -> None:
    assert client.get(SIGN_IN, headers={"Sec-Fetch-Site": "cross-site"}).status_code == 200


def test_behind_a_proxy_the_public_address_is_ours(
    sqlite_database: Database, tmp_path: Path
) -> None:
    client = secure(sqlite_database, tmp_path)

    answers = [
        client.post(SIGN_IN, headers={"Origin": f"https://{host}"}).status_code
        for host in ("stones.example.org", "stones.example.com")
    ]

    assert answers == [401, 403]


@pytest.mark.parametrize(("longer_by", "status"), [(0, 422), (1, 413)])
def test_a_form_has_a_longest(client: TestClient, longer_by: int, status: int) -> None:
    text = "username=".ljust(LARGEST_BODY + longer_by, "a")
    form = {"Content-Type": "application/x-www-form-urlencoded"}

    assert client.post(SIGN_IN, content=text, headers=form).status_code == status


def test_an_endless_text_is_refused_before_it_is_read(client: TestClient) -> None:
    answer = client.post(SIGN_IN, content=iter([b"username=ada"]))

    assert answer.status_code == 411


@pytest.mark.parametrize("host", ["testserver", "evil.example", "evil.example:443"])
@pytest.mark.parametrize(
    ("path", "to"), [("/help", "/help/"), ("/skerry/limits/", "/skerry/limits")]
)
def test_a_redirect_leads_to_no_host_that_somebody_else_named(
    client: TestClient, host: str, path: str, to: str
) -> None:
    answer = client.get(path, headers={"Host": host}, follow_redirects=False)

    assert answer.is_redirect
    assert answer.headers["location"] == to
