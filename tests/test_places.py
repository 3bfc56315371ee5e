from pathlib import Path

import pytest

from app import places


def test_a_folder_beside_the_package_is_found() -> None:
    assert (places.folder("migrations") / "env.py").is_file()


def test_a_folder_inside_the_package_goes_first(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    package = tmp_path / "app"
    (package / "static").mkdir(parents=True)
    (tmp_path / "static").mkdir()
    monkeypatch.setattr(places, "_PACKAGE", package)

    assert places.folder("static") == package / "static"


def test_a_missing_folder_is_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(places, "_PACKAGE", tmp_path / "app")

    with pytest.raises(FileNotFoundError, match="templates"):
        places.folder("templates")
