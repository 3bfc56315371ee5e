"""What is declared, what is imported and what is pinned are one list."""

import re
import tomllib
from importlib.metadata import PackageNotFoundError, requires
from typing import Any

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

from tests.house.checkout import ROOT, imported, is_standard, python_files

_DISTRIBUTION = {
    "axe_playwright_python": "axe-playwright-python",
    "phoenix": "phoenix-sepsis",
    "pydantic_core": "pydantic",  # its own other half, pinned by it to one version
    "starlette": "fastapi",  # FastAPI's own foundation; it hands its classes through
    "zxingcpp": "zxing-cpp",
}
NEVER_IMPORTED = {
    "httptools": "uvicorn's protocol, ours below, loads it",
    "psycopg": "SQLAlchemy loads it for a postgresql+psycopg address",
    "python-multipart": "FastAPI loads it for the first form",
    "tzdata": "zoneinfo falls back to it",
    "hatchling": "started as a program",
    "httpx2": "Starlette's test client loads it",
    "import-linter": "started as a program",
    "mypy": "started as a program",
    "pgserver": "loaded by name, where no system server is found",
    "pytest-socket": "pytest loads it",
    "pytest-xdist": "pytest loads it",
    "ruff": "started as a program",
}


def project() -> dict[str, Any]:
    table: dict[str, Any] = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    return table


def names(requirements: list[str]) -> set[str]:
    return {canonicalize_name(Requirement(one).name) for one in requirements}


def third_party(*folders: str) -> set[str]:
    modules = {name.split(".")[0] for path in python_files(*folders) for name in imported(path)}
    return {
        canonicalize_name(_DISTRIBUTION.get(module, module))
        for module in modules - {"app", "tests"}
        if not is_standard(module)
    }


def pinned() -> dict[str, str]:
    lines = (ROOT / "constraints.txt").read_text().splitlines()
    pins = [line.split("==") for line in lines if line and not line.startswith("#")]
    return {canonicalize_name(name): version for name, version in pins}


def whole_tree(requirement: Requirement, seen: set[tuple[str, str]]) -> set[str]:
    """Every distribution that it brings with it here, itself included."""
    key = (canonicalize_name(requirement.name), ",".join(sorted(requirement.extras)))
    if key in seen:
        return set()
    seen.add(key)
    found: set[str] = {key[0]}
    for text in _requires(requirement.name):
        needed = Requirement(text)
        extras = requirement.extras or {""}
        if not needed.marker or any(needed.marker.evaluate({"extra": extra}) for extra in extras):
            found |= whole_tree(needed, seen)
    return found


def _requires(name: str) -> list[str]:
    try:
        return requires(name) or []
    except PackageNotFoundError:
        return []


def test_the_program_declares_exactly_what_it_uses() -> None:
    declared = names(project()["dependencies"])

    assert third_party("app", "migrations") <= declared
    assert declared - third_party("app", "migrations") <= NEVER_IMPORTED.keys()


def test_the_tests_declare_exactly_what_they_use_besides() -> None:
    declared = names(project()["optional-dependencies"]["test"])
    run = names(project()["dependencies"])

    assert third_party("tests") - run <= declared
    assert declared - third_party("tests") <= NEVER_IMPORTED.keys()


def test_nothing_excused_is_imported_after_all() -> None:
    assert not NEVER_IMPORTED.keys() & third_party("app", "migrations")


@pytest.mark.parametrize("extra", ["dependencies", "test"])
def test_every_dependency_has_its_reason_on_the_line(extra: str) -> None:
    text = (ROOT / "pyproject.toml").read_text()
    listed = re.search(rf"^{extra} = \[\n(.*?)^\]", text, re.MULTILINE | re.DOTALL)
    assert listed is not None

    bare = [line for line in listed[1].splitlines() if not re.search(r'",\s+# \w', line)]

    assert bare == []


def test_the_whole_tree_is_pinned_exactly() -> None:
    declared = project()["dependencies"] + project()["optional-dependencies"]["test"]
    here = [one for one in map(Requirement, declared) if not one.marker or one.marker.evaluate()]
    seen: set[tuple[str, str]] = set()

    needed = {name for one in here for name in whole_tree(one, seen)}

    assert needed - pinned().keys() == set()
    assert all(re.fullmatch(r"[0-9][0-9a-z.]*", version) for version in pinned().values())
