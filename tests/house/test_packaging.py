"""However it is installed, the program finds the folders that are no Python code."""

import json
import os
import subprocess
import sys
import tarfile
import zipfile
from pathlib import Path

import pytest

from tests.house.checkout import ROOT, files

FOLDERS = ("templates", "static", "migrations")
_TELL_PLACES = f"""
import json
from app import places
print(json.dumps({{name: str(places.folder(name)) for name in {FOLDERS}}}))
"""


def run(*command: str | Path, cwd: Path, **environ: str) -> str:
    told = subprocess.run(
        [sys.executable, *command],
        cwd=cwd,
        env={**os.environ, **environ},
        capture_output=True,
        text=True,
        check=False,
    )
    assert told.returncode == 0, told.stdout + told.stderr
    return told.stdout


def built(kind: str, source: Path, place: Path) -> Path:
    """Without isolation: nothing is fetched."""
    run("-m", "hatchling", "build", "-t", kind, "-d", place, cwd=source)
    (made,) = place.iterdir()
    return made


def install(wheel: Path, place: Path) -> None:
    run(
        "-m",
        "pip",
        "install",
        "-q",
        "--no-index",
        "--no-deps",
        "--target",
        place,
        wheel,
        cwd=place.parent,
    )


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return built("wheel", ROOT, tmp_path_factory.mktemp("wheel"))


@pytest.fixture(scope="module")
def unpacked_sdist(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("sdist")
    with tarfile.open(built("sdist", ROOT, place)) as packed:
        packed.extractall(place / "unpacked", filter="data")
    (root,) = (place / "unpacked").iterdir()
    return root


@pytest.fixture(scope="module")
def installed(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("installed") / "site"
    install(wheel, place)
    return place


def belongs_to(*tops: str) -> set[str]:
    return {str(path) for path in files() if path.parts[0] in tops}


def names(wheel: Path) -> set[str]:
    with zipfile.ZipFile(wheel) as packed:
        return set(packed.namelist())


def test_the_wheel_holds_every_file_the_program_needs(wheel: Path) -> None:
    needed = belongs_to("app") | {f"app/{name}" for name in belongs_to(*FOLDERS)}

    assert {name for name in names(wheel) if name.startswith("app/")} == needed


def test_an_installed_wheel_finds_its_folders_from_anywhere(
    installed: Path, tmp_path: Path
) -> None:
    told = run("-c", _TELL_PLACES, cwd=tmp_path, PYTHONPATH=str(installed))

    assert json.loads(told) == {name: str(installed / "app" / name) for name in FOLDERS}


def test_an_installed_wheel_answers_a_command(installed: Path, tmp_path: Path) -> None:
    told = run(
        "-m", "app.cli.commands", "schema", "profile", cwd=tmp_path, PYTHONPATH=str(installed)
    )

    assert json.loads(told)["type"] == "object"


def test_the_command_has_its_name(installed: Path) -> None:
    (entry_points,) = installed.glob("marchstone-*.dist-info/entry_points.txt")

    assert "marchstone = app.cli.commands:run" in entry_points.read_text().splitlines()


def test_the_sdist_holds_every_file(unpacked_sdist: Path) -> None:
    missing = [str(path) for path in files() if not (unpacked_sdist / path).is_file()]

    assert missing == []


def test_a_wheel_from_the_sdist_is_the_same_wheel(
    unpacked_sdist: Path, wheel: Path, tmp_path: Path
) -> None:
    again = built("wheel", unpacked_sdist, tmp_path / "again")

    assert names(again) == names(wheel)


def test_an_editable_install_uses_the_checkout(tmp_path: Path) -> None:
    """Its folders lie one level up, whatever copies the installer left elsewhere."""
    place = tmp_path / "site"
    make = f"from hatchling.build import build_editable; build_editable({str(tmp_path)!r})"
    run("-c", make, cwd=ROOT)
    install(next(tmp_path.glob("*.whl")), place)

    told = run("-c", f"import site; site.addsitedir({str(place)!r})\n{_TELL_PLACES}", cwd=tmp_path)

    assert json.loads(told) == {name: str(ROOT / name) for name in FOLDERS}
