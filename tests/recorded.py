"""An invented recording of two young children, small enough to count in one's head.

p1: 20 s at 160 /min, 12 s at 175, 5 s at 182, 20 s at 160. p2: 150 /min throughout, and a
saturation of 85% for 8 s; all else is 97%. One sample a second, 57 s each.
"""

import io
from dataclasses import replace

import numpy as np
from sqlmodel import Session

from app.actions.evidence import keep_evidence
from app.actions.recordings import add_recording, pack_trends
from app.domain.evidence import Evidence
from app.domain.people import Person, Role
from app.domain.recordings import NewRecording, Recording
from app.domain.trends import Trends
from app.lookups.evidence import answer_to, asked_evidence, trends_of
from tests.builders import NOW, PRESET, a_person

HEART = ([160] * 20 + [175] * 12 + [182] * 5 + [160] * 20, [150] * 57)
SATURATION = ([97] * 57, [97] * 30 + [85] * 8 + [97] * 19)
SECONDS = 57


def trends() -> Trends:
    return Trends(
        np.repeat([0, 1], SECONDS),
        np.tile(np.arange(SECONDS), 2),
        {
            "heart-rate": np.concatenate(HEART).astype(np.float64),
            "spo2": np.concatenate(SATURATION).astype(np.float64),
        },
        1,
    )


def as_csv(first: str = "p1", second: str = "p2", more: str = "") -> str:
    """`more` is another column's name; its cells are 1."""
    head = "patient,second,heart-rate,spo2" + (f",{more}" if more else "")
    rows = [
        f"{name},{at},{heart},{spo2}" + (",1" if more else "")
        for name, hearts, spo2s in zip((first, second), HEART, SATURATION, strict=True)
        for at, (heart, spo2) in enumerate(zip(hearts, spo2s, strict=True))
    ]
    return "\n".join([head, *rows]) + "\n"


def as_parquet() -> bytes:
    import pyarrow
    from pyarrow import parquet

    table = pyarrow.table(
        {
            "patient": ["p1"] * SECONDS + ["p2"] * SECONDS,
            "second": list(range(SECONDS)) * 2,
            "heart-rate": [*HEART[0], *HEART[1]],
            "spo2": [float(value) for value in (*SATURATION[0], *SATURATION[1])],
        }
    )
    kept = io.BytesIO()
    parquet.write_table(table, kept, row_group_size=40)
    return kept.getvalue()


def a_recording(
    tx: Session,
    *,
    category: str = PRESET,
    by: Person | None = None,
    synthetic: str = "",
    name: str = "Winter transfers",
    slower: int = 0,
) -> Recording:
    """`slower` by so many beats a minute, to be another one."""
    new = NewRecording(name, category, "our own boats", synthetic)
    found = trends()
    found = replace(
        found, values={**found.values, "heart-rate": found.values["heart-rate"] - slower}
    )
    by = by or a_person(tx, Role.QUALITY_OFFICER)
    return add_recording(tx, new, found, pack_trends(found), by=by, now=NOW)


def an_evidence(tx: Session, number: int = 1, *, category: str = PRESET) -> Evidence:
    """Of a revision and the recordings that are there."""
    dana = a_person(tx, Role.MEDICAL_DIRECTOR)
    asked = asked_evidence(tx, agency_id=dana.agency_id, number=number, category=category, now=NOW)
    found = answer_to(asked, trends_of(tx, asked))
    keep_evidence(
        tx,
        found,
        revision_id=asked.revision.id,
        told_from=asked.fingerprints,
        by=dana,
        now=NOW,
    )
    return found
