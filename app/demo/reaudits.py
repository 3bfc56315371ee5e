"""The fleet held against the revision and the bounds of today, so that nobody is asked to."""

from collections.abc import Iterator
from datetime import timedelta
from typing import Any

from app.actions.reaudits import reaudit
from app.demo.people import Staff
from app.demo.policy import Event
from app.domain.people import Role


def reaudit_events(tx: Any, staff: Staff) -> Iterator[Event]:
    yield timedelta(0), lambda now: reaudit(tx, by=staff[Role.FLEET_MANAGER], now=now)
