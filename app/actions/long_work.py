"""Work that takes too long for a request: asked for here, done by a process of its own.

What is asked for is no change yet; what the work changes stands in the ledger when it is done.
"""

from dataclasses import dataclass
from datetime import datetime
from typing import Any, BinaryIO

from sqlmodel import Session

from app.actions.report_files import HELD_NO_LONGER, KEPT, held_upload, hold_packed
from app.domain.errors import Conflict, NotNow
from app.domain.long_work import (
    INTERRUPTED,
    LARGEST_AT_ONCE,
    LARGEST_SHEET_AT_ONCE,
    MOST_TRIES,
    Failure,
    WorkKind,
    WorkState,
)
from app.domain.people import Person
from app.domain.permissions import Deed, check_may
from app.storage import long_work, pending_uploads, work_queue
from app.storage.packed_files import packed, unpacked

_ZIP = b"PK"


@dataclass(frozen=True)
class Begun:
    """`attempt`: which try it is; whoever begins it later is the one to do it."""

    number: int
    attempt: int
    kind: WorkKind
    about: dict[str, Any]


def is_long(content: BinaryIO) -> bool:
    """Too long for a request. It is at its beginning afterwards."""
    content.seek(0)
    most = LARGEST_SHEET_AT_ONCE if content.read(2) == _ZIP else LARGEST_AT_ONCE
    found = len(content.read(most))
    content.seek(0)
    return found >= most


def pack(content: BinaryIO) -> bytes:
    """Before anything is locked: it takes a while."""
    return packed(content)


def ask_to_take(tx: Session, *, content: bytes, fingerprint: str, by: Person, now: datetime) -> int:
    """A file that a program sent, as `pack` made it; whole or not at all."""
    check_may(by, Deed.UPLOAD_READINGS)
    about = {"fingerprint": fingerprint, "good_rows": False}
    return _ask(tx, WorkKind.TAKE_IN, about, content, by=by, now=now)


def ask_to_look(
    tx: Session, *, name: str, content: bytes, fingerprint: str, by: Person, now: datetime
) -> int:
    """At a file, as `pack` made it, that is held for this person until they decide."""
    hold_packed(tx, name=name, fingerprint=fingerprint, content=content, by=by, now=now)
    about = {"name": name, "fingerprint": fingerprint}
    return _ask(tx, WorkKind.LOOK, about, None, by=by, now=now)


def ask_to_look_again(tx: Session, *, by: Person, now: datetime) -> int:
    """At the file that is held, as after its columns were told."""
    check_may(by, Deed.UPLOAD_READINGS)
    upload = pending_uploads.find_upload(tx, of=by, now=now)
    if upload is None:
        raise NotNow(HELD_NO_LONGER)
    about = {"name": upload.name, "fingerprint": upload.fingerprint}
    pending_uploads.set_preview(
        tx, None, fingerprint=upload.fingerprint, of=by, expires_at=now + KEPT
    )
    return _ask(tx, WorkKind.LOOK, about, None, by=by, now=now)


def ask_to_take_held(
    tx: Session, *, fingerprint: str, good_rows: bool, by: Person, now: datetime
) -> int:
    """The file that this person was shown; it is no longer held afterwards."""
    held_upload(tx, fingerprint=fingerprint, by=by, now=now)
    upload = pending_uploads.find_upload(tx, of=by, now=now)
    stored = pending_uploads.stored_upload(tx, of=by, now=now)
    if upload is None or stored is None:
        raise NotNow(HELD_NO_LONGER)
    if pending_uploads.find_preview(tx, of=by, now=now) is None:
        raise NotNow("It is still being looked at. See first what it would change.")
    pending_uploads.drop_upload(tx, of=by)
    about = {"name": upload.name, "fingerprint": fingerprint, "good_rows": good_rows}
    return _ask(tx, WorkKind.TAKE_IN, about, stored, by=by, now=now)


def ask_reaudit(tx: Session, *, by: Person, now: datetime) -> int:
    check_may(by, Deed.REAUDIT)
    return _ask(tx, WorkKind.REAUDIT, {}, None, by=by, now=now)


def _ask(
    tx: Session,
    kind: WorkKind,
    about: dict[str, Any],
    content: bytes | None,
    *,
    by: Person,
    now: datetime,
) -> int:
    number = long_work.add_work(tx, kind=kind, about=about, content=content, by=by, now=now)
    work_queue.enqueue(tx, number)
    return number


def begin_work(tx: Session, *, number: int, now: datetime) -> Begun | None:
    """None where nothing is left to do, also because it was begun too often."""
    attempt = long_work.begin(tx, number, now=now)
    work = long_work.work_by_id(tx, number)
    if attempt is None or work is None:
        return None
    if attempt > MOST_TRIES:
        long_work.give_up(tx, number, failure=INTERRUPTED, now=now)
        return None
    return Begun(number, attempt, work.kind, work.about)


def held_with(tx: Session, begun: Begun, *, now: datetime) -> tuple[Person, BinaryIO]:
    """Who asked to look at a file, and the file as it is held for them."""
    by = long_work.who_asked(tx, begun.number)
    return by, held_upload(tx, fingerprint=begun.about["fingerprint"], by=by, now=now)


def asked_with(tx: Session, *, number: int) -> tuple[Person, BinaryIO]:
    """Who asked, and the file that they sent."""
    return long_work.who_asked(tx, number), unpacked(long_work.content_of(tx, number))


def hold_work(tx: Session, begun: Begun) -> None:
    """From here to the commit nobody else does it. Raises Conflict where somebody else has begun
    it since, as after a pause so long that this process passed for dead."""
    if not long_work.hold(tx, begun.number, attempt=begun.attempt):
        raise Conflict("Another process has begun this work since.")


def finish_work(tx: Session, begun: Begun, *, outcome: dict[str, Any], now: datetime) -> None:
    """In the transaction that does it."""
    long_work.finish(tx, begun.number, outcome=outcome, now=now)


def give_work_up(tx: Session, begun: Begun, *, failure: Failure, now: datetime) -> None:
    if long_work.hold(tx, begun.number, attempt=begun.attempt):
        long_work.give_up(tx, begun.number, failure=failure, now=now)


def put_work_back(tx: Session, begun: Begun) -> None:
    """The data were busy or out of reach: it is begun again, and this try does not count."""
    long_work.put_back(tx, begun.number, attempt=begun.attempt)


def enqueue_missing(tx: Session) -> int:
    """What waits and stands in no queue, as after a restored backup. How many."""
    if not work_queue.has_queue(tx):
        return 0
    waiting = long_work.unfinished(tx, states=(WorkState.WAITING,))
    missing = sorted(set(waiting) - work_queue.queued(tx)) if waiting else []
    for number in missing:
        work_queue.enqueue(tx, number)
    return len(missing)
