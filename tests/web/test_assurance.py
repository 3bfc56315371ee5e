"""What the manual claims of hazards and of security: each test that it names is there, and the
few claims that no other test shows are shown here."""

import ast
import sys
from pathlib import Path

import pytest
import uvicorn
from fastapi import FastAPI
from starlette.testclient import TestClient

from app.domain.asvs import SECTIONS, Requirement, Standing
from app.domain.hazards import HAZARDS
from app.jobs import beside
from app.main import _config
from app.storage.database import Database
from tests.house.checkout import ROOT, imported, python_files, tree
from tests.web.visits import Visits

REQUIREMENTS = [one for section in SECTIONS for one in section.requirements]
LEVEL_2 = 253
"""Requirements of levels 1 and 2 in the table of the standard's version 5.0.0."""
STARTS_COMMANDS = {"os.system", "os.popen", "eval", "exec", "compile", "__import__"}


def is_there(test: str) -> bool:
    file, _, name = test.partition("::")
    path = ROOT / "tests" / f"{file}.py"
    return path.is_file() and (not name or f"def {name}(" in path.read_text(encoding="utf-8"))


@pytest.mark.parametrize("hazard", HAZARDS, ids=lambda one: str(one.number))
def test_every_test_of_a_hazard_is_there(hazard: object) -> None:
    named = hazard.tests  # type: ignore[attr-defined]

    assert named
    assert [test for test in named if not is_there(test)] == []


def test_the_hazards_are_numbered() -> None:
    assert [one.number for one in HAZARDS] == list(range(1, 15))


def test_every_requirement_of_level_2_is_answered_once() -> None:
    assert len(REQUIREMENTS) == len({one.id for one in REQUIREMENTS}) == LEVEL_2


def test_what_is_met_names_tests_that_are_there() -> None:
    def wrong(one: Requirement) -> bool:
        shown = bool(one.tests) or one.standing is not Standing.MET
        return not (shown and one.says and all(map(is_there, one.tests)))

    assert [one.id for one in REQUIREMENTS if wrong(one)] == []


def test_the_manual_shows_each_of_them(sqlite_database: Database, tmp_path: Path) -> None:
    reader = TestClient(Visits(sqlite_database, tmp_path).app)

    security, hazards = reader.get("/help/security").text, reader.get("/help/hazards").text

    assert [one.id for one in REQUIREMENTS if f">{one.id}<" not in security] == []
    assert [one.number for one in HAZARDS if f"H{one.number}" not in hazards] == []


def test_the_program_starts_no_command_and_runs_no_text() -> None:
    """Nothing of it runs what somebody typed, or opens a file that could run by being read. What
    does long work is the program itself, started by a fixed line."""
    modules = {"subprocess", "pickle", "marshal", "shelve", "yaml"}
    found = [
        f"{path}: {name}"
        for path in python_files("app")
        if path != Path("app/jobs/beside.py")
        for name in [*imported(path), *_called(path)]
        if name.split(".")[0] in modules or name in STARTS_COMMANDS
    ]

    assert found == []


def test_what_it_starts_beside_itself_is_itself() -> None:
    python, *rest = beside.COMMAND
    assert python == sys.executable
    assert rest == ["-m", "app.cli.commands", "work", "--beside"]
    assert _called(Path("app/jobs/beside.py")).count("subprocess.Popen") == 1


def _called(path: Path) -> list[str]:
    return [
        ast.unparse(node.func)
        for node in ast.walk(tree(path))
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name | ast.Attribute)
    ]


def test_only_a_proxy_on_this_machine_is_believed(monkeypatch: pytest.MonkeyPatch) -> None:
    """Anybody else could write any address into X-Forwarded-For, and would never be slowed."""
    monkeypatch.delenv("FORWARDED_ALLOW_IPS", raising=False)

    config: uvicorn.Config = _config(FastAPI())

    assert config.proxy_headers
    assert config.forwarded_allow_ips == "127.0.0.1,::1"
