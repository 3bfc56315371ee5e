"""Drills against the policy in force, and what all of them together say of it."""

from dataclasses import dataclass
from datetime import datetime

from sqlmodel import Session

from app.domain.drill_results import DrillResults, drill_results
from app.domain.drills import DrillCase, all_cases, draw_cases
from app.domain.errors import NotFound, NotNow
from app.domain.revisions import StoredRevision
from app.exchange.stored_profiles import stored_profile
from app.lookups.revisions import revision
from app.storage.drills import all_answers, drill_answers
from app.storage.revisions import revision_in_force


@dataclass(frozen=True)
class Drill:
    """`answers` None: it was not finished yet."""

    revision: int
    seed: str
    cases: tuple[DrillCase, ...]
    answers: dict[str, str] | None

    @property
    def right(self) -> int:
        answers = self.answers or {}
        return sum(answers.get(case.key) == case.right for case in self.cases)


@dataclass(frozen=True)
class PractisedRevision:
    revision: StoredRevision
    results: DrillResults


def drill(tx: Session, *, agency_id: int, seed: str, now: datetime) -> Drill:
    """Raises NotNow where no policy is in force."""
    found = _in_force(tx, agency_id, now)
    cases = draw_cases(stored_profile(found.document), seed)
    answers = drill_answers(tx, revision_id=found.id, seed=seed)
    return Drill(found.number, seed, tuple(cases), answers)


def practised(
    tx: Session, *, agency_id: int, number: int | None, now: datetime
) -> PractisedRevision:
    """`number` None: the revision in force."""
    if number is None:
        found = _in_force(tx, agency_id, now)
    else:
        found = revision(tx, agency_id=agency_id, number=number, now=now)
    if found.signed_at is None:
        raise NotFound(f"Nobody practises with revision {found.number}: it is not signed.")
    results = drill_results(all_cases(stored_profile(found.document)), all_answers(tx, found.id))
    return PractisedRevision(found, results)


def _in_force(tx: Session, agency_id: int, now: datetime) -> StoredRevision:
    found = revision_in_force(tx, agency_id=agency_id, at=now)
    if found is None:
        raise NotNow("No policy is in force, so there is nothing to practise with.")
    return found
