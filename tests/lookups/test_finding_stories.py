from datetime import datetime
from typing import Any

import pytest
from sqlmodel import Session

from app.actions.devices import add_device
from app.domain.device_reports import CouldNotRead, Origin, StateRead
from app.domain.errors import NotFound
from app.domain.finding_life import FindingStatus
from app.domain.people import Role
from app.domain.siblings import Tie
from app.lookups.finding_stories import (
    FindingStory,
    SiblingsAtRisk,
    finding_story,
    siblings_at_risk,
)
from app.lookups.findings import findings
from app.storage.database import Database
from tests.actions.test_findings import STRAYED, a_finding, move
from tests.builders import (
    DAY,
    HOUR,
    MINUTE,
    NOW,
    a_device,
    a_person,
    a_report,
    a_signed_revision,
    as_signed,
    olu,
)

FOUND_AT = NOW + 20 * DAY


def story(tx: Session, number: int = 1, now: datetime = FOUND_AT) -> FindingStory:
    return finding_story(tx, agency_id=a_person(tx).agency_id, finding_id=number, now=now)


def astray(tx: Session, **instead: Any) -> None:
    """Boat 3, found with 200 on day 20."""
    a_signed_revision(tx)
    a_device(tx)
    a_report(tx, STRAYED, read_at=FOUND_AT, **instead)


class TestLookingBack:
    def test_nobody_knows_since_the_last_reading_that_conformed(self, database: Database) -> None:
        with database.writing() as tx:
            a_signed_revision(tx)
            a_device(tx)
            a_report(tx, read_at=NOW + DAY)
            right = a_report(tx, read_at=NOW + 8 * DAY)
            astray(tx)

            seen = story(tx).exposure
            assert (seen.since, seen.report) == (NOW + 8 * DAY, right.id)
            assert (seen.until, seen.days(FOUND_AT)) == (None, 12)

    @pytest.mark.parametrize(
        "instead",
        [
            {"state_read": StateRead.AFTER_CATEGORY},
            {"preset": "school", "readings": as_signed("school")},
            {"readings": as_signed(heart_rate_high=CouldNotRead("glare"))},
            {"readings": {"spo2-low": as_signed()["spo2-low"]}},
        ],
    )
    def test_what_says_nothing_of_it_ends_no_doubt(
        self, sqlite_database: Database, instead: dict[str, Any]
    ) -> None:
        with sqlite_database.writing() as tx:
            a_signed_revision(tx)
            a_device(tx)
            a_report(tx, read_at=NOW + DAY)
            a_report(tx, read_at=NOW + 8 * DAY, **instead)
            astray(tx)

            assert story(tx).exposure.since == NOW + DAY

    def test_it_ends_when_it_is_contained(self, database: Database) -> None:
        with database.writing() as tx:
            astray(tx)
            (page,) = findings(tx, agency_id=a_person(tx).agency_id, now=FOUND_AT)
            move(
                tx,
                page.finding,
                FindingStatus.CONTAINED,
                a_person(tx),
                now=FOUND_AT + HOUR,
                note="card",
            )

            assert story(tx).exposure.until == FOUND_AT + HOUR

    def test_after_it_came_back_it_is_counted_anew(self, database: Database) -> None:
        with database.writing() as tx:
            a_finding(tx, FindingStatus.VERIFIED)
            again = a_report(tx, STRAYED, read_at=NOW + 4 * DAY)

            seen = story(tx)
            assert seen.as_found.report.id == again.id
            assert seen.exposure.since == NOW + 2 * HOUR
            assert seen.exposure.until is None


class TestSideBySide:
    def test_as_found_as_left_and_verified(self, database: Database) -> None:
        with database.writing() as tx:
            found = a_finding(tx, FindingStatus.CORRECTED)
            tess = a_person(tx, Role.TECHNICIAN)
            left = a_report(tx, by=tess, read_at=NOW + HOUR + MINUTE)
            a_report(tx, {"spo2-low": as_signed()["spo2-low"]}, by=tess, read_at=NOW + 90 * MINUTE)
            proof = a_report(tx, read_at=NOW + 2 * HOUR)
            femi = a_person(tx, Role.FLEET_MANAGER)
            move(tx, found, FindingStatus.VERIFIED, femi, now=NOW + 3 * HOUR)
            a_report(tx, by=tess, read_at=NOW + 4 * HOUR)

            seen = story(tx)
            assert seen.as_found.report.id == found.opened_by
            assert (seen.as_left and seen.as_left.report.id) == left.id
            assert (seen.proof and seen.proof.report.id) == proof.id

    def test_what_nobody_read_is_not_told(self, sqlite_database: Database) -> None:
        with sqlite_database.writing() as tx:
            a_finding(tx, FindingStatus.CORRECTED)

            assert (story(tx).as_left, story(tx).proof) == (None, None)


def test_both_findings_lead_to_each_other(database: Database) -> None:
    with database.writing() as tx:
        closed = a_finding(tx, FindingStatus.CLOSED)
        a_report(tx, STRAYED, read_at=NOW + DAY)
        before = story(tx, closed.id)
        assert before.recurred_as is not None
        after = story(tx, before.recurred_as)

    assert after.page.finding.recurred_from == closed.id
    assert after.recurred_as is None


class TestSiblings:
    def ties(self, tx: Session, number: int = 1) -> dict[str, tuple[Tie, ...]]:
        found = self.found(tx, number)
        return {one.device: one.ties for one in found.siblings}

    def found(self, tx: Session, number: int = 1) -> SiblingsAtRisk:
        return siblings_at_risk(tx, agency_id=a_person(tx).agency_id, finding_id=number)

    def others(self, tx: Session, *tags: str) -> None:
        """Of another model and station, so that nothing ties them yet."""
        a_signed_revision(tx)
        for tag in tags:
            other(tx, tag)

    def test_the_same_station(self, database: Database) -> None:
        with database.writing() as tx:
            self.others(tx, "air-1")
            a_device(tx, "boat-4", model="petrel")
            astray(tx)

            assert self.ties(tx) == {"boat-4": (Tie.STATION,)}

    def test_the_same_model_and_the_version_last_told(self, database: Database) -> None:
        with database.writing() as tx:
            self.others(tx, "air-1", "air-2", "air-3")
            for tag, told in (("air-1", ["3.1", "3.2"]), ("air-2", ["3.2", "3.3"])):
                for day, version in enumerate(told):
                    a_report(tx, device=tag, read_at=NOW + day * DAY, software=version)
            astray(tx)

            assert self.ties(tx) == {"air-1": (Tie.SOFTWARE,)}

    def test_what_was_read_since_is_no_longer_at_risk(self, database: Database) -> None:
        with database.writing() as tx:
            self.others(tx)
            for tag in ("boat-4", "boat-5"):
                a_device(tx, tag)
            astray(tx)
            a_report(tx, device="boat-4", read_at=FOUND_AT + MINUTE)
            in_use: dict[str, Any] = {"device": "boat-5", "state_read": StateRead.IN_USE}
            a_report(tx, read_at=FOUND_AT + MINUTE, **in_use)

            assert set(self.ties(tx)) == {"boat-5"}

    def test_who_found_it_right_read_others_that_day(self, database: Database) -> None:
        with database.writing() as tx:
            self.others(tx, "air-1", "air-2")
            a_device(tx)
            tess = a_person(tx, Role.TECHNICIAN)
            a_report(tx, by=tess, read_at=NOW)
            a_report(tx, by=tess, device="air-1", read_at=NOW + HOUR, software="9")
            a_report(tx, by=tess, device="air-2", read_at=NOW + DAY, software="9")
            astray(tx)

            assert self.ties(tx) == {"air-1": (Tie.READER,)}

    def test_who_last_corrected_it_corrected_others(self, database: Database) -> None:
        with database.writing() as tx:
            self.others(tx, "air-1")
            a_finding(tx, FindingStatus.CORRECTED)
            a_report(tx, STRAYED, device="air-1", read_at=NOW + HOUR, software="9")
            agency, tess = a_person(tx).agency_id, a_person(tx, Role.TECHNICIAN)
            (page,) = findings(tx, agency_id=agency, now=NOW, device="air-1")
            for to in (FindingStatus.CONTAINED, FindingStatus.CORRECTED):
                move(tx, page.finding, to, tess, now=NOW + 2 * HOUR, note="x")
            a_report(tx, STRAYED, read_at=FOUND_AT)

            assert self.ties(tx) == {"air-1": (Tie.CORRECTOR,)}

    def test_another_agency_has_no_part_in_it(self, sqlite_database: Database) -> None:
        with sqlite_database.writing() as tx:
            astray(tx)

            with pytest.raises(NotFound):
                siblings_at_risk(tx, agency_id=olu(tx).agency_id, finding_id=1)
            with pytest.raises(NotFound):
                finding_story(tx, agency_id=olu(tx).agency_id, finding_id=1, now=NOW)


def other(tx: Session, tag: str) -> None:
    femi = a_person(tx, Role.FLEET_MANAGER)
    add_device(tx, tag=tag, model="dunlin", station="South", by=femi, now=NOW)


def test_what_a_file_told_is_no_last_word_of_its_sender(sqlite_database: Database) -> None:
    """Femi took in a file of many devices on one day, which ties none of them to her."""
    with sqlite_database.writing() as tx:
        a_signed_revision(tx)
        other(tx, "air-1")
        a_device(tx)
        for tag in ("boat-3", "air-1"):
            a_report(tx, device=tag, read_at=NOW, origin=Origin.FILE, software="")
        astray(tx, software="")

        found = siblings_at_risk(tx, agency_id=a_person(tx).agency_id, finding_id=1)
    assert found.siblings == ()
    assert found.cut is False
