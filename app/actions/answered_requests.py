"""A request that is sent again, because its answer was lost, is done once and answered alike."""

from collections.abc import Callable
from datetime import datetime, timedelta

from sqlmodel import Session

from app.domain.errors import Conflict
from app.domain.people import Person
from app.storage import answered_requests
from app.storage.answered_requests import AnsweredRequest

KEPT = timedelta(days=30)


def once(
    tx: Session,
    *,
    key: str,
    fingerprint: str,
    by: Person,
    now: datetime,
    do: Callable[[], str],
) -> str:
    """What `do` answers, or answered to this key before. `fingerprint`: of all that is asked."""
    answered_requests.alone(tx, by)
    answered_requests.forget_answers(tx, before=now - KEPT)
    known = answered_requests.find_answer(tx, of=by, key=key)
    if known is None:
        known = AnsweredRequest(fingerprint, do())
        answered_requests.keep_answer(tx, known, of=by, key=key, now=now)
    if known.fingerprint != fingerprint:
        raise Conflict(
            "Something else was sent with this idempotency key.",
            theirs=known.fingerprint,
            yours=fingerprint,
        )
    return known.answer
