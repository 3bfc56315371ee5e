"""The invented fleet over three months: who read what and when, and what came of the findings."""

import random
from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from typing import Any

from app.actions.findings import move_finding
from app.demo.people import Staff
from app.demo.policy import Event
from app.demo.rounds import Visit, record, record_options
from app.demo.stations import DEVICES
from app.demo.stories import STORIES, Step, Story
from app.domain.finding_life import LIFE, FindingStatus
from app.domain.people import Person, Role
from app.lookups.findings import findings

SEED = 20_110_315
_READERS = (Role.FLEET_MANAGER, Role.TECHNICIAN, Role.CREW)
_DAY, _HOUR, _MINUTE = timedelta(days=1), timedelta(hours=1), timedelta(minutes=1)
_BEFORE_LAST = 72, 92  # days ago, while revision 1 was in force
_LAST = 3, 58


def fleet_events(tx: Any, staff: Staff) -> Iterator[Event]:
    dice = random.Random(SEED)  # noqa: S311 - the same demo every time, nothing secret
    for device in DEVICES:
        story = STORIES.get(device.tag, Story())
        read = story.read
        if read is None:
            read = (dice.randrange(*_BEFORE_LAST), dice.randrange(*_LAST))
        for days_ago in read:
            last = days_ago == min(read)
            trigger = "check round" if last else "spot check"
            if last and story.software:
                trigger = "software update"
            visit = Visit(device, story, days_ago, last, trigger)
            yield from _told(tx, staff, visit, dice)


def _told(tx: Any, staff: Staff, visit: Visit, dice: random.Random) -> Iterator[Event]:
    """A few minutes a preset; then, after the last reading, the life of what it found."""
    reader = staff[dice.choice(_READERS)]
    before = visit.days_ago * _DAY - dice.randrange(7, 19) * _HOUR
    for rendered in visit.presets:
        yield before, _happens(record, tx, visit, rendered, reader)
        before -= dice.randrange(3, 7) * _MINUTE
    if visit.last and not visit.story.only:
        yield before, _happens(record_options, tx, visit, reader)
    if visit.last:
        for step in visit.story.life:
            yield from _step(tx, staff, visit, step, before - step.hours * _HOUR)


def _step(tx: Any, staff: Staff, visit: Visit, step: Step, before: timedelta) -> Iterator[Event]:
    if step.to is FindingStatus.VERIFIED:
        again = Visit(visit.device, visit.story, before / _DAY, last=False, trigger="verification")
        for rendered in again.presets:
            yield before + 10 * _MINUTE, _happens(record, tx, again, rendered, staff[step.by])
    yield before, _happens(_move, tx, visit.device.tag, step, staff[step.by])


def _happens(deed: Callable[..., None], *told: Any) -> Callable[[datetime], None]:
    return lambda now: deed(*told, now)


def _move(tx: Any, tag: str, step: Step, by: Person, now: datetime) -> None:
    for page in findings(tx, agency_id=by.agency_id, now=now, device=tag):
        if step.to in LIFE[page.finding.status]:
            move_finding(
                tx,
                finding_id=page.finding.id,
                to=step.to,
                by=by,
                now=now,
                note=step.note,
                details=step.details,
            )
