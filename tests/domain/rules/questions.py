"""A profile of one category from settings in words, and what one rule says of it."""

import json
from typing import Any

from app.domain.default_bounds import DEFAULT_BOUNDS
from app.domain.findings import Finding
from app.domain.outer_bounds import OuterBounds
from app.domain.profiles import Profile
from app.domain.reference_ranges import PUBLISHED
from app.domain.rules import check
from app.exchange.profile_json import parse_profile
from tests.worked_profiles import document


def profile_of(
    settings: dict[str, Any], ages: tuple[str, str | None] = ("5 y", "8 y"), **more: Any
) -> Profile:
    return parse_profile(json.dumps(document({"child": (*ages, settings)}, **more)))


def found_by(rule: str, profile: Profile, bounds: OuterBounds = DEFAULT_BOUNDS) -> list[Finding]:
    return [finding for finding in check(profile, PUBLISHED, bounds) if finding.rule == rule]


OFF = {"state": "off", "reason": "artefact"}
NOT_FITTED = {"state": "not-fitted"}
NO_POLICY = {"state": "no-policy"}
