"""Where the folders that are no Python code lie: in a wheel, or in a checkout."""

from functools import cache
from importlib.metadata import PackageNotFoundError
from importlib.metadata import version as installed_version
from pathlib import Path
from typing import Literal

_PACKAGE = Path(__file__).resolve().parent


def folder(name: Literal["templates", "static", "migrations"]) -> Path:
    """Beside the package's files first (a wheel puts them there), else one level up (a checkout).

    Never asked of the import machinery: an editable install leaves stale copies where that looks.
    """
    for parent in (_PACKAGE, _PACKAGE.parent):
        if (parent / name).is_dir():
            return parent / name
    raise FileNotFoundError(f"The folder {name} lies neither in {_PACKAGE} nor beside it.")


@cache
def program_version() -> str:
    """As it was installed; the files alone do not tell."""
    try:
        return installed_version("marchstone")
    except PackageNotFoundError:
        return "unknown"
