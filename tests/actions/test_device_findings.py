from typing import Any

import pytest
from sqlmodel import Session

from app.actions.device_findings import Moved, move_findings_of
from app.domain.errors import NotAllowed, NotFound, NotNow, Refused
from app.domain.finding_life import FindingStatus
from app.domain.people import Role
from app.storage import findings
from app.storage.database import Database
from tests.builders import (
    HOUR,
    NOW,
    a_device,
    a_person,
    a_report,
    a_signed_revision,
    as_signed,
    limit,
    olu,
)
from tests.storage.ledgers import bodies

OPEN, CONTAINED, CORRECTED, VERIFIED, CLOSED = FindingStatus
STRAYED = as_signed(heart_rate_high=limit(200), spo2_low=limit(60), apnoea=limit(10))


def ready(tx: Session) -> None:
    """Three of boat-3, and one of another boat."""
    a_signed_revision(tx)
    for tag in ("boat-3", "boat-4"):
        a_device(tx, tag)
        a_report(tx, STRAYED if tag == "boat-3" else LOOSE, device=tag)


LOOSE = as_signed(heart_rate_high=limit(200))


def move(tx: Session, to: FindingStatus, role: Role = Role.FLEET_MANAGER, **how: Any) -> Moved:
    wanted: dict[str, Any] = {
        "device": "boat-3",
        "note": "so",
        "now": NOW,
        "by": a_person(tx, role),
    }
    return move_findings_of(tx, to=to, **(wanted | how))


def stages(tx: Session, tag: str = "boat-3") -> list[str]:
    found = findings.findings_not_closed(tx, a_device(tx, tag))
    return [one.status.value for one in sorted(found, key=lambda one: one.alarm)]


def test_all_findings_of_a_device_go_from_open_to_verified(database: Database) -> None:
    with database.writing() as tx:
        ready(tx)

        assert len(move(tx, CONTAINED).findings) == 3
        assert len(move(tx, CORRECTED, Role.TECHNICIAN, now=NOW + HOUR).findings) == 3
        a_report(tx, read_at=NOW + 2 * HOUR)
        verified = move(tx, VERIFIED, note="", now=NOW + 3 * HOUR)

        assert (len(verified.findings), verified.left) == (3, ())
        assert stages(tx) == ["verified"] * 3
        assert stages(tx, "boat-4") == ["open"]
        assert [body["did"] for body in bodies(tx)][-3:] == ["verify a finding"] * 3


def test_what_the_reading_does_not_bear_out_stays_and_says_why(database: Database) -> None:
    with database.writing() as tx:
        ready(tx)
        move(tx, CONTAINED)
        move(tx, CORRECTED, Role.TECHNICIAN, now=NOW + HOUR)
        partial = {"heart-rate-high": limit(170), "apnoea": limit(10)}
        a_report(tx, partial, read_at=NOW + 2 * HOUR)

        moved = move(tx, VERIFIED, note="", now=NOW + 3 * HOUR)

        assert len(moved.findings) == 1
        assert stages(tx) == ["open", "verified", "corrected"]  # apnoea was found again
        [left] = moved.left
        assert "nobody" in left.why.casefold() or "does not show" in left.why


def test_where_none_can_the_reason_is_told(database: Database) -> None:
    with database.writing() as tx:
        ready(tx)
        with pytest.raises(NotNow, match=r"No finding of boat-3 can become corrected now\."):
            move(tx, CORRECTED)
        move(tx, CONTAINED)
        move(tx, CORRECTED, Role.TECHNICIAN, now=NOW + HOUR)
        with pytest.raises(NotNow, match="Nobody but"):
            move(tx, VERIFIED, note="")
        assert stages(tx) == ["corrected"] * 3


def test_nothing_is_moved_without_a_word_why(database: Database) -> None:
    with database.writing() as tx:
        ready(tx)
        with pytest.raises(Refused):
            move(tx, CONTAINED, note=" ")
        assert stages(tx) == ["open"] * 3


@pytest.mark.parametrize("to", [OPEN, CLOSED])
def test_closing_is_done_one_by_one(database: Database, to: FindingStatus) -> None:
    with database.writing() as tx:
        ready(tx)
        with pytest.raises(Refused):
            move(tx, to)


def test_who_may(database: Database) -> None:
    with database.writing() as tx:
        ready(tx)
        with pytest.raises(NotAllowed):
            move(tx, CONTAINED, Role.CREW)
        with pytest.raises(NotFound):
            move(tx, CONTAINED, by=olu(tx))
