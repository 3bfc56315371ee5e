"""A finished drill: what was answered is kept by case, who answered is not."""

from collections.abc import Mapping
from datetime import datetime

from sqlmodel import Session

from app.domain.drills import draw_cases
from app.domain.errors import Fault, NotNow, Refused
from app.domain.local_days import local_day
from app.domain.people import Person
from app.domain.permissions import Deed, check_may
from app.exchange.stored_profiles import stored_profile
from app.storage import ledger
from app.storage.agencies import agency_by_id, lock_policy
from app.storage.drills import add_drill, drill_answers
from app.storage.revisions import revision_in_force


def finish_drill(
    tx: Session,
    *,
    revision: int,
    seed: str,
    answers: Mapping[str, str],
    by: Person,
    now: datetime,
) -> None:
    """Sent again, it counts once. The ledger tells that somebody practised, never how well."""
    check_may(by, Deed.PRACTISE)
    lock_policy(tx, by.agency_id)
    found = revision_in_force(tx, agency_id=by.agency_id, at=now)
    if found is None or found.number != revision:
        raise NotNow("The policy has changed since this drill began. Begin another.")
    if drill_answers(tx, revision_id=found.id, seed=seed) is not None:
        return
    cases = draw_cases(stored_profile(found.document), seed)
    missing = [case for case in cases if not case.label_of(answers.get(case.key, ""))]
    if missing:
        raise Refused([Fault("choose one", column=case.key) for case in missing])
    chosen = {case.key: answers[case.key] for case in cases}
    day = local_day(now, agency_by_id(tx, by.agency_id).time_zone)
    add_drill(tx, revision_id=found.id, seed=seed, answers=chosen, on=day)
    about = {"revision": revision, "cases": len(cases)}
    ledger.append(tx, agency=by.agency, did="practise", by=by.username, at=now, about=about)
