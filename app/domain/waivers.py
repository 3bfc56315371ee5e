"""An unsafe finding that the medical director accepts for a time, with a reason.

A waiver belongs to one revision and to exactly one finding: what a rule finds at which place, and
what it measures there. Whoever edits the place changes the finding, and the waiver is void.
"""

from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from hashlib import sha256
from typing import Any

import rfc8785

from app.domain.errors import Refused
from app.domain.findings import Finding, Severity
from app.domain.local_days import day_words, years_later

LONGEST_YEARS = 3  # as the review of the revision it stands in


@dataclass(frozen=True)
class Waiver:
    """`finding` is the key of what it waives; the rest tells it as it was found.

    `until` is the last day on which it holds, of the agency's zone.
    """

    finding: str
    rule: str
    category: str | None
    alarms: tuple[str, ...]
    circumstance: str
    ages: str
    message: str
    reason: str
    by_name: str
    waived_at: datetime
    until: date

    def holds_on(self, day: date) -> bool:
        return day <= self.until

    @property
    def mark(self) -> str:
        """For a narrow place; the reason stands where there is room."""
        return f"Waived by {self.by_name} until {day_words(self.until)}"

    @property
    def words(self) -> str:
        return f"{self.mark}: {self.reason}"

    def words_on(self, day: date) -> str:
        """Once it has ended the limit stands there unwaived, and still holds."""
        if self.holds_on(day):
            return self.words
        ended = day_words(self.until)
        return f"Its waiver by {self.by_name} ended on {ended}; the limit still holds."


@dataclass(frozen=True)
class UnsafeFinding:
    finding: Finding
    key: str
    waiver: Waiver | None

    def is_waived_on(self, day: date) -> bool:
        return self.waiver is not None and self.waiver.holds_on(day)


def finding_key(finding: Finding) -> str:
    """SHA-256 of everything that makes it this finding; its words and its source do not.

    A circumstance or a device's preset is among what was measured.
    """
    made_of: dict[str, Any] = {
        "rule": finding.rule,
        "category": finding.category,
        "alarms": list(finding.alarms),
        "ages": None if finding.ages is None else finding.ages.words(),
        "measured": dict(finding.measured),
    }
    return sha256(rfc8785.dumps(made_of)).hexdigest()


def unsafe_findings(
    findings: Iterable[Finding], waivers: Iterable[Waiver]
) -> tuple[UnsafeFinding, ...]:
    """Each with the waiver that covers it, also one that has ended."""
    held = {waiver.finding: waiver for waiver in waivers}
    return tuple(
        UnsafeFinding(finding, key, held.get(key))
        for finding in findings
        if finding.severity is Severity.UNSAFE
        for key in [finding_key(finding)]
    )


def void_waivers(unsafe: Sequence[UnsafeFinding], waivers: Iterable[Waiver]) -> tuple[Waiver, ...]:
    """Those whose finding is no longer there as it was waived."""
    found = {one.key for one in unsafe}
    return tuple(waiver for waiver in waivers if waiver.finding not in found)


def waived_at(
    waivers: Iterable[Waiver], category: str, alarm: str, circumstance: str | None = None
) -> Iterator[Waiver]:
    """Those that concern one alarm of a category; under a circumstance its own as well."""
    for waiver in waivers:
        concerned = waiver.category in (category, None) and alarm in waiver.alarms
        if concerned and waiver.circumstance in ("", circumstance):
            yield waiver


def waived_among(
    waivers: Iterable[Waiver], categories: Collection[str], alarm: str
) -> tuple[Waiver, ...]:
    """Those that concern one alarm of a preset, which serves these categories."""
    return tuple(
        waiver
        for waiver in waivers
        if alarm in waiver.alarms
        and not waiver.circumstance
        and (waiver.category is None or waiver.category in categories)
    )


def check_until(until: date, *, today: date) -> None:
    if until <= today:
        raise Refused.because("choose a day after today", column="until")
    if until > years_later(today, LONGEST_YEARS):
        raise Refused.because(f"choose a day within {LONGEST_YEARS} years", column="until")
