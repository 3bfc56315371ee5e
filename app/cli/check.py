"""`marchstone check`: judge a profile by the rules."""

from argparse import Namespace
from pathlib import Path

from app.cli.output import exit_code, opened, print_json
from app.domain.centiles import References
from app.domain.default_bounds import DEFAULT_BOUNDS
from app.domain.findings import Finding, Severity
from app.domain.outer_bounds import OuterBounds
from app.domain.profiles import Profile
from app.domain.reference_ranges import with_own_table
from app.domain.rules import check
from app.exchange.bounds_csv import read_bounds
from app.exchange.profile_files import MOST_FILE_BYTES, read_profile_file
from app.exchange.reference_csv import read_reference
from app.exchange.result_json import check_json, counts_json


def run(arguments: Namespace) -> int:
    profile = load_profile(arguments.profile)
    bounds = bounds_from(arguments.bounds)
    findings = check(profile, references(arguments.reference), bounds)
    if arguments.json:
        print_json(check_json(profile.fingerprint, bounds.name, findings))
    else:
        print(_told(profile, bounds, findings))
    return exit_code(finding.severity for finding in findings)


def load_profile(name: str) -> Profile:
    with opened(name) as file:
        return read_profile_file(file.read(MOST_FILE_BYTES + 1)).profile


def references(name: str | None) -> References:
    if name is None:
        return with_own_table(None)
    with opened(name) as file:
        return with_own_table(read_reference(file, Path(name).name))


def bounds_from(name: str | None) -> OuterBounds:
    if name is None:
        return DEFAULT_BOUNDS
    with opened(name) as file:
        return read_bounds(file, Path(name).name)


def _told(profile: Profile, bounds: OuterBounds, findings: list[Finding]) -> str:
    counts = counts_json(findings)
    lines = [
        f"{profile.agency} · {profile.name} · revision {profile.revision}",
        f"fingerprint {profile.fingerprint}",
        f"outer bounds: {bounds.name}",
        "",
    ]
    for severity in Severity:
        lines += [_finding(finding) for finding in findings if finding.severity is severity]
    if not findings:
        lines.append("The rules find nothing.")
    lines.append("")
    lines.append(" · ".join(f"{count} {severity}" for severity, count in counts.items()))
    lines.append("This agency's policy, no advice for a patient; local protocol rules.")
    return "\n".join(lines)


def _finding(finding: Finding) -> str:
    return (
        f"{finding.severity.value.upper():<13}{finding.message}\n"
        f"{'':<13}{finding.rule} · {finding.source}"
    )
