"""`marchstone audit`: hold device readings against a profile."""

from argparse import Namespace
from datetime import UTC, datetime

from app.cli.check import load_profile
from app.cli.output import exit_code, opened, print_json
from app.domain.audit import Audit, audit
from app.domain.errors import Refused
from app.domain.intervals import at_most
from app.exchange.deviation_words import consequence
from app.exchange.reports_csv import read_reports
from app.exchange.result_json import audit_json


def run(arguments: Namespace) -> int:
    profile = load_profile(arguments.profile)
    with opened(arguments.readings) as file:
        rows = read_reports(file, profile, datetime.now(UTC))
    devices = len({row.device for row in rows})
    if arguments.fleet is not None and arguments.fleet < max(devices, 1):
        raise Refused.because(
            f"the file holds readings of {devices} devices", column="--fleet", value=arguments.fleet
        )
    result = audit(profile, rows, arguments.fleet)
    if arguments.json:
        print_json(audit_json(result))
    else:
        print(_told(result))
    return exit_code(found.deviation.severity for found in result.deviations)


def _told(result: Audit) -> str:
    lines = [f"fingerprint {result.fingerprint}", f"{result.readings} readings", ""]
    gravest = sorted(result.deviations, key=lambda found: found.deviation.severity.weight)
    for found in gravest:
        place = f"{found.device}, {found.state_read}, {found.preset}"
        lines.append(f"{found.deviation.severity.value.upper():<13}{place}: {consequence(found)}")
        detail = [found.deviation.direction.words, found.deviation.alarm, str(found.read_at)]
        lines.append(f"{'':<13}{' · '.join(detail + ([found.hint] if found.hint else []))}")
    if not gravest:
        lines.append("Nothing deviates from what was signed.")
    return "\n".join([*lines, "", *_conformity(result)])


def _conformity(result: Audit) -> list[str]:
    told = result.conformity
    judged = told.holds + told.differs
    lines = [f"{told.holds} hold · {told.differs} differ · {told.not_judged} not judged"]
    lines += [f"  {device}: {why}" for device, why in result.not_judged.items()]
    lines += [f"  {device}, power-on: {words}" for device, words in result.pauses.items()]
    if judged:
        lines.append(
            f"share that holds: {told.holds} of {judged} judged; with 95 % confidence "
            f"{told.share.low:.1%} to {told.share.high:.1%} ({told.share.method})"
        )
    if judged and told.fleet is not None:
        most = at_most(told.differs, judged, told.fleet)
        lines.append(f"with 95 % confidence at most {most} of {told.fleet} devices deviate")
    return lines
