"""The `marchstone` command. Each command imports what it needs only when it runs.

Exit 0 fine · 1 something unsafe or off-protocol · 2 input refused · 3 our own failure.
"""

import argparse
import importlib
import sys
from collections.abc import Callable, Sequence
from typing import NoReturn, TypeAlias

from app.cli.output import FAILED, REFUSED, print_refusal, speak_utf8
from app.domain.errors import Fault, MarchstoneError, Refused

CAUTION = (
    "Marchstone shows an agency's own alarm-limit policy and is no advice for a patient. "
    "Local protocol and licensed judgement rule."
)
SCHEMAS = ("profile", "report", "check", "audit", "replay", "bands")


class _Parser(argparse.ArgumentParser):
    """Tells a wrong command line as every other refused input, JSON included."""

    def error(self, message: str) -> NoReturn:
        raise Refused([Fault(message, column="command line")])


def build_parser() -> argparse.ArgumentParser:
    parser = _Parser(prog="marchstone", description=CAUTION, allow_abbrev=False)
    commands = parser.add_subparsers(dest="command", required=True, metavar="COMMAND")
    _service_commands(commands)
    _policy_commands(commands)
    _evidence_commands(commands)
    return parser


_Commands: TypeAlias = "argparse._SubParsersAction[_Parser]"


def _add(
    commands: _Commands, name: str, does: str, *, json: bool = True
) -> argparse.ArgumentParser:
    command = commands.add_parser(
        name, help=does, description=does, epilog=CAUTION, allow_abbrev=False
    )
    if json:
        command.add_argument("--json", action="store_true", help="print JSON")
    return command


def _service_commands(commands: _Commands) -> None:
    demo = _add(
        commands, "demo", "a seeded service on 127.0.0.1 with an invented agency", json=False
    )
    demo.add_argument("--port", type=int, help="the port to listen on")
    demo.add_argument("--data", metavar="FOLDER", help="where the demo keeps its data")
    _add(commands, "serve", "the service, from environment settings", json=False)
    work = _add(commands, "work", "long work, beside a service that does none", json=False)
    work.add_argument("--beside", action="store_true", help="end with the input")
    prove = _add(commands, "prove", "prove that the ledger is whole")
    prove.add_argument("--head", metavar="HASH", help="a head kept outside, as on a signed paper")
    _upkeep_commands(commands)


def _upkeep_commands(commands: _Commands) -> None:
    backup = _add(commands, "backup", "copy everything into one file, while the service runs")
    backup.add_argument("file", nargs="?", metavar="FILE.zip", help="by default in the data folder")
    restore = _add(commands, "restore", "bring a backup back into a place where nothing is")
    restore.add_argument("file", metavar="FILE.zip")
    _add(commands, "selftest", "is this installation fit to work?")
    people = _add(commands, "people", "accounts of an agency, for whoever stands at the machine")
    people.add_argument(
        "deed", choices=("list", "invite", "link", "close", "open-again", "sign-out")
    )
    people.add_argument("agency", metavar="AGENCY")
    people.add_argument("username", metavar="USERNAME", nargs="?")
    people.add_argument("--name", help="of whom is invited")
    people.add_argument("--role", action="append", metavar="ROLE", help="such as administrator")
    export = _add(commands, "export", "copy one agency into one file")
    export.add_argument("agency", metavar="AGENCY", help="its short name, as in its addresses")
    export.add_argument("file", metavar="FILE.zip")
    bring = _add(commands, "import", "bring an exported agency into an empty installation")
    bring.add_argument("file", metavar="FILE.zip")


def _policy_commands(commands: _Commands) -> None:
    check = _add(commands, "check", "judge a profile by the rules")
    check.add_argument("profile", metavar="PROFILE.json")
    check.add_argument("--reference", metavar="TABLE.csv", help="an own table of centiles")
    check.add_argument("--bounds", metavar="BOUNDS.csv", help="own outer bounds")
    audit = _add(commands, "audit", "hold device readings against a profile")
    audit.add_argument("profile", metavar="PROFILE.json")
    audit.add_argument("readings", metavar="READINGS.csv")
    audit.add_argument("--fleet", type=int, metavar="N", help="how many devices the fleet has")
    schema = _add(commands, "schema", "print the JSON schema of a file or a result", json=False)
    schema.add_argument("name", choices=SCHEMAS)


def _evidence_commands(commands: _Commands) -> None:
    ranges = _add(commands, "range", "published centiles of a vital sign at an age")
    ranges.add_argument("vital", metavar="VITAL")
    ranges.add_argument("--age", required=True, help="such as '7 mo'")
    asked = ranges.add_mutually_exclusive_group()
    asked.add_argument("--value", type=float, help="at which centile does this value lie?")
    asked.add_argument("--centile", type=float, help="which value lies at this centile?")
    ranges.add_argument("--reference", metavar="TABLE.csv", help="an own table of centiles")
    _replay_command(commands)
    _bands_command(commands)
    sample = _add(commands, "sample", "how many devices to read")
    sample.add_argument("--fleet", required=True, type=int, metavar="N")
    sample.add_argument("--tolerate", required=True, metavar="SHARE", help="such as 10%%")
    sample.add_argument("--confidence", required=True, metavar="SHARE", help="such as 95%%")


def _replay_command(commands: _Commands) -> None:
    replay = _add(commands, "replay", "replay recorded trends against one category's limits")
    replay.add_argument("profile", metavar="PROFILE.json")
    replay.add_argument(
        "trends", metavar="TRENDS", nargs="*", help="CSV or Parquet, one or several"
    )
    replay.add_argument("--category", required=True, metavar="KEY")
    replay.add_argument("--circumstance", metavar="KEY", help="its settings over the category's")
    replay.add_argument(
        "--synthetic", type=int, metavar="N", help="N invented patients from published centiles"
    )
    replay.add_argument("--averaging", type=float, default=0, metavar="S", help="before the limit")
    replay.add_argument(
        "--hysteresis", type=int, default=0, metavar="STEPS", help="so far inside it ends"
    )
    replay.add_argument(
        "--acknowledged-after",
        type=float,
        metavar="S",
        help="latched alarms sound so long",
    )


def _bands_command(commands: _Commands) -> None:
    bands = _add(commands, "bands", "age bands and limits that cost least noise and silence")
    bands.add_argument("vital", metavar="VITAL")
    bands.add_argument("--profile", metavar="PROFILE.json", help="today's bands, and its models")
    bands.add_argument("--aim", choices=("worst", "mean"), default="worst", help="which month")
    bands.add_argument("--most", type=int, default=8, metavar="K", help="1 to 8 bands")
    bands.add_argument("--danger", type=float, default=10, metavar="POINTS", help="a silent unit")
    bands.add_argument("--caution", type=float, default=1, metavar="POINTS", help="a silent unit")
    bands.add_argument("--until", default="18 y", metavar="AGE", help="such as '16 y'")
    bands.add_argument("--reference", metavar="TABLE.csv", help="an own table of centiles")
    bands.add_argument("--bounds", metavar="BOUNDS.csv", help="own outer bounds")


_MODULES = {"export": "backup", "import": "restore", "range": "ranges"}


def _command(name: str) -> Callable[[argparse.Namespace], int]:
    module = importlib.import_module(f"app.cli.{_MODULES.get(name, name)}")
    command: Callable[[argparse.Namespace], int] = module.run
    return command


def run(arguments: Sequence[str] | None = None) -> NoReturn:
    """The entry point; exits with the command's code."""
    given = list(sys.argv[1:] if arguments is None else arguments)
    speak_utf8()
    try:
        parsed = build_parser().parse_args(given)
        code = _command(parsed.command)(parsed)
    except Refused as refused:
        print_refusal(refused.faults, json="--json" in given)
        code = REFUSED
    except MarchstoneError as error:
        print_refusal([Fault(error.message)], json="--json" in given)
        code = REFUSED
    except BrokenPipeError:
        sys.stderr.close()
        code = FAILED
    except Exception as error:
        print(f"marchstone failed: {type(error).__name__}: {error}", file=sys.stderr)
        code = FAILED
    sys.exit(code)


if __name__ == "__main__":
    run()
