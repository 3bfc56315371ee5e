from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from sqlmodel import Session

from app.actions.quarantines import (
    Passed,
    go_on_without_log,
    hand_over,
    keep_log,
    place_in_quarantine,
    release_device,
)
from app.domain.errors import NotAllowed, NotFound, NotNow, Refused
from app.domain.finding_life import FindingStatus, StoredFinding
from app.domain.people import Person, Role
from app.lookups.quarantines import DeviceHold, device_hold, quarantined
from app.storage.database import Database
from app.storage.finding_events import events_of
from tests.actions.test_findings import a_finding, move
from tests.builders import HOUR, NOW, a_person, olu
from tests.storage.ledgers import bodies

DIGEST = "0123456789abcdef" * 4
BOAT = "boat-3"
FEMI, TESS, DANA = Role.FLEET_MANAGER, Role.TECHNICIAN, Role.MEDICAL_DIRECTOR


def held(tx: Session, status: FindingStatus = FindingStatus.CONTAINED) -> StoredFinding:
    found = a_finding(tx, status)
    place_in_quarantine(
        tx, finding_id=found.id, reason="harm is possible", by=a_person(tx, FEMI), now=NOW
    )
    return found


def hold(tx: Session) -> DeviceHold:
    return device_hold(tx, agency_id=a_person(tx).agency_id, tag=BOAT)


def passed(**instead: Any) -> Passed:
    told: dict[str, Any] = {
        "given_by": "Femi",
        "taken_by": "Tess",
        "at": NOW,
        "place": "locked store",
        "seal": "4417",
    }
    return Passed(**(told | instead))


def export(tx: Session, role: Role = TESS) -> None:
    keep_log(tx, device=BOAT, fingerprint=DIGEST, place="safe", by=a_person(tx, role), now=NOW)


def release(tx: Session, role: Role = DANA) -> None:
    release_device(tx, device=BOAT, reason="report written", by=a_person(tx, role), now=NOW)


def test_a_device_is_held_from_placing_to_release(database: Database) -> None:
    with database.writing() as tx:
        found = held(tx)
        agency = a_person(tx).agency_id
        hand_over(tx, device=BOAT, passed=passed(), by=a_person(tx, FEMI), now=NOW)
        export(tx)
        standing = hold(tx).standing
        assert standing is not None
        assert (standing.holder, standing.log and standing.log.place) == ("Tess", "safe")
        assert quarantined(tx, agency_id=agency) == {BOAT}
        release(tx, FEMI)

        after = hold(tx)
        assert after.standing is None
        assert [one.released and one.released.reason for one in after.past] == ["report written"]
        assert quarantined(tx, agency_id=agency) == frozenset()
        kinds = [one.kind.value for one in events_of(tx, [found.id])[found.id]]
        assert kinds[-2:] == ["quarantined", "released"]
        assert [body["did"] for body in bodies(tx)][-4:] == [
            "quarantine a device",
            "hand over a quarantined device",
            "keep the log of a device",
            "release a device from quarantine",
        ]


class TestCorrecting:
    def correct(self, tx: Session, found: StoredFinding) -> StoredFinding:
        return move(tx, found, FindingStatus.CORRECTED, a_person(tx, TESS), note="set to 170")

    def test_it_waits_for_the_log(self, database: Database) -> None:
        with database.writing() as tx:
            found = held(tx)
            with pytest.raises(NotNow, match="Export the log first"):
                self.correct(tx, found)
            export(tx)

            assert self.correct(tx, found).status is FindingStatus.CORRECTED

    def test_the_director_lets_it_go_on_without(self, database: Database) -> None:
        with database.writing() as tx:
            found = held(tx)
            go_on_without_log(tx, device=BOAT, reason="no port", by=a_person(tx), now=NOW)

            assert self.correct(tx, found).status is FindingStatus.CORRECTED
            with pytest.raises(NotNow):
                go_on_without_log(tx, device=BOAT, reason="again", by=a_person(tx), now=NOW)

    def test_after_the_release_nothing_waits(self, sqlite_database: Database) -> None:
        with sqlite_database.writing() as tx:
            found = held(tx)
            release(tx)

            assert self.correct(tx, found).status is FindingStatus.CORRECTED


class TestRoles:
    @pytest.mark.parametrize("role", Role)
    def test_who_places_hands_over_and_keeps_the_log(
        self, sqlite_database: Database, role: Role
    ) -> None:
        with sqlite_database.writing() as tx:
            found = a_finding(tx)
            by = a_person(tx, role)
            acts: list[Callable[[], None]] = [
                lambda: place_in_quarantine(tx, finding_id=found.id, reason="x", by=by, now=NOW),
                lambda: hand_over(tx, device=BOAT, passed=passed(), by=by, now=NOW),
                lambda: export(tx, role),
            ]
            for act in acts:
                if role in (FEMI, TESS, DANA):
                    act()
                else:
                    with pytest.raises(NotAllowed):
                        act()

    @pytest.mark.parametrize("role", Role)
    def test_who_goes_on_without_the_log(self, sqlite_database: Database, role: Role) -> None:
        with sqlite_database.writing() as tx:
            held(tx)
            by = a_person(tx, role)

            if role is DANA:
                go_on_without_log(tx, device=BOAT, reason="x", by=by, now=NOW)
                return
            with pytest.raises(NotAllowed):
                go_on_without_log(tx, device=BOAT, reason="x", by=by, now=NOW)

    @pytest.mark.parametrize("role", Role)
    @pytest.mark.parametrize("exported", [True, False])
    def test_who_releases(self, sqlite_database: Database, role: Role, exported: bool) -> None:
        with sqlite_database.writing() as tx:
            held(tx)
            if exported:
                export(tx)

            if role is DANA or (role is FEMI and exported):
                release(tx, role)
                assert hold(tx).standing is None
                return
            with pytest.raises(NotNow if role is FEMI else NotAllowed):
                release(tx, role)


def test_one_hold_at_a_time(sqlite_database: Database) -> None:
    with sqlite_database.writing() as tx:
        found = held(tx)

        with pytest.raises(NotNow, match="already"):
            place_in_quarantine(tx, finding_id=found.id, reason="x", by=a_person(tx, FEMI), now=NOW)
        release(tx)
        place_in_quarantine(tx, finding_id=found.id, reason="x", by=a_person(tx, FEMI), now=NOW)
        assert len(hold(tx).past) == 1


def test_nothing_is_held_for_what_is_closed(sqlite_database: Database) -> None:
    with sqlite_database.writing() as tx, pytest.raises(NotNow):
        held(tx, FindingStatus.CLOSED)


@pytest.mark.parametrize(
    "instead",
    [
        {"given_by": " "},
        {"taken_by": ""},
        {"place": ""},
        {"at": NOW + timedelta(seconds=1)},
        {"at": NOW - HOUR},
    ],
)
def test_a_link_of_the_chain_is_whole_and_in_order(
    sqlite_database: Database, instead: dict[str, Any]
) -> None:
    with sqlite_database.writing() as tx:
        held(tx)
        femi = a_person(tx, FEMI)
        hand_over(tx, device=BOAT, passed=passed(), by=femi, now=NOW)

        with pytest.raises(Refused):
            hand_over(tx, device=BOAT, passed=passed(**instead), by=femi, now=NOW)


def test_the_log_is_kept_once(sqlite_database: Database) -> None:
    with sqlite_database.writing() as tx:
        held(tx)
        with pytest.raises(Refused):
            keep_log(tx, device=BOAT, fingerprint="abc", place="x", by=a_person(tx, TESS), now=NOW)
        export(tx)

        with pytest.raises(NotNow):
            export(tx)


Act = Callable[[Session, int, Person], object]
ACTS: dict[str, Act] = {
    "place": lambda tx, number, by: place_in_quarantine(
        tx, finding_id=number, reason="x", by=by, now=NOW
    ),
    "hand over": lambda tx, _, by: hand_over(tx, device=BOAT, passed=passed(), by=by, now=NOW),
    "log": lambda tx, _, by: keep_log(
        tx, device=BOAT, fingerprint=DIGEST, place="x", by=by, now=NOW
    ),
    "without": lambda tx, _, by: go_on_without_log(tx, device=BOAT, reason="x", by=by, now=NOW),
    "release": lambda tx, _, by: release_device(tx, device=BOAT, reason="x", by=by, now=NOW),
}


@pytest.mark.parametrize("act", ACTS.values(), ids=ACTS)
def test_an_outsider_finds_no_device(database: Database, act: Act) -> None:
    with database.writing() as tx:
        found = held(tx)

        with pytest.raises(NotFound):
            act(tx, found.id, olu(tx))


def test_what_is_not_held_is_told(sqlite_database: Database) -> None:
    with sqlite_database.writing() as tx:
        a_finding(tx)

        with pytest.raises(NotNow, match="not in quarantine"):
            export(tx)
