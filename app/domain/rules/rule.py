"""What a rule is, and what it is asked about."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import cached_property

from app.domain.ages import AgeSpan
from app.domain.centiles import References
from app.domain.findings import Finding, Severity
from app.domain.outer_bounds import OuterBounds
from app.domain.patient_categories import PatientCategory
from app.domain.profiles import Profile, Settings
from app.domain.rules.stated import stated
from app.domain.settings_of_alarms import On
from app.domain.silence import SPO2_AVERAGING, Watch

COMMON_PRACTICE = "common practice"


def in_words(names: Sequence[str]) -> str:
    """`a`, `a and b`, `a, b and c`."""
    return " and ".join(filter(None, (", ".join(names[:-1]), *names[-1:])))


@dataclass(frozen=True)
class Question:
    """One category's settings, plain or under one circumstance."""

    profile: Profile
    category: PatientCategory
    settings: Settings
    references: References
    bounds: OuterBounds
    circumstance: str | None = None
    changed: frozenset[str] | None = None  # the alarms a circumstance names; None: all
    preset: str | None = None  # of which models, where it lends another category's values

    def on(self, alarm: str) -> On | None:
        setting = self.settings.get(alarm)
        return setting if isinstance(setting, On) else None

    def asks_about(self, *alarms: str) -> bool:
        return self.changed is None or not self.changed.isdisjoint(alarms)

    @property
    def where(self) -> str:
        """The category as people know it, with the circumstance or the device's preset."""
        parts = (self.category.label, self.circumstance, self.preset and f"on {self.preset}")
        return ", ".join(part for part in parts if part)

    @cached_property
    def watch(self) -> Watch:
        fitted = {alarm for model in self.profile.models.values() for alarm in model.grid}
        averaging = self.profile.number_option(SPO2_AVERAGING) or Decimal(0)
        return Watch(self.settings, self.bounds, self.circumstance, averaging, frozenset(fitted))


@dataclass(frozen=True)
class Rule:
    """`sentence` says what is wrong when the rule finds something; a test holds each to a row."""

    key: str
    sentence: str
    severity: Severity
    source: str
    ask: Callable[["Rule", Question], Iterator[Finding]] | None = None
    ask_profile: Callable[["Rule", Profile], Iterator[Finding]] | None = None
    by_age: bool = False  # whether the answer depends on which ages the settings are used for

    def finding(
        self,
        question: Question,
        alarms: tuple[str, ...],
        message: str,
        *,
        severity: Severity | None = None,
        ages: AgeSpan | None = None,
        measured: dict[str, object] | None = None,
        source: str | None = None,
        beside: tuple[str, ...] = (),
    ) -> Finding:
        """`beside`: alarms whose settings decide how grave it is, though it is not about them."""
        told = dict(measured or {})
        grave = severity or self.severity
        if grave is Severity.UNSAFE:
            told |= _waivable(question, (*alarms, *beside), ages)
        if question.circumstance:
            told["circumstance"] = question.circumstance
        if question.preset:
            told["preset"] = question.preset
        return Finding(
            rule=self.key,
            severity=grave,
            category=question.category.key,
            alarms=alarms,
            ages=ages,
            message=f"{question.where}: {message}",
            source=source or self.source,
            measured=told,
        )


def _waivable(
    question: Question, alarms: tuple[str, ...], ages: AgeSpan | None
) -> dict[str, object]:
    """What a waiver is bound to beside the rule's own measures: the settings themselves, and
    whom they are for. Whoever edits either must ask for the waiver anew."""
    settings = {
        alarm: stated(question.settings[alarm]) for alarm in alarms if alarm in question.settings
    }
    told: dict[str, object] = {"settings": settings}
    if ages is None:
        told["category_ages"] = question.category.span.words()
    return told
