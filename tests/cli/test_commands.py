"""What holds for every command: exit codes, refusals in words and as JSON."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from app.cli import check
from tests.cli.running import Shell
from tests.house.checkout import ROOT
from tests.worked_profiles import five_categories

COMMANDS = ["demo", "serve", "check", "audit", "range", "replay", "sample", "prove", "schema"]


def test_help_names_every_command_and_says_what_it_is_not(shell: Shell) -> None:
    ended = shell.run("--help")

    assert ended.code == 0
    assert all(f"  {command} " in ended.out for command in COMMANDS)
    assert "no advice for a patient" in " ".join(ended.out.split())


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_has_help(shell: Shell, command: str) -> None:
    assert shell.run(command, "--help").code == 0


@pytest.mark.parametrize(
    ("arguments", "reason"),
    [
        ([], "the following arguments are required: COMMAND"),
        (["paint"], "invalid choice: 'paint'"),
        (["check"], "the following arguments are required: PROFILE.json"),
        (["check", "a.json", "b.json"], "unrecognized arguments: b.json"),
        (["check", "a.json", "--colour"], "unrecognized arguments: --colour"),
        (["range", "heart-rate"], "the following arguments are required: --age"),
        (
            ["range", "heart-rate", "--age", "7 mo", "--value", "many"],
            "invalid float value: 'many'",
        ),
        (
            ["range", "heart-rate", "--age", "7 mo", "--value", "1", "--centile", "2"],
            "not allowed with argument",
        ),
        (["sample", "--fleet", "4.5", "--tolerate", "1%"], "invalid int value: '4.5'"),
        (["audit", "a.json", "b.csv", "--fleet", "x"], "invalid int value: 'x'"),
        (["schema", "device"], "invalid choice: 'device'"),
    ],
)
def test_a_wrong_command_line_is_refused_in_words_and_as_json(
    shell: Shell, arguments: list[str], reason: str
) -> None:
    in_words = shell.run(*arguments)
    as_json = shell.run(*arguments, "--json")

    assert (in_words.code, in_words.out) == (2, "")
    assert in_words.err.startswith("refused: command line: ")
    assert reason in in_words.err
    assert (as_json.code, as_json.err) == (2, "")
    (error,) = as_json.json["errors"]
    assert (error["line"], error["column"], error["value"]) == (None, "command line", None)


@pytest.mark.parametrize(
    "arguments",
    [
        ["check", "{missing}"],
        ["check", "{folder}"],
        ["check", "{profile}", "--bounds", "{missing}"],
        ["check", "{profile}", "--reference", "{missing}"],
        ["audit", "{profile}", "{missing}"],
        ["audit", "{missing}", "{missing}"],
        ["replay", "{profile}", "{missing}", "--category", "adult"],
        ["range", "heart-rate", "--age", "7 mo", "--reference", "{missing}"],
    ],
)
def test_a_file_that_cannot_be_read_is_refused(
    shell: Shell, tmp_path: Path, arguments: list[str]
) -> None:
    names = {
        "missing": str(tmp_path / "nowhere"),
        "folder": str(tmp_path),
        "profile": shell.file("profile.json", five_categories()),
    }

    ended = shell.run(*(argument.format(**names) for argument in arguments), "--json")

    assert ended.code == 2
    (error,) = ended.json["errors"]
    assert error["column"] == "file"
    assert error["reason"].startswith("cannot read ")


def test_a_refusal_carries_line_column_value_and_reason(shell: Shell) -> None:
    name = shell.file("profile.json", '{"format": 1}')

    as_json = shell.run("check", name, "--json")
    in_words = shell.run("check", name)

    first = as_json.json["errors"][0]
    assert list(first) == ["line", "column", "value", "reason"]
    assert (first["line"], first["column"], first["value"]) == (1, 12, 1)
    assert in_words.out == ""
    assert in_words.err.splitlines()[0] == f"refused: line 1, column 12: {first['reason']}"


def test_our_own_failure_is_exit_three(shell: Shell, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object) -> None:
        raise ZeroDivisionError("by nobody")

    monkeypatch.setattr(check, "load_profile", broken)

    ended = shell.run("check", "any.json", "--json")

    assert (ended.code, ended.out) == (3, "")
    assert ended.err == "marchstone failed: ZeroDivisionError: by nobody\n"


@pytest.mark.parametrize("encoding", ["ascii", "cp1252", "utf-8"])
def test_what_it_says_is_utf8_in_every_locale(encoding: str) -> None:
    ended = subprocess.run(
        [
            sys.executable,
            "-m",
            "app.cli.commands",
            "range",
            "SpO₂\udce9",
            "--age",
            "7 mo",
            "--json",
        ],
        cwd=ROOT,
        env={**os.environ, "PYTHONIOENCODING": encoding, "PYTHONUTF8": "1"},
        capture_output=True,
        check=False,
    )

    assert ended.returncode == 2, ended.stderr
    assert json.loads(ended.stdout)["errors"][0]["value"] == "SpO₂\udce9"


def test_no_option_may_be_shortened(shell: Shell) -> None:
    """Else `--js` would print results as JSON and refusals in words."""
    assert shell.run("range", "heart-rate", "--age", "7 mo", "--js").code == 2


@pytest.mark.parametrize(
    ("arguments", "code"),
    [
        (["range", "heart-rate", "--age", "7 mo"], 0),
        (["check", "nowhere.json"], 2),
    ],
)
def test_the_command_ends_its_process_with_the_code(arguments: list[str], code: int) -> None:
    ended = subprocess.run(
        [sys.executable, "-m", "app.cli.commands", *arguments],
        cwd=ROOT,
        capture_output=True,
        check=False,
    )

    assert ended.returncode == code
    assert bool(ended.stdout) is (code == 0)
