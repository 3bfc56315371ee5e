"""Waivers on paper: listed once, and named wherever the limit stands that they concern."""

from collections.abc import Iterable
from datetime import date
from typing import Any

from app.domain.findings import Finding, Severity
from app.domain.local_days import day_words
from app.domain.waivers import Waiver, finding_key, waived_at
from app.exchange import paper_words as words

Data = dict[str, Any]


class Waived:
    """The waivers of one revision, W1 being the first that was given."""

    def __init__(self, waivers: Iterable[Waiver]) -> None:
        self._waivers = tuple(waivers)
        self._names = {one.finding: f"W{n}" for n, one in enumerate(self._waivers, start=1)}

    def at(self, categories: Iterable[str], alarm: str, circumstance: str | None = None) -> str:
        """The names of those that concern an alarm; empty where none does."""
        found = {
            waiver.finding
            for category in categories
            for waiver in waived_at(self._waivers, category, alarm, circumstance)
        }
        return " ".join(name for key, name in self._names.items() if key in found)

    def of(self, finding: Finding) -> str:
        if finding.severity is not Severity.UNSAFE:
            return ""
        return self._names.get(finding_key(finding), "")

    def listed(self, *, today: date, zone: str) -> list[Data]:
        return [
            {
                "name": self._names[one.finding],
                "message": one.message,
                "reason": one.reason,
                "by": one.by_name,
                "at": words.moment(one.waived_at, zone),
                "until": day_words(one.until),
                "ended": not one.holds_on(today),
            }
            for one in self._waivers
        ]
