"""Names say what a thing is, and nothing grows without being looked at."""

import ast
from collections.abc import Iterator
from pathlib import Path

from tests.house.checkout import ROOT, files, python_files, tree

_SAY_NOTHING = {"utils", "util", "helpers", "helper", "common", "core", "manager", "service"}
LONGEST_FILE = 300
LONGEST_FUNCTION = 35
LONG_FOR_A_REASON: dict[str, str] = {}


def functions(path: Path) -> Iterator[tuple[str, int]]:
    """Each function of a file with its length in lines."""
    for node in ast.walk(tree(path)):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            yield f"{path}:{node.name}", (node.end_lineno or node.lineno) - node.lineno + 1


def long_functions() -> dict[str, int]:
    return {
        name: lines
        for path in python_files("app")
        for name, lines in functions(path)
        if lines > LONGEST_FUNCTION
    }


def test_no_file_or_folder_has_a_name_that_says_nothing() -> None:
    told = [
        str(path)
        for path in files()
        if _SAY_NOTHING & {part.split(".")[0].removeprefix("test_") for part in path.parts}
    ]

    assert told == []


def test_no_file_is_longer_than_anybody_reads() -> None:
    long = {
        str(path): lines
        for path in python_files("app")
        if (lines := len((ROOT / path).read_text(encoding="utf-8").splitlines())) > LONGEST_FILE
    }

    assert long == {}


def test_no_function_is_long_without_a_reason() -> None:
    assert {k: v for k, v in long_functions().items() if k not in LONG_FOR_A_REASON} == {}


def test_no_reason_outlives_its_function() -> None:
    assert LONG_FOR_A_REASON.keys() <= long_functions().keys()
