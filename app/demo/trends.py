"""An invented recording, and what a draft costs in it, so that the page has something to show."""

from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import Any

import numpy as np

from app.actions.evidence import keep_evidence
from app.actions.recordings import add_recording, pack_trends
from app.demo.people import Staff
from app.demo.policy import Event
from app.domain.people import Role
from app.domain.recordings import NewRecording
from app.domain.trends import Numbers, Trends
from app.lookups.evidence import answer_to, asked_evidence, trends_of

CATEGORY, DRAFT = "young-child", 3
WORDS = (
    "SYNTHETIC: invented for this demonstration, as everything in it. Twelve children of 40 min "
    "with slow wandering values, short dips of saturation and two that are ill."
)
_PATIENTS, _SECONDS = 12, 2400
_SEED = 1895


def trend_events(tx: Any, staff: Staff) -> Iterator[Event]:
    quality, dana = staff[Role.QUALITY_OFFICER], staff[Role.MEDICAL_DIRECTOR]

    def record(now: datetime) -> None:
        trends = invented()
        new = NewRecording("Invented transfers", CATEGORY, "invented for the demo", WORDS)
        add_recording(tx, new, trends, pack_trends(trends), by=quality, now=now)

    def replay(now: datetime) -> None:
        asked = asked_evidence(
            tx, agency_id=dana.agency_id, number=DRAFT, category=CATEGORY, now=now
        )
        keep_evidence(
            tx,
            answer_to(asked, trends_of(tx, asked)),
            revision_id=asked.revision.id,
            told_from=asked.fingerprints,
            by=dana,
            now=now,
        )

    yield timedelta(days=5), record
    yield timedelta(days=1), replay


def invented() -> Trends:
    dice = np.random.default_rng(_SEED)
    ill = np.zeros(_PATIENTS)
    ill[:2] = 1.0
    heart = 112 + 12 * dice.standard_normal(_PATIENTS) + 62 * ill
    breath = 28 + 4 * dice.standard_normal(_PATIENTS) + 18 * ill
    return Trends(
        np.repeat(np.arange(_PATIENTS), _SECONDS),
        np.tile(np.arange(_SECONDS), _PATIENTS),
        {
            "heart-rate": _whole(heart, _wander(dice, 9.0)),
            "spo2": np.minimum(_whole(97 - 3 * ill, _wander(dice, 1.0) - _dips(dice)), 100.0),
            "respiratory-rate": _whole(breath, _wander(dice, 3.0)),
        },
        1,
    )


def _wander(dice: np.random.Generator, spread: float) -> Numbers:
    """A row a second, a column a patient: slow, and back to its middle."""
    found = np.zeros((_SECONDS, _PATIENTS))
    for second in range(1, _SECONDS):
        found[second] = 0.995 * found[second - 1] + 0.1 * dice.standard_normal(_PATIENTS)
    return spread * found


def _dips(dice: np.random.Generator) -> Numbers:
    """Some to every patient: a triangle of 10 to 70 s, to a depth of 5 to 25."""
    found = np.zeros((_SECONDS, _PATIENTS))
    for patient in range(_PATIENTS):
        for begins in dice.integers(0, _SECONDS - 80, 6).tolist():
            lasts, depth = int(dice.integers(10, 70)), float(dice.integers(5, 26))
            shape = depth * (1 - np.abs(np.linspace(-1, 1, lasts)))
            place = (slice(begins, begins + lasts), patient)
            found[place] = np.maximum(found[place], shape)
    return found


def _whole(middle: Numbers, around: Numbers) -> Numbers:
    values: Numbers = np.rint(middle + around).T.reshape(-1)
    return values
