"""How commands speak: exit codes, JSON, refusals, and files they are handed."""

import json as json_text
import sys
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from io import TextIOWrapper
from pathlib import Path
from typing import Any, BinaryIO

from app.domain.errors import Fault, Refused
from app.domain.findings import Severity

FINE, FOUND, REFUSED, FAILED = 0, 1, 2, 3


def speak_utf8() -> None:
    """Whatever the locale says: JSON is UTF-8, and SpO₂ or ≥ must not end a command."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper):
            stream.reconfigure(encoding="utf-8", errors="backslashreplace")


def print_json(result: object) -> None:
    print(json_text.dumps(result, ensure_ascii=False, indent=2))


def print_refusal(faults: Sequence[Fault], *, json: bool) -> None:
    """With JSON on standard output, where a program reads; else in words on standard error."""
    if json:
        print_json({"errors": [_fault_json(fault) for fault in faults]})
        return
    for fault in faults:
        print(f"refused: {fault}", file=sys.stderr)


def _fault_json(fault: Fault) -> dict[str, Any]:
    plain = fault.value is None or isinstance(fault.value, str | int | float | bool)
    return {
        "line": fault.line,
        "column": fault.column,
        "value": fault.value if plain else str(fault.value),
        "reason": fault.reason,
    }


@contextmanager
def opened(name: str) -> Iterator[BinaryIO]:
    """A file by name; raises Refused in plain words where it cannot be read."""
    try:
        with Path(name).open("rb") as file:
            yield file
    except OSError as error:
        raise Refused([Fault(f"cannot read {name}: {error.strerror}", column="file")]) from None


def exit_code(severities: Iterable[Severity]) -> int:
    return FOUND if any(severity is not Severity.NOTE for severity in severities) else FINE


def rows(lines: Iterable[Sequence[object]]) -> str:
    """Columns, aligned."""
    told = [[str(cell) for cell in line] for line in lines]
    widths = [max(map(len, column)) for column in zip(*told, strict=True)]
    return "\n".join(
        "  ".join(cell.ljust(width) for cell, width in zip(line, widths, strict=True)).rstrip()
        for line in told
    )
