"""`marchstone restore` and `marchstone import`: a file of either kind, back into a service."""

from argparse import Namespace
from datetime import UTC, datetime
from pathlib import Path

from app.cli import house
from app.cli.output import FINE, FOUND, print_json
from app.domain.backups import Backup


def run(arguments: Namespace) -> int:
    upkeep, settings, now = house.upkeep(), house.settings(), datetime.now(UTC)
    bring = upkeep.import_agency if arguments.command == "import" else upkeep.restore
    backup, proof = bring(settings, Path(arguments.file), now=now)
    if arguments.json:
        print_json({"taken_at": backup.taken_at.isoformat(), "holds": proof.holds})
    else:
        print(_told(backup, proof))
    return FINE if proof.holds else FOUND


def _told(backup: Backup, proof: house.LedgerProof) -> str:
    what = "Everything" if backup.agency is None else f"The agency {backup.agency}"
    lines = [f"{what} is back as it was at {backup.taken_at:%Y-%m-%d %H:%M} UTC."]
    lines += [f"{key}: {chain.why}" for key, chain in proof.chains.items() if not chain.holds]
    lines.append("The ledger holds." if proof.holds else "The ledger is broken, as it was then.")
    if backup.agency is None:
        lines.append("What was signed or read since is not in it: ask for it at the stations.")
    return "\n".join(lines)
