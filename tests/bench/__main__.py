"""`python -m tests.bench`: how fast, as ratios against floors and peers of the same run.

Absolute times mean nothing on shared machines. A bench is no test and fails none; it refuses to
print a ratio when the two sides' answers differ.
"""

import argparse
import json
import os
import platform
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path

from tests.bench import (
    advising,
    curving,
    desk,
    dragging,
    holding,
    holding_stored,
    looking_up,
    printing,
    recheck,
    recording_in,
    replaying,
    taking_in,
)
from tests.bench.contests import LEAST_TURNS, Contest, Line, hold

REFUSED = "refused: answers differ"


def main() -> None:
    options = _options()
    lines: list[Line] = []
    for contest in _contests(options):
        lines += hold(contest, options.turns)
    if options.only in looking_up.NAME:
        lines += looking_up.lines(options.turns)
    if options.only in dragging.NAME:
        lines += dragging.lines(options.turns)
    print(table(lines))
    options.json.write_text(json.dumps(_record(options, lines), indent=2) + "\n")
    print(f"\nwritten to {options.json}")


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__)
    parser.add_argument("--turns", type=int, default=LEAST_TURNS, help="medians of how many")
    parser.add_argument("--samples", type=int, default=1_000_000, help="length of the trends")
    parser.add_argument("--only", default="", metavar="WORDS", help="benches whose name has them")
    parser.add_argument("--json", type=Path, default=Path("bench.json"), metavar="FILE")
    return parser.parse_args()


def _contests(options: argparse.Namespace) -> list[Contest]:
    every = [
        recheck.contest(),
        *desk.contests(),
        *(replaying.contest(n) for n in _wanted(options, replaying.NAME)),
        *(recording_in.contest(n) for n in _wanted(options, recording_in.NAME)),
        *(one for n in _wanted(options, curving.NAMES) for one in curving.contests(n)),
        advising.contest(),
        printing.contest(),
        *(holding.contest(devices) for devices in holding.DEVICES),
        *(holding_stored.contest(devices) for devices in holding_stored.DEVICES),
        *(taking_in.contest(readings) for readings in taking_in.READINGS),
        *(holding_stored.wall(devices) for devices in holding_stored.WALLS),
        *(holding_stored.changeover(devices) for devices in holding_stored.WALLS),
    ]
    return [contest for contest in every if options.only in contest.name]


def _wanted(options: argparse.Namespace, names: str) -> list[int]:
    """How many samples: long trends are only made where somebody asks for them."""
    return [options.samples] if options.only in names else []


def _record(options: argparse.Namespace, lines: Sequence[Line]) -> dict[str, object]:
    return {
        "python": platform.python_version(),
        "machine": f"{platform.machine()}, {os.cpu_count()} cores",
        "turns": max(options.turns, LEAST_TURNS),
        "lines": [asdict(line) for line in lines],
    }


def table(lines: Sequence[Line]) -> str:
    head = ("what", "size", "ours, ms", "against", "theirs, ms", "ratio", "target")
    body = [
        (
            line.contest,
            line.size,
            f"{line.ours_ms:.3g}",
            line.against,
            f"{line.theirs_ms:.3g}",
            REFUSED if line.ratio is None else f"{line.ratio:.3g}",
            line.target,
        )
        for line in lines
    ]
    widths = [max(len(row[i]) for row in (head, *body)) for i in range(len(head))]
    return "\n".join(
        "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()
        for row in (head, *body)
    )


if __name__ == "__main__":
    main()
