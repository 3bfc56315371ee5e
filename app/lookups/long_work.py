"""What was asked for outside requests, and what became of it."""

from datetime import datetime
from typing import Any

from sqlmodel import Session

from app.domain.errors import NotFound
from app.domain.long_work import LongWork, WorkKind
from app.domain.people import Person
from app.domain.permissions import Deed, may
from app.storage import devices, long_work, work_queue

MOST_LISTED = 50
DEED_OF = {
    WorkKind.LOOK: Deed.UPLOAD_READINGS,
    WorkKind.TAKE_IN: Deed.UPLOAD_READINGS,
    WorkKind.REAUDIT: Deed.REAUDIT,
}
"""Who may do it may see what became of it."""
QUEUE, TASK = work_queue.QUEUE, work_queue.TASK


def work_seen_by(tx: Session, *, number: int, person: Person) -> LongWork:
    """Raises NotFound, also for work of another agency or of a kind that is not theirs."""
    found = long_work.work_by_id(tx, number)
    if found is None or found.agency_id != person.agency_id or not _may_see(person, found):
        raise NotFound("There is no such work.")
    return found


def all_work_seen_by(tx: Session, *, person: Person) -> list[LongWork]:
    """The newest first."""
    found = long_work.work_of_agency(tx, person.agency_id, most=MOST_LISTED)
    return [one for one in found if _may_see(person, one)]


def _may_see(person: Person, work: LongWork) -> bool:
    theirs = work.asked_by == person.id or not work.kind.private
    return theirs and may(person, DEED_OF[work.kind])


def last_look_of(tx: Session, *, person: Person) -> LongWork:
    """The newest look at a file that this person asked for. Raises NotFound."""
    for work in all_work_seen_by(tx, person=person):
        if work.kind is WorkKind.LOOK:
            return work
    raise NotFound("There is no such work.")


def unfinished(tx: Session) -> list[int]:
    """Of every agency, the oldest first."""
    return long_work.unfinished(tx)


def fleet_size(tx: Session, *, agency_id: int) -> int:
    return sum(devices.count_by_place(tx, agency_id).values())


def waiting_since(tx: Session) -> datetime | None:
    return long_work.oldest_waiting(tx)


def queue_connection(url: str) -> dict[str, Any]:
    """How a process reaches the queue of a PostgreSQL database."""
    options = f"-c search_path={work_queue.PATH.replace(' ', '')}"
    return {"conninfo": work_queue.conninfo_of(url), "kwargs": {"options": options}}
