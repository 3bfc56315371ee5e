"""A finished drill: what was answered is kept by case, who answered is not."""

import math
from collections.abc import Iterable, Mapping
from datetime import date, datetime, timedelta

from sqlmodel import Session

from app.domain.drills import draw_cases
from app.domain.errors import Fault, NotNow, Refused, TooMany
from app.domain.local_days import local_day
from app.domain.people import Person
from app.domain.permissions import Deed, check_may
from app.domain.throttling import FREE_DRILLS, FREE_DRILLS_PER_ADDRESS, MOST_DRILLS_A_DAY
from app.exchange.stored_profiles import stored_profile
from app.storage import ledger
from app.storage.agencies import agency_by_id, lock_policy
from app.storage.drills import add_drill, drill_answers, drills_on
from app.storage.revisions import revision_in_force
from app.storage.sign_in_failures import count_failure, drills_from, drills_of, failures_of


def finish_drill(
    tx: Session,
    *,
    revision: int,
    seed: str,
    answers: Mapping[str, str],
    by: Person,
    now: datetime,
    address: str,
) -> None:
    """Sent again, it counts once. The ledger tells that somebody practised, never how well."""
    check_may(by, Deed.PRACTISE)
    lock_policy(tx, by.agency_id)
    found = revision_in_force(tx, agency_id=by.agency_id, at=now)
    if found is None or found.number != revision:
        raise NotNow("The policy has changed since this drill began. Begin another.")
    if drill_answers(tx, revision_id=found.id, seed=seed) is not None:
        return
    day = local_day(now, agency_by_id(tx, by.agency_id).time_zone)
    subjects = _check_pace(tx, found.id, day, by=by, now=now, address=address)
    cases = draw_cases(stored_profile(found.document), seed)
    missing = [case for case in cases if not case.label_of(answers.get(case.key, ""))]
    if missing:
        raise Refused([Fault("choose one", column=case.key) for case in missing])
    chosen = {case.key: answers[case.key] for case in cases}
    add_drill(tx, revision_id=found.id, seed=seed, answers=chosen, on=day)
    for subject in subjects:
        count_failure(tx, subject=subject, now=now)
    about = {"revision": revision, "cases": len(cases)}
    ledger.append(tx, agency=by.agency, did="practise", by=by.username, at=now, about=about)


def _check_pace(
    tx: Session, revision_id: int, day: date, *, by: Person, now: datetime, address: str
) -> Iterable[str]:
    """Under which names this drill counts. Raises TooMany."""
    if drills_on(tx, revision_id=revision_id, day=day) >= MOST_DRILLS_A_DAY:
        raise TooMany(
            f"Your agency has finished {MOST_DRILLS_A_DAY:,} drills today, which is as many as"
            " are kept in a day. Finish this one tomorrow; what you chose is still here."
        )
    free = {
        drills_of(by.agency, by.username): FREE_DRILLS,
        drills_from(address): FREE_DRILLS_PER_ADDRESS,
    }
    found = failures_of(tx, list(free))
    waits = [found[one].remaining(now, free=free[one]) for one in found]
    longest = max(waits, default=timedelta())
    if longest > timedelta():
        seconds = math.ceil(longest.total_seconds())
        raise TooMany(
            f"So many drills were finished that the next one waits {seconds} s. What you chose is"
            " still here: finish it then.",
            seconds=seconds,
        )
    return free
