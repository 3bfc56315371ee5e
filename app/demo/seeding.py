"""An invented agency from its first day to today, through the same actions as a real one."""

from datetime import UTC, date, datetime, time, timedelta
from typing import Any

from app.demo.finding_words import finding_events
from app.demo.fleet import fleet_events
from app.demo.looks import look_events
from app.demo.people import KEY, hire
from app.demo.policy import policy_events
from app.demo.reaudits import reaudit_events
from app.demo.register import register_events
from app.demo.shifts import shift_events
from app.demo.trends import trend_events
from app.domain.errors import NotFound, NotNow
from app.lookups.agencies import agency, needs_setup

HIRED = timedelta(days=420)


def seed(tx: Any, *, today: date) -> bool:
    """False if the demo is there already: nothing is changed then.

    Everything in the one transaction of the caller, so there is never half a demo. Raises NotNow
    where the database holds anything else: invented data never stand beside real ones.
    """
    if _is_there(tx):
        return False
    if not needs_setup(tx):
        raise NotNow("This folder holds the data of a real service. Choose another with --data.")
    morning = datetime.combine(today, time(), UTC)
    staff = hire(tx, now=morning - HIRED)
    events = [
        *policy_events(tx, staff),
        *register_events(tx, staff),
        *fleet_events(tx, staff),
        *look_events(tx, staff),
        *finding_events(tx, staff),
        *shift_events(tx, staff),
        *trend_events(tx, staff),
        *reaudit_events(tx, staff),
    ]
    for before, happen in sorted(events, key=lambda event: event[0], reverse=True):
        happen(morning - before)
    return True


def _is_there(tx: Any) -> bool:
    try:
        agency(tx, key=KEY)
    except NotFound:
        return False
    return True
