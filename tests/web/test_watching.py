from pathlib import Path

import pytest
from fastapi import FastAPI
from sqlmodel import text
from starlette.testclient import TestClient

from app.domain.people import Role
from app.main import build
from app.settings import Settings
from app.storage.database import Database
from tests.builders import NOW
from tests.web.visits import Visits

TOKEN = "twenty characters and more"


@pytest.fixture
def watched(database: Database, tmp_path: Path) -> FastAPI:
    settings = Settings(data_dir=tmp_path, database_url="sqlite:///unused", metrics_token=TOKEN)
    return build(settings, database, clock=lambda: NOW)


@pytest.fixture
def monitor(watched: FastAPI) -> TestClient:
    return TestClient(watched, headers={"Authorization": f"Bearer {TOKEN}"})


def test_a_living_process_says_so_without_asking_the_database(tmp_path: Path) -> None:
    settings = Settings(data_dir=tmp_path)
    app = build(settings, Database(f"postgresql+psycopg://nobody@/none?host={tmp_path}"))

    assert TestClient(app).get("/health").text == "alive\n"
    assert TestClient(app).get("/ready").status_code == 503


def test_it_is_ready_with_the_schema_of_this_program(watched: FastAPI, database: Database) -> None:
    assert TestClient(watched).get("/ready").json() == {"ready": True}

    with database.writing() as tx:
        before = tx.execute(text("SELECT version_num FROM alembic_version")).scalar_one()
        tx.execute(text("UPDATE alembic_version SET version_num = '9999'"))
    try:
        answer = TestClient(watched).get("/ready")
    finally:
        with database.writing() as tx:
            tx.execute(text(f"UPDATE alembic_version SET version_num = '{before}'"))

    assert answer.status_code == 503
    assert "another schema" in answer.text


def test_the_counts_are_read_by_prometheus(monitor: TestClient) -> None:
    monitor.get("/health")
    monitor.get("/nobody/limits")
    monitor.get("/no/such/page/at/all")

    told = monitor.get("/metrics")

    assert told.headers["content-type"].startswith("text/plain")
    lines = told.text.splitlines()
    assert 'marchstone_requests_total{method="GET",route="/health",status="200"} 1.0' in lines
    assert any('route="/{agency}/limits",status="404"' in line for line in lines)
    assert any('route="(no such address)"' in line for line in lines)
    assert "marchstone_ledger_entries 0" in told.text
    assert "nobody" not in told.text


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({}, 401),
        ({"Authorization": "Bearer something else"}, 401),
        ({"Authorization": f"Basic {TOKEN}"}, 401),
        ({"Authorization": "Bearer ä"}, 401),
        ({"Authorization": f"Bearer {TOKEN}"}, 200),
    ],
)
def test_only_the_token_opens_them(watched: FastAPI, headers: dict[str, str], status: int) -> None:
    answer = TestClient(watched, follow_redirects=False).get(
        "/metrics", headers=[(name.encode(), value.encode()) for name, value in headers.items()]
    )

    assert answer.status_code == status


def test_without_a_token_in_the_settings_there_is_no_such_page(
    sqlite_database: Database, tmp_path: Path
) -> None:
    visits = Visits(sqlite_database, tmp_path)

    assert visits.of(Role.ADMINISTRATOR).get("/metrics").status_code == 404
