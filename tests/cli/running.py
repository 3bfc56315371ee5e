"""A command run in this process: exit code, standard output, standard error."""

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from app.cli.commands import run


@dataclass(frozen=True)
class Ended:
    code: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        return json.loads(self.out)


@dataclass(frozen=True)
class Shell:
    """Writes files into a folder of its own and runs commands on them."""

    folder: Path
    capture: pytest.CaptureFixture[str]

    def file(self, name: str, content: object) -> str:
        path = self.folder / name
        raw = content if isinstance(content, bytes) else _text(content).encode()
        path.write_bytes(raw)
        return str(path)

    def run(self, *arguments: str) -> Ended:
        with pytest.raises(SystemExit) as ended:
            run(arguments)
        told = self.capture.readouterr()
        code = ended.value.code
        assert code is None or isinstance(code, int)
        return Ended(code or 0, told.out, told.err)


def _text(content: object) -> str:
    return content if isinstance(content, str) else json.dumps(content)
