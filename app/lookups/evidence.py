"""What is known of a revision's noise and silence, and what could be asked."""

import hashlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from sqlmodel import Session

from app.domain.device_models import DeviceModel
from app.domain.errors import NotFound, NotNow
from app.domain.evidence import (
    Evidence,
    Policy,
    Used,
    question_fingerprint,
    recordings_fingerprint,
)
from app.domain.evidence_making import find_evidence
from app.domain.outer_bounds import OuterBounds
from app.domain.patient_categories import PatientCategory
from app.domain.patient_loads import DRAWS, SEED
from app.domain.profiles import Circumstance, Profile
from app.domain.recordings import Recording, to_replay
from app.domain.revisions import StoredRevision
from app.domain.trends import Trends
from app.exchange.bounds_csv import write_bounds
from app.exchange.evidence_json import unpacked_evidence
from app.exchange.packed_trends import unpacked
from app.exchange.paper_evidence import PrintedAnswer
from app.exchange.stored_bounds import stored_bounds
from app.exchange.stored_profiles import stored_profile
from app.lookups.model_records import fleet_models
from app.lookups.redlines import usual_against
from app.lookups.revisions import all_revisions, revision
from app.storage import evidence, recordings
from app.storage.evidence import Fingerprints
from app.storage.outer_bounds import bounds_version_in_force


@dataclass(frozen=True)
class Answer:
    evidence: Evidence
    made_at: datetime
    made_by: str


@dataclass(frozen=True)
class EvidenceAsked:
    """One category of a revision before its recordings. `other` is what it is held against, None
    where there is no other. `answer` None: nobody has replayed exactly this; `earlier` is then
    what was told of the same policy before recordings, bounds or the other revision changed."""

    revision: StoredRevision
    profile: Profile
    category: PatientCategory
    other: StoredRevision | None
    bounds: OuterBounds
    recordings: tuple[Recording, ...]
    counted: dict[str, int]  # recordings of each category
    models: tuple[DeviceModel, ...]
    answer: Answer | None
    earlier: Answer | None = None
    circumstance: Circumstance | None = None

    @property
    def offered(self) -> list[Circumstance]:
        """Circumstances in which the limits of the category may be asked about."""
        return self.profile.circumstances_of(self.category.key)

    @property
    def in_circumstance(self) -> str:
        """Its key; empty for the plain limits."""
        return "" if self.circumstance is None else self.circumstance.key

    @property
    def other_knows_it(self) -> bool:
        """Whether what it is held against has limits of its own for the circumstance."""
        other = self.other_profile
        known = [] if other is None else other.circumstances_of(self.category.key)
        return self.in_circumstance in {one.key for one in known}

    @property
    def left_out(self) -> int:
        """Recordings of the category that are not replayed."""
        return self.counted[self.category.key] - len(self.recordings)

    @property
    def other_profile(self) -> Profile | None:
        return None if self.other is None else stored_profile(self.other.document)

    @property
    def fingerprints(self) -> Fingerprints:
        bounds = hashlib.sha256(write_bounds(self.bounds).encode()).hexdigest()
        told_from = recordings_fingerprint([one.fingerprint for one in self.recordings])
        policy = self.revision.fingerprint
        other = None if self.other is None else self.other.fingerprint
        question = question_fingerprint(
            self.category.key, policy, other, bounds, told_from, *self._more
        )
        return Fingerprints(question, policy, bounds, told_from)

    @property
    def _more(self) -> list[str]:
        """Of the question, where there is more than the policy itself says."""
        tested = [one for one in self.models if one is not self.profile.models.get(one.key)]
        settable = sorted(
            f"{one.key} {one.etco2_unit} {alarm} {grid.start} {grid.end} {grid.step}"
            for one in tested
            for alarm, grid in one.grid.items()
        )
        return [*filter(None, [self.in_circumstance]), *settable]


def all_recordings(tx: Session, *, agency_id: int) -> list[Recording]:
    return recordings.recordings_of(tx, agency_id)


def categories_to_record(tx: Session, *, agency_id: int, now: datetime) -> list[PatientCategory]:
    """Those of the newest revision; empty before there is one."""
    lines = all_revisions(tx, agency_id=agency_id, now=now)
    if not lines:
        return []
    newest = revision(tx, agency_id=agency_id, number=lines[-1].number, now=now)
    return list(stored_profile(newest.document).categories)


def asked_evidence(
    tx: Session,
    *,
    agency_id: int,
    number: int,
    category: str | None,
    now: datetime,
    circumstance: str = "",
    or_plain: bool = False,
) -> EvidenceAsked:
    """`category` None: the first that has recordings, or else the first. `circumstance` empty: the
    plain limits; one that the category does not have is not found, or `or_plain`."""
    found = revision(tx, agency_id=agency_id, number=number, now=now)
    profile = stored_profile(found.document)
    lines = all_revisions(tx, agency_id=agency_id, now=now)
    others = [line for line in reversed(lines) if line.number != number]
    against = usual_against(found, others, now)
    other = None if against is None else revision(tx, agency_id=agency_id, number=against, now=now)
    kept = recordings.recordings_of(tx, agency_id)
    chosen = _category(profile, category, kept)
    asked = EvidenceAsked(
        revision=found,
        profile=profile,
        category=chosen,
        other=other,
        bounds=stored_bounds(bounds_version_in_force(tx, agency_id=agency_id, at=now)),
        recordings=to_replay(one for one in kept if one.category == chosen.key),
        counted={
            one.key: sum(other.category == one.key for other in kept) for one in profile.categories
        },
        models=fleet_models(tx, profile, agency_id=agency_id, now=now),
        answer=None,
        circumstance=_circumstance(profile, chosen, circumstance, or_plain=or_plain),
    )
    return _answered(tx, asked, agency_id)


def _category(profile: Profile, asked: str | None, kept: Sequence[Recording]) -> PatientCategory:
    if not profile.categories:
        raise NotNow("This revision has no category yet.")
    if asked is None:
        held = {one.category for one in kept}
        with_some = [one for one in profile.categories if one.key in held]
        return (with_some or list(profile.categories))[0]
    found = profile.category(asked)
    if found is None:
        raise NotFound("This revision has no such category.")
    return found


def _circumstance(
    profile: Profile, category: PatientCategory, asked: str, *, or_plain: bool
) -> Circumstance | None:
    for one in profile.circumstances_of(category.key):
        if one.key == asked:
            return one
    if or_plain or not asked:
        return None
    raise NotFound("This category has no such circumstance.")


def _answered(tx: Session, asked: EvidenceAsked, agency_id: int) -> EvidenceAsked:
    question = asked.fingerprints.question
    kept = evidence.find_evidence(tx, agency_id=agency_id, question=question)
    if kept is not None:
        return replace(asked, answer=_answer(kept))
    old = evidence.latest_evidence(
        tx,
        revision_id=asked.revision.id,
        policy=asked.revision.fingerprint,
        category=asked.category.key,
        circumstance=asked.in_circumstance,
    )
    return replace(asked, earlier=_answer(old)) if old else asked


def _answer(kept: evidence.KeptEvidence) -> Answer:
    return Answer(unpacked_evidence(kept.document), kept.made_at, kept.made_by)


def trends_of(tx: Session, asked: EvidenceAsked) -> list[Trends]:
    """Raises NotNow where there are none."""
    if not asked.recordings:
        raise NotNow("There is no recording of this category yet.")
    return [unpacked(recordings.content_of(tx, one)) for one in asked.recordings]


def answer_to(asked: EvidenceAsked, trends: Sequence[Trends]) -> Evidence:
    """Needs no transaction, for it may take its time."""
    other = asked.other
    found = find_evidence(
        asked.category,
        asked.profile,
        asked.other_profile,
        bounds=asked.bounds,
        trends=trends,
        models=asked.models,
        circumstance=asked.in_circumstance,
    )
    return Evidence(
        category=asked.category.key,
        policy=Policy(asked.revision.number, asked.revision.fingerprint),
        against=None if other is None else Policy(other.number, other.fingerprint),
        bounds=asked.bounds.name,
        bounds_fingerprint=asked.fingerprints.bounds,
        recordings=tuple(
            Used(one.number, one.name, one.fingerprint, one.synthetic, one.patients, one.hours)
            for one in asked.recordings
        ),
        seed=SEED,
        draws=DRAWS,
        circumstance=asked.in_circumstance,
        **vars(found),
    )


def printed_answers(
    tx: Session, *, agency_id: int, number: int, now: datetime
) -> list[PrintedAnswer]:
    """Of all categories of a revision, those that were replayed as they stand, or as they stood
    when they were replayed last; raises NotFound where none was."""
    asked_of = revision(tx, agency_id=agency_id, number=number, now=now)
    profile = stored_profile(asked_of.document)
    replayed = evidence.replayed_places(tx, revision_id=asked_of.id, policy=asked_of.fingerprint)
    found: list[PrintedAnswer] = []
    for one in profile.categories:
        for key in ("", *(other.key for other in profile.circumstances_of(one.key))):
            if (one.key, key) in replayed:
                asked = asked_evidence(
                    tx,
                    agency_id=agency_id,
                    number=number,
                    category=one.key,
                    circumstance=key,
                    now=now,
                )
                found += _printed(asked)
    if not found:
        raise NotFound("Nothing was replayed against this revision as it stands.")
    return found


def _printed(asked: EvidenceAsked) -> Iterator[PrintedAnswer]:
    answer = asked.answer or asked.earlier
    if answer is None:
        return
    yield PrintedAnswer(
        f"{asked.category.label}, {asked.category.span}",
        answer.evidence,
        answer.made_at,
        answer.made_by,
        current=asked.answer is not None,
        circumstance="" if asked.circumstance is None else asked.circumstance.label,
    )
