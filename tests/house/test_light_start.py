"""A file command must not pay for the service: what a command never uses, it never imports."""

import json
import os
import subprocess
import sys

import pytest

from tests.house.checkout import ROOT

_HEAVY = {
    "fastapi",
    "jinja2",
    "numpy",
    "polars",
    "pwdlib",
    "pyarrow",
    "scipy",
    "sqlalchemy",
    "sqlmodel",
}
_TELL_MODULES = """
import json, sys
from app.cli.commands import run
try:
    run(sys.argv[1:])
except SystemExit as ended:
    print(json.dumps([ended.code, sorted(sys.modules)]), file=sys.stderr)
"""


@pytest.mark.parametrize(
    "command",
    [
        ["--help"],
        ["check", "--help"],
        ["range", "heart-rate", "--age", "7 mo", "--value", "160"],
        ["sample", "--fleet", "40", "--tolerate", "10%", "--confidence", "95%"],
        ["schema", "profile"],
    ],
    ids=lambda command: command[0],
)
def test_a_light_command_imports_nothing_heavy(command: list[str]) -> None:
    told = subprocess.run(
        [sys.executable, "-c", _TELL_MODULES, *command],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    )

    code, modules = json.loads(told.stderr.splitlines()[-1])
    assert code in (0, None), told.stderr
    assert _HEAVY.isdisjoint(modules)


def test_proving_opens_a_database_and_no_pages(sqlite_url: str) -> None:
    told = subprocess.run(
        [sys.executable, "-c", _TELL_MODULES, "prove"],
        cwd=ROOT,
        env=os.environ | {"MARCHSTONE_DATABASE_URL": sqlite_url},
        capture_output=True,
        text=True,
        check=True,
    )

    code, modules = json.loads(told.stderr.splitlines()[-1])
    assert code == 0, told.stderr
    assert {"alembic", "fastapi", "jinja2", "numpy", "uvicorn"}.isdisjoint(modules)
