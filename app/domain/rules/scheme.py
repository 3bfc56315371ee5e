"""Whether every age reaches exactly one category."""

from collections.abc import Iterator

from app.domain.findings import Finding, Severity
from app.domain.patient_categories import SchemeFault, prove_scheme
from app.domain.profiles import Profile
from app.domain.rules.rule import COMMON_PRACTICE, Rule


def _ask_gap(rule: Rule, profile: Profile) -> Iterator[Finding]:
    for fault in _faults(profile, "gap"):
        yield _finding(rule, fault, f"Age {fault.span} reaches no category and so no limits.")


def _ask_overlap(rule: Rule, profile: Profile) -> Iterator[Finding]:
    for fault in _faults(profile, "overlap"):
        names = " and ".join(fault.keys)
        yield _finding(rule, fault, f"Age {fault.span} reaches {names}: which limits hold?")


def _faults(profile: Profile, kind: str) -> list[SchemeFault]:
    return [fault for fault in prove_scheme(profile.categories) if fault.kind == kind]


def _finding(rule: Rule, fault: SchemeFault, message: str) -> Finding:
    category = fault.keys[0] if fault.keys else None
    measured: dict[str, object] = {"categories": list(fault.keys)}
    return Finding(
        rule.key, rule.severity, category, (), fault.span, message, rule.source, measured
    )


CATEGORY_GAP = Rule(
    "category-gap",
    "Some age reaches no patient category.",
    Severity.UNSAFE,
    COMMON_PRACTICE,
    ask_profile=_ask_gap,
)
CATEGORY_OVERLAP = Rule(
    "category-overlap",
    "Some age reaches more than one patient category.",
    Severity.UNSAFE,
    COMMON_PRACTICE,
    ask_profile=_ask_overlap,
)
