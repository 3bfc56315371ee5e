"""`marchstone backup` and `marchstone export`: everything, or one agency, in one file."""

from argparse import Namespace
from datetime import UTC, datetime
from pathlib import Path

from app.cli import house
from app.cli.output import FINE, FOUND, print_json


def run(arguments: Namespace) -> int:
    kept = _kept(arguments, datetime.now(UTC))
    if arguments.json:
        print_json(_json(kept))
    else:
        print(_told(kept))
    return FINE if kept.told else FOUND


def _kept(arguments: Namespace, now: datetime) -> house.Kept:
    upkeep, settings = house.upkeep(), house.settings()
    if arguments.command == "export":
        return upkeep.export_agency(settings, arguments.agency, Path(arguments.file), now=now)
    return upkeep.back_up(settings, Path(arguments.file) if arguments.file else None, now=now)


def _json(kept: house.Kept) -> dict[str, object]:
    return {
        "file": str(kept.file),
        "taken_at": kept.backup.taken_at.isoformat(),
        "schema": kept.backup.schema,
        "agency": kept.backup.agency,
        "sha256": kept.sha256,
        "heads": {key: head for key, (_, head) in kept.backup.heads.items()},
        "told_in_ledger": kept.told,
    }


def _told(kept: house.Kept) -> str:
    lines = [f"{kept.file} is whole. SHA-256 of its data: {kept.sha256}"]
    for key, (seq, head) in sorted(kept.backup.heads.items()):
        name = "the installation" if key == "*" else key
        lines.append(f"{name}: {seq} entries, head {head}")
    lines.append("Keep the heads apart from the file: marchstone prove --head HASH asks for them.")
    if not kept.told:
        lines.append("The ledger could not take a note of it: run marchstone selftest.")
    return "\n".join(lines)
