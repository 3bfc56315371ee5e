"""A deviation or rule result that someone must act on."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from app.domain.ages import AgeSpan


class Severity(StrEnum):
    UNSAFE = "unsafe"
    OFF_PROTOCOL = "off-protocol"
    NOTE = "note"

    @property
    def weight(self) -> int:
        """0 is the gravest."""
        return ("unsafe", "off-protocol", "note").index(self.value)


@dataclass(frozen=True)
class Finding:
    """What a rule found; `ages` None where the finding holds for the whole category or none."""

    rule: str
    severity: Severity
    category: str | None
    alarms: tuple[str, ...]
    ages: AgeSpan | None
    message: str
    source: str
    measured: Mapping[str, object] = field(default_factory=dict)


def gravest_first(findings: Iterable[Finding]) -> list[Finding]:
    return sorted(findings, key=lambda finding: finding.severity.weight)
