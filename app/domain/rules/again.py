"""A policy judged again after a change: only what the change touches is asked about."""

from collections.abc import Iterator, Sequence

from app.domain.centiles import References
from app.domain.default_bounds import DEFAULT_BOUNDS
from app.domain.findings import Finding, gravest_first
from app.domain.outer_bounds import OuterBounds
from app.domain.profiles import Profile
from app.domain.reference_ranges import PUBLISHED
from app.domain.rules import RULES, ask, ask_profile, check, questions_about


def check_again(
    was: Profile,
    found: Sequence[Finding],
    now: Profile,
    references: References = PUBLISHED,
    bounds: OuterBounds = DEFAULT_BOUNDS,
) -> list[Finding]:
    """As `check` of `now`; `found` is what it found in `was`, by the same references and bounds."""
    if _whole(was) != _whole(now):
        return check(now, references, bounds)
    touched = set(_touched(was, now))
    whole = {rule.key for rule in RULES if rule.ask_profile}
    again = ask_profile(now)
    for category in now.categories:
        if category.key in touched:
            for question in questions_about(now, category, references, bounds):
                again += ask(question)
        else:
            again += [f for f in found if f.category == category.key and f.rule not in whole]
    return gravest_first(again)


def _whole(profile: Profile) -> tuple[object, ...]:
    """What every category is judged with."""
    return profile.categories, profile.circumstances, profile.options, profile.models


def _touched(was: Profile, now: Profile) -> Iterator[str]:
    """Whatever changed, and whatever a device's preset serves with the values of that."""
    changed = {
        category.key
        for category in now.categories
        if was.of_category(category.key) != now.of_category(category.key)
    }
    yield from changed
    for model in now.models.values():
        for preset in model.presets:
            if preset.carries in changed:
                yield from preset.serves
