"""What the README tells people to type works, and answers what the README says."""

import os
import re
import shlex
import subprocess
import sys
from dataclasses import dataclass

import pytest

from app.cli.commands import build_parser
from tests.house.checkout import ROOT

TRY = (
    "python3 -m venv .venv && .venv/bin/pip install -q -c constraints.txt -e . "
    "&& .venv/bin/marchstone demo"
)
TEST = (
    "python3 -m venv .venv && .venv/bin/pip install -q -c constraints.txt -e '.[test]' "
    "&& .venv/bin/pytest -n auto"
)
_FILE_COMMANDS = ["check", "audit", "range", "replay", "bands", "sample", "schema"]
_README = (ROOT / "README.md").read_text(encoding="utf-8")


@dataclass(frozen=True)
class Example:
    arguments: list[str]
    exits_with: int
    output: list[str]

    def __str__(self) -> str:
        return self.arguments[0]


def blocks(language: str) -> list[str]:
    return re.findall(rf"^```{language}\n(.*?)^```", _README, re.MULTILINE | re.DOTALL)


def example(block: str) -> Example:
    typed, *output = block.splitlines()
    told = re.fullmatch(r"\$ marchstone (.*?)  # exits with (\d)", typed)
    assert told is not None, typed
    return Example(shlex.split(told[1]), int(told[2]), output)


EXAMPLES = [example(block) for block in blocks("console")]


def as_pattern(shown: list[str]) -> str:
    """Each `…` line stands for any number of lines."""
    return "".join(r"(?:.*\n)*?" if line == "…" else re.escape(line) + r"\n" for line in shown)


@pytest.mark.parametrize("command", [TRY, TEST])
def test_the_readme_starts_everything_with_one_command(command: str) -> None:
    assert f"{command}\n" in blocks("sh")


def test_the_check_of_a_bare_machine_runs_the_same_tests() -> None:
    assert (ROOT / ".ci" / "run").read_text().splitlines()[-1] == TEST


def test_every_file_command_has_an_example() -> None:
    assert [str(one) for one in EXAMPLES] == _FILE_COMMANDS


def test_every_command_is_told() -> None:
    # argparse offers no other way to ask a parser for its commands.
    (commands,) = [one.choices for one in build_parser()._actions if one.dest == "command"]

    untold = [name for name in commands or () if f"marchstone {name}" not in _README]

    assert untold == []


@pytest.mark.parametrize("shown", EXAMPLES, ids=str)
def test_an_example_answers_what_the_readme_shows(shown: Example) -> None:
    told = subprocess.run(
        [sys.executable, "-m", "app.cli.commands", *shown.arguments],
        cwd=ROOT,
        env={**os.environ, "PYTHONUTF8": "1"},
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
    )

    assert told.returncode == shown.exits_with, told.stderr
    assert re.fullmatch(as_pattern(shown.output), told.stdout), told.stdout
