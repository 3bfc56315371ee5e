"""Who may import whom: the contracts of pyproject.toml, and proof that they bite."""

import shutil
import subprocess
import sysconfig
import tomllib
from pathlib import Path

import pytest

from tests.house.checkout import ROOT, imported, is_standard, python_files

_LINT = Path(sysconfig.get_path("scripts")) / "lint-imports"
_WORLD = {
    "asyncio", "logging", "multiprocessing", "os", "pathlib", "random", "secrets", "shutil",
    "signal", "socket", "sqlite3", "subprocess", "tempfile", "threading", "time", "urllib",
}  # fmt: skip


def lint(folder: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [_LINT, "--no-cache", "--no-logo"], cwd=folder, capture_output=True, text=True, check=False
    )


def test_the_floors_hold() -> None:
    told = lint(ROOT)

    assert told.returncode == 0, told.stdout + told.stderr


@pytest.mark.parametrize(
    ("file", "line", "contract"),
    [
        ("cli/wrong.py", "from app.storage import tables", "Doors never reach into storage"),
        ("cli/wrong.py", "import sqlalchemy", "Doors never reach into storage"),
        ("domain/wrong.py", "import os", "The domain never touches the world"),
        ("domain/wrong.py", "import pydantic", "The domain never touches the world"),
        ("domain/wrong.py", "from app.settings import Settings", "The domain never touches"),
        ("storage/wrong.py", "from app.exchange import numbers", "Floors"),
        ("lookups/wrong.py", "from app.actions import people", "Floors"),
        ("domain/wrong.py", "from app.storage import tables", "Floors"),
        ("helping.py", "", "Floors"),
    ],
)
def test_a_wrong_import_is_seen(file: str, line: str, contract: str, tmp_path: Path) -> None:
    shutil.copytree(ROOT / "app", tmp_path / "app", ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copy(ROOT / "pyproject.toml", tmp_path)
    (tmp_path / "app" / file).write_text(line)

    told = lint(tmp_path)

    broken = [one for one in told.stdout.splitlines() if one.endswith("BROKEN")]
    assert any(one.startswith(contract) for one in broken), told.stdout + told.stderr


def test_every_door_is_kept_out_of_storage() -> None:
    contracts = tomllib.loads((ROOT / "pyproject.toml").read_text())["tool"]["importlinter"]
    floors, doors, _ = contracts["contracts"]
    (layer,) = (one for one in floors["layers"] if "web" in one)
    named = {name.strip(" ()") for name in layer.split("|")}

    built = {f"app.{name}" for name in named if (ROOT / "app" / name).is_dir()}

    assert set(doors["source_modules"]) == built


def test_the_domain_knows_values_only() -> None:
    foreign = [
        f"{path}: {name}"
        for path in python_files("app")
        if path.parts[1] == "domain"
        for name in imported(path)
        if name.split(".")[0] not in {"numpy", "scipy", "rfc8785"}
        and not name.startswith("app.domain")
        and (not is_standard(name) or name.split(".")[0] in _WORLD)
    ]

    assert foreign == []
