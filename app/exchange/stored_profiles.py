"""Profiles out of the database: they parsed when they were stored, and they never change."""

import json
from functools import lru_cache

from app.domain.profiles import Profile
from app.exchange.profile_json import kept_profile


@lru_cache(maxsize=32)
def stored_profile(document: str) -> Profile:
    return kept_profile(json.loads(document))
