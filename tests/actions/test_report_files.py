"""A file is taken whole or not at all, and the same file again changes nothing."""

import json
from io import BytesIO

import pytest
import sqlalchemy as sa
from sqlmodel import Session, SQLModel

from app.actions.findings import move_finding
from app.actions.report_files import Taken, hold_upload, read_file, take_file, take_upload
from app.domain.device_reports import Origin
from app.domain.errors import Conflict, NotAllowed, NotNow, Refused
from app.domain.finding_life import FindingStatus
from app.domain.fleet import StoredReport
from app.domain.people import Role
from app.exchange import report_grouping
from app.lookups.findings import findings
from app.lookups.fleet import device
from app.storage.database import Database
from app.storage.report_origins import report_origin
from tests.builders import (
    DAY,
    HOUR,
    NOW,
    PRESET,
    a_device,
    a_document,
    a_person,
    a_report,
    a_signed_revision,
    as_signed,
    limit,
    olu,
)
from tests.reading_files import AT, BAD_ROWS, GOOD, LOOSER, UNREADABLE, a_file, a_whole_file, digest
from tests.storage.ledgers import bodies

STRAYED = a_whole_file(as_signed(heart_rate_high=limit(200)))


def ready(tx: Session) -> None:
    a_signed_revision(tx)
    a_device(tx)


def taken(
    tx: Session, content: bytes, *, good_rows: bool = False, role: Role | None = None
) -> Taken:
    by = a_person(tx, role or Role.FLEET_MANAGER)
    return take_file(tx, content=BytesIO(content), good_rows=good_rows, by=by, now=NOW)


def counted(tx: Session) -> dict[str, int]:
    tables = SQLModel.metadata.sorted_tables
    return {
        t.name: tx.execute(sa.select(sa.func.count()).select_from(t)).scalar_one() for t in tables
    }


def stored(tx: Session, tag: str = "boat-3") -> list[StoredReport]:
    page = device(tx, agency_id=a_person(tx).agency_id, tag=tag, now=NOW + DAY)
    return [one.report for one in page.reports]


def test_a_file_is_judged_and_opens_findings(database: Database) -> None:
    with database.writing() as tx:
        ready(tx)

        assert taken(tx, STRAYED) == Taken(new=1, known=0, readings=len(as_signed()), refused=0)

        (report,) = stored(tx)
        assert [str(one) for one in report.verdicts["heart-rate-high"]] == ["looser", "unsafe"]
        (found,) = findings(tx, agency_id=a_person(tx).agency_id, now=NOW)
        assert (found.finding.preset, found.finding.alarm) == (PRESET, "heart-rate-high")


def test_what_the_file_tells_besides_is_kept_with_its_origin(database: Database) -> None:
    row = f"{GOOD},Tess at the bench,4.1,After service,12,2026-03-02 08:58"
    with database.writing() as tx:
        ready(tx)
        taken(tx, a_file(row, more=",reader,software,trigger,minutes_off,device_clock"))

        (report,) = stored(tx)
    assert report.origin is Origin.FILE
    assert (report.reader, report.reader_told) == ("Femi", "Tess at the bench")
    assert report.read_by == "Tess at the bench (sent in by Femi)"
    assert (report.software, report.trigger) == ("4.1", "After service")
    assert (report.minutes_off, report.device_clock) == (12, "2026-03-02 08:58")


def test_the_same_file_again_changes_nothing(database: Database) -> None:
    with database.writing() as tx:
        ready(tx)
        a_person(tx, Role.TECHNICIAN)
        taken(tx, STRAYED)
        before = counted(tx)

        again = taken(tx, STRAYED, role=Role.TECHNICIAN)

        assert again == Taken(new=0, known=1, readings=0, refused=0)
        assert counted(tx) == before


def test_the_same_readings_written_otherwise_are_known(database: Database) -> None:
    with database.writing() as tx:
        ready(tx)
        taken(tx, a_file(GOOD))

        again = taken(tx, a_file(f"{GOOD}.0".replace(AT, "2026-03-02T10:00:00+01:00")))

    assert (again.new, again.known) == (0, 1)


def test_other_readings_at_the_same_time_are_refused_by_their_line(database: Database) -> None:
    with database.writing() as tx:
        ready(tx)
        taken(tx, a_file(GOOD))

        with pytest.raises(Refused) as refused:
            taken(tx, a_file(LOOSER))

    assert [str(fault) for fault in refused.value.faults] == [
        f"line 2, read_at: boat-3 has another report of {PRESET} at that time already"
    ]


def test_one_bad_row_stores_nothing_of_the_others(database: Database) -> None:
    with database.writing() as tx:
        ready(tx)
    with database.writing() as tx:
        before = counted(tx)
    with pytest.raises(Refused), database.writing() as tx:
        taken(tx, a_file(GOOD, BAD_ROWS["NaN"][0]))

    with database.writing() as tx:
        assert counted(tx) == before


def test_the_good_rows_are_taken_if_they_are_asked_for(database: Database) -> None:
    with database.writing() as tx:
        ready(tx)

        found = taken(tx, a_file(GOOD, *(row for row, _ in BAD_ROWS.values())), good_rows=True)

        assert (found.new, found.readings, found.refused) == (1, 1, len(BAD_ROWS))
        assert [list(report.readings) for report in stored(tx)] == [["heart-rate-high"]]


@pytest.mark.parametrize("name", BAD_ROWS)
def test_a_bad_row_is_told_by_line_and_column(sqlite_database: Database, name: str) -> None:
    row, why = BAD_ROWS[name]
    with sqlite_database.writing() as tx:
        ready(tx)
        before = counted(tx)

        with pytest.raises(Refused) as refused:
            taken(tx, a_file(GOOD, row))

        assert [str(fault) for fault in refused.value.faults] == [f"line 3, {why}"]
        assert counted(tx) == before


@pytest.mark.parametrize("name", UNREADABLE)
def test_of_what_cannot_be_read_not_even_good_rows_are_taken(
    sqlite_database: Database, name: str
) -> None:
    content, why = UNREADABLE[name]
    with sqlite_database.writing() as tx:
        ready(tx)
        before = counted(tx)

        with pytest.raises(Refused) as refused:
            taken(tx, content, good_rows=True)

        assert why in str(refused.value)
        assert counted(tx) == before


@pytest.mark.parametrize(
    ("more", "cells", "why"),
    [
        (",model", ",petrel", "line 2, model: this device is a dunlin here"),
        (",minutes_off", ",a while", "line 2, minutes_off: must be a whole number of minutes"),
        (",minutes_off", ",-1", "line 2, minutes_off: must be a whole number of minutes"),
        (",reader", f",{'x' * 201}", "line 2, reader: is longer than 200 characters"),
        (",unit", ",mm[Hg]", "line 2, unit: must be /min"),
    ],
)
def test_an_optional_cell_is_held_to_its_meaning(
    sqlite_database: Database, more: str, cells: str, why: str
) -> None:
    with sqlite_database.writing() as tx:
        ready(tx)

        with pytest.raises(Refused) as refused:
            taken(tx, a_file(GOOD + cells, more=more))

    assert [str(fault) for fault in refused.value.faults] == [why]


def test_a_row_twice_and_two_softwares_of_one_report_are_told(sqlite_database: Database) -> None:
    other = GOOD.replace("heart-rate-high,170", "heart-rate-low,75")
    with sqlite_database.writing() as tx:
        ready(tx)

        with pytest.raises(Refused) as refused:
            taken(tx, a_file(f"{GOOD},4.1", f"{GOOD},4.1", f"{other},4.2", more=",software"))

    assert [str(fault) for fault in refused.value.faults] == [
        "line 3, alarm: the same reading already stands in line 2",
        "line 4, software: differs from line 2, which is of the same report",
    ]


def test_a_preset_is_looked_for_in_the_policy_of_that_time(sqlite_database: Database) -> None:
    long_ago = GOOD.replace(AT, "2026-01-01T09:00:00Z").replace(PRESET, "OLD")
    with sqlite_database.writing() as tx:
        ready(tx)
        taken(tx, a_file(long_ago))

        (report,) = stored(tx)
    assert (report.preset, report.revision, report.verdicts) == ("OLD", None, {})


def test_the_latest_of_a_file_is_what_the_device_holds(sqlite_database: Database) -> None:
    earlier = LOOSER.replace(AT, "2026-03-02T09:00:00.5Z")
    with sqlite_database.writing() as tx:
        ready(tx)
        rows = a_file(earlier, GOOD)
        take_file(tx, content=BytesIO(rows), by=a_person(tx, Role.FLEET_MANAGER), now=NOW + HOUR)

        page = device(tx, agency_id=a_person(tx).agency_id, tag="boat-3", now=NOW + DAY)
    assert page.now is not None
    assert page.now.readings[PRESET, "heart-rate-high"] == limit(200)


def test_a_file_verifies_no_finding(database: Database) -> None:
    with database.writing() as tx:
        ready(tx)
        a_report(tx, as_signed(heart_rate_high=limit(200)), read_at=NOW)
        femi = a_person(tx, Role.FLEET_MANAGER)
        (found,) = findings(tx, agency_id=femi.agency_id, now=NOW)
        for to in (FindingStatus.CONTAINED, FindingStatus.CORRECTED):
            move_finding(tx, finding_id=found.finding.id, to=to, note="set right", by=femi, now=NOW)
        later = a_whole_file().replace(b"09:00:00Z", b"10:00:00Z")
        tess = a_person(tx, Role.TECHNICIAN)
        take_file(tx, content=BytesIO(later), by=tess, now=NOW + 2 * HOUR)

        with pytest.raises(NotNow, match="Nobody but Femi has read"):
            move_finding(
                tx,
                finding_id=found.finding.id,
                to=FindingStatus.VERIFIED,
                by=tess,
                now=NOW + 2 * HOUR,
                note="",
            )


def test_the_ledger_tells_which_reports_and_then_the_file(database: Database) -> None:
    with database.writing() as tx:
        ready(tx)
        taken(tx, STRAYED)

        (report,) = stored(tx)
        entry, file = bodies(tx)[-2:]
    assert entry["did"] == "store reports of a file"
    assert (entry["about"]["reports"], entry["about"]["count"]) == ([[report.id, report.id]], 1)
    assert entry["about"]["file"] == digest(STRAYED)
    assert file["did"] == "take in a file of readings"
    assert file["about"]["fingerprint"] == digest(STRAYED)


@pytest.mark.parametrize(
    ("role", "allowed"),
    [
        (Role.FLEET_MANAGER, True),
        (Role.TECHNICIAN, True),
        (Role.CREW, False),
        (Role.MEDICAL_DIRECTOR, False),
        (Role.ADMINISTRATOR, False),
    ],
)
def test_who_takes_files_in(sqlite_database: Database, role: Role, allowed: bool) -> None:
    with sqlite_database.writing() as tx:
        ready(tx)

        if allowed:
            assert taken(tx, a_file(GOOD), role=role).new == 1
        else:
            with pytest.raises(NotAllowed):
                taken(tx, a_file(GOOD), role=role)


class TestHolding:
    def test_what_is_taken_is_what_was_shown_and_only_once(self, database: Database) -> None:
        with database.writing() as tx:
            ready(tx)
            femi, shown = a_person(tx, Role.FLEET_MANAGER), digest(STRAYED)
            hold_upload(tx, name="round.csv", content=BytesIO(STRAYED), by=femi, now=NOW)

            found = take_upload(tx, fingerprint=shown, good_rows=False, by=femi, now=NOW)

            assert found.new == 1
            with pytest.raises(NotNow):
                take_upload(tx, fingerprint=shown, good_rows=False, by=femi, now=NOW)

    def test_another_file_chosen_since_is_no_surprise(self, database: Database) -> None:
        with database.writing() as tx:
            ready(tx)
            femi = a_person(tx, Role.FLEET_MANAGER)
            for content in (STRAYED, a_file(GOOD)):
                hold_upload(tx, name="round.csv", content=BytesIO(content), by=femi, now=NOW)

            with pytest.raises(Conflict, match="another file since"):
                take_upload(tx, fingerprint=digest(STRAYED), good_rows=False, by=femi, now=NOW)

    @pytest.mark.parametrize(("waited", "kept"), [(HOUR - HOUR / 60, True), (HOUR, False)])
    def test_it_is_kept_for_an_hour(
        self, sqlite_database: Database, waited: object, kept: bool
    ) -> None:
        with sqlite_database.writing() as tx:
            ready(tx)
            femi, shown = a_person(tx, Role.FLEET_MANAGER), digest(STRAYED)
            hold_upload(tx, name="round.csv", content=BytesIO(STRAYED), by=femi, now=NOW)
            later = NOW + waited  # type: ignore[operator]

            if kept:
                take_upload(tx, fingerprint=shown, good_rows=False, by=femi, now=later)
            else:
                with pytest.raises(NotNow, match="kept no longer"):
                    take_upload(tx, fingerprint=shown, good_rows=False, by=femi, now=later)

    def test_nobody_takes_the_file_of_another(self, sqlite_database: Database) -> None:
        with sqlite_database.writing() as tx:
            ready(tx)
            femi, shown = a_person(tx, Role.FLEET_MANAGER), digest(STRAYED)
            hold_upload(tx, name="round.csv", content=BytesIO(STRAYED), by=femi, now=NOW)

            for other in (a_person(tx, Role.TECHNICIAN), olu(tx)):
                with pytest.raises(NotNow):
                    take_upload(tx, fingerprint=shown, good_rows=False, by=other, now=NOW)


@pytest.mark.parametrize(("reports", "fits"), [(2, True), (3, False)])
def test_more_reports_than_can_be_stored_at_once_are_told(
    sqlite_database: Database, monkeypatch: pytest.MonkeyPatch, reports: int, fits: bool
) -> None:
    monkeypatch.setattr(report_grouping, "MOST_REPORTS", 2)
    rows = [GOOD.replace("09:00:00Z", f"08:0{minute}:00Z") for minute in range(reports)]
    with sqlite_database.writing() as tx:
        ready(tx)

        if fits:
            assert taken(tx, a_file(*rows)).new == 2
        else:
            with pytest.raises(Refused, match="holds more than 2 reports"):
                taken(tx, a_file(*rows))


class TestReadBefore:
    """A file is read and judged before anything is locked; what changed meanwhile counts."""

    def test_a_policy_that_came_since_judges(self, database: Database) -> None:
        with database.writing() as tx:
            ready(tx)
            femi = a_person(tx, Role.FLEET_MANAGER)
        with database.reading() as tx:
            read = read_file(tx, content=BytesIO(STRAYED), by=femi, now=NOW)
        with database.writing() as tx:
            a_signed_revision(tx, document=a_document({"heart-rate-high": 175}))

        with database.writing() as tx:
            take_file(tx, content=BytesIO(STRAYED), by=femi, now=NOW, read=read)

            (report,) = stored(tx)
        assert report.revision == 2

    def test_a_report_that_came_since_is_known(self, database: Database) -> None:
        with database.writing() as tx:
            ready(tx)
            femi = a_person(tx, Role.FLEET_MANAGER)
        with database.reading() as tx:
            read = read_file(tx, content=BytesIO(STRAYED), by=femi, now=NOW)
        with database.writing() as tx:
            taken(tx, STRAYED)

        with database.writing() as tx:
            again = take_file(tx, content=BytesIO(STRAYED), by=femi, now=NOW, read=read)

        assert (again.new, again.known) == (0, 1)

    def test_the_rest_is_judged_as_it_was(self, database: Database) -> None:
        rest = STRAYED.replace(b"boat-3", b"boat-4").partition(b"\n")[2]
        with database.writing() as tx:
            ready(tx)
            a_device(tx, "boat-4")
            femi = a_person(tx, Role.FLEET_MANAGER)
        with database.reading() as tx:
            read = read_file(tx, content=BytesIO(STRAYED + rest), by=femi, now=NOW)
        with database.writing() as tx:
            taken(tx, STRAYED)

        with database.writing() as tx:
            again = take_file(tx, content=BytesIO(STRAYED + rest), by=femi, now=NOW, read=read)
            (before,), (other,) = stored(tx), stored(tx, "boat-4")

        assert (again.new, again.known) == (1, 1)
        assert other.verdicts == before.verdicts != {}

    def test_where_nothing_changed_nothing_is_asked_again(
        self, database: Database, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        with database.writing() as tx:
            ready(tx)
            femi = a_person(tx, Role.FLEET_MANAGER)
        with database.reading() as tx:
            read = read_file(tx, content=BytesIO(STRAYED), by=femi, now=NOW)
        for asks in ("_known", "_beside"):
            monkeypatch.setattr(f"app.actions.report_files.{asks}", None)

        with database.writing() as tx:
            again = take_file(tx, content=BytesIO(STRAYED), by=femi, now=NOW, read=read)

        assert again.new == 1


def test_every_report_leads_to_its_input_and_its_place_in_the_file(database: Database) -> None:
    other = GOOD.replace("heart-rate-high,170", "spo2-low,90.0").replace(PRESET, "adult")
    spo2 = GOOD.replace("heart-rate-high,170", "spo2-low,90")
    content = a_file(GOOD, other, spo2)
    with database.writing() as tx:
        ready(tx)
        taken(tx, content)

        found = {one.preset: report_origin(tx, one.id) for one in stored(tx)}

    assert found[PRESET].lines == "2,4"
    assert found["adult"].lines == "3"
    assert {one.fingerprint for one in found.values()} == {digest(content)}
    assert json.loads(found["adult"].text)["readings"]["spo2-low"]["limit"] == "90.0"


def test_what_thousands_found_alike_is_kept_once(database: Database) -> None:
    with database.writing() as tx:
        ready(tx)
        a_device(tx, "boat-4")
        taken(tx, STRAYED)
        taken(tx, STRAYED.replace(b"boat-3", b"boat-4"))

        kept = counted(tx)

    assert (kept["report"], kept["report_input"], kept["sent_file"]) == (2, 1, 2)
