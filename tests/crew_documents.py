"""What only the look-up needs: a circumstance, a model of coarse steps, a withdrawn revision."""

from datetime import datetime
from typing import Any

from sqlmodel import Session

from app.actions.revisions import move_revision
from app.domain.moves import RevisionStatus
from app.domain.people import Role
from tests.builders import a_person

OXYGEN = {
    "key": "on-oxygen",
    "label": "On oxygen",
    "applies_to": ["neonate"],
    "settings": {
        "spo2-high": {
            "state": "on",
            "limit": 94,
            "priority": "medium",
            "delay_s": 0,
            "latching": False,
            "reason": "Too much oxygen harms the newborn",
            "source": "common practice",
        }
    },
}
PETREL: dict[str, Any] = {
    "presets": {
        "SMALL": {"carries": "infant", "serves": ["neonate", "infant", "preschool"]},
        "MIDDLE": {"carries": "school", "serves": ["school"]},
        "LARGE": {"carries": "adult", "serves": ["adult"]},
    },
    "grid": {"heart-rate-high": {"from": 20, "to": 240, "step": 20}},
}


def withdrawn(tx: Session, *, number: int = 1, now: datetime) -> None:
    move_revision(
        tx,
        number=number,
        to=RevisionStatus.WITHDRAWN,
        by=a_person(tx, Role.MEDICAL_DIRECTOR),
        now=now,
        note="a wrong limit",
    )
