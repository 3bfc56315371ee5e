"""The checkout as a whole: where it is and which files belong to it."""

import ast
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
_LEFT_BEHIND = {"__pycache__", "build", "dist", "marchstone-data", "marchstone-demo"}


def files() -> list[Path]:
    """Every file that is, or is about to be, under version control; relative to the root."""
    git = shutil.which("git")
    if git is None or not (ROOT / ".git").exists():
        return list(_walk(ROOT))
    listed = subprocess.run(
        [git, "ls-files", "-z", "--cached", "--others", "--exclude-standard"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    ).stdout
    return [Path(name) for name in listed.split("\0") if name and (ROOT / name).is_file()]


def python_files(*folders: str) -> list[Path]:
    return [path for path in files() if path.suffix == ".py" and path.parts[0] in folders]


def tree(path: Path) -> ast.Module:
    return ast.parse((ROOT / path).read_text(encoding="utf-8"))


def imported(path: Path) -> Iterator[str]:
    """Full dotted names, wherever in the file they are imported."""
    for node in ast.walk(tree(path)):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            yield node.module


def is_standard(module: str) -> bool:
    return module.split(".")[0] in sys.stdlib_module_names


def _walk(folder: Path) -> Iterator[Path]:
    for path in folder.iterdir():
        if path.name in _LEFT_BEHIND or _is_hidden(path):
            continue
        if path.is_dir():
            yield from _walk(path)
        else:
            yield path.relative_to(ROOT)


def _is_hidden(path: Path) -> bool:
    """`.ci` and the files with a dot are ours; other folders with one are tools' or the venv."""
    return path.is_dir() and path.name.startswith(".") and path.name != ".ci"
