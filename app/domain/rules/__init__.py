"""What is wrong with a policy, judged by rules: one file a family, one entry a rule."""

from collections.abc import Iterator

from app.domain.centiles import References
from app.domain.default_bounds import DEFAULT_BOUNDS
from app.domain.findings import Finding, gravest_first
from app.domain.outer_bounds import OuterBounds
from app.domain.profiles import Profile
from app.domain.reference_ranges import PUBLISHED
from app.domain.rules.arrival import ARRIVAL_ALARM
from app.domain.rules.life_threats import LIFE_THREAT_OFF
from app.domain.rules.limits import LIMIT_IMPLAUSIBLE, LIMIT_ORDER
from app.domain.rules.rule import Question, Rule
from app.domain.rules.scheme import CATEGORY_GAP, CATEGORY_OVERLAP
from app.domain.rules.silent_gap import SILENT_GAP
from app.domain.rules.statements import ALARM_UNSTATED, blanks

__all__ = ["RULES", "Question", "Rule", "blanks", "check", "questions"]

RULES: tuple[Rule, ...] = (
    CATEGORY_GAP,
    CATEGORY_OVERLAP,
    LIMIT_ORDER,
    SILENT_GAP,
    LIFE_THREAT_OFF,
    LIMIT_IMPLAUSIBLE,
    ARRIVAL_ALARM,
    ALARM_UNSTATED,
)


def check(
    profile: Profile, references: References = PUBLISHED, bounds: OuterBounds = DEFAULT_BOUNDS
) -> list[Finding]:
    """Everything the rules find, gravest first."""
    found = [
        finding for rule in RULES if rule.ask_profile for finding in rule.ask_profile(rule, profile)
    ]
    for question in questions(profile, references, bounds):
        found += [finding for rule in RULES if rule.ask for finding in rule.ask(rule, question)]
    return gravest_first(found)


def questions(
    profile: Profile, references: References = PUBLISHED, bounds: OuterBounds = DEFAULT_BOUNDS
) -> Iterator[Question]:
    """Each category as it stands, then under each circumstance that applies to it."""
    for category in profile.categories:
        settings = profile.of_category(category.key)
        yield Question(profile, category, settings, references, bounds)
        for circumstance in profile.circumstances:
            if category.key in circumstance.applies_to:
                yield Question(
                    profile,
                    category,
                    profile.overlaid(category.key, circumstance),
                    references,
                    bounds,
                    circumstance.key,
                    frozenset(circumstance.settings),
                )
