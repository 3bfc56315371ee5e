"""`marchstone selftest`: is this installation fit to work?"""

from argparse import Namespace
from collections.abc import Sequence
from datetime import UTC, datetime

from app.cli import house
from app.cli.output import FINE, FOUND, print_json
from app.domain.selftest import Check, Verdict, selftest


def run(arguments: Namespace) -> int:
    """Exit 1 for what is wrong; what wants a look is told and is no failure."""
    checks = selftest(house.upkeep().observed(house.settings(), now=datetime.now(UTC)))
    if arguments.json:
        print_json({"checks": [_json(check) for check in checks]})
    else:
        print(_told(checks))
    return FOUND if any(check.verdict is Verdict.WRONG for check in checks) else FINE


def _json(check: Check) -> dict[str, str]:
    return {**vars(check), "verdict": check.verdict.value}


def _told(checks: Sequence[Check]) -> str:
    lines = []
    for check in checks:
        lines.append(f"{check.verdict.value:6}{check.name:12}{check.says}")
        if check.advice:
            lines.append(f"{'':18}{check.advice}")
    return "\n".join(lines)
