"""Outer bounds of an agency's own: the default with one row made stricter, drafted or adopted."""

from datetime import datetime
from typing import Any

from sqlmodel import Session

from app.actions.outer_bounds import draft_bounds, sign_bounds
from app.domain.bounds_versions import BoundsVersion
from app.domain.default_bounds import DEFAULT_BOUNDS
from app.domain.people import Role
from app.exchange.bounds_csv import write_bounds
from tests.builders import NOW, PASSWORD, a_person

DEFAULT = write_bounds(DEFAULT_BOUNDS)
ROW = "heart-rate,1 y,5 y,,high,180,danger,"
STRICTER = DEFAULT.replace(ROW, "heart-rate,1 y,5 y,,high,170,danger,")
"""A heart rate above 170 at 1 to 5 years is danger; by the default that is caution only."""
LOOSER = DEFAULT.replace(ROW, "heart-rate,1 y,5 y,,high,230,danger,")


def drafted_bounds(tx: Session, text: str = STRICTER) -> BoundsVersion:
    return draft_bounds(tx, text=text, by=a_person(tx, Role.AUTHOR), now=NOW)


def adopted_bounds(
    tx: Session, text: str = STRICTER, *, now: datetime = NOW, **instead: Any
) -> BoundsVersion:
    """In force at once, unless `in_force_at` is given."""
    drafted = drafted_bounds(tx, text)
    return signed(tx, drafted, now=now, **instead)


def signed(tx: Session, drafted: BoundsVersion, **instead: Any) -> BoundsVersion:
    wanted: dict[str, Any] = {
        "number": drafted.number,
        "fingerprint": drafted.fingerprint,
        "meaning": "These are our outer bounds.",
        "password": PASSWORD,
        "by": a_person(tx, Role.MEDICAL_DIRECTOR),
        "now": NOW,
    }
    return sign_bounds(tx, **(wanted | instead))
