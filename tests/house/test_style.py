import subprocess
import sys

import pytest

from tests.house.checkout import ROOT


@pytest.mark.parametrize(
    "command",
    [["ruff", "check", "--output-format=concise"], ["ruff", "format", "--check"], ["mypy"]],
    ids=" ".join,
)
def test_the_tools_find_nothing(command: list[str]) -> None:
    told = subprocess.run(
        [sys.executable, "-m", *command], cwd=ROOT, capture_output=True, text=True, check=False
    )

    said = [line for line in told.stdout.splitlines() if ": note: " not in line]
    assert told.returncode == 0, "\n".join([*said, told.stderr])
