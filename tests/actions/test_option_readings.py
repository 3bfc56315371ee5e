"""What a device holds besides its alarms: taken in with the preset `*`, judged, and followed."""

from datetime import timedelta
from io import BytesIO
from typing import Any

import pytest
from sqlmodel import Session

from app.actions.reaudits import reaudit
from app.actions.report_files import take_file
from app.actions.reports import record_report
from app.domain.comparison import Direction
from app.domain.device_reports import FoundOn, FoundText, Origin, StateRead
from app.domain.errors import Refused
from app.domain.findings import Severity
from app.domain.known_devices import DeviceStatus
from app.domain.new_reports import NewReport
from app.domain.people import Role
from app.lookups.findings import findings
from app.lookups.fleet import device
from app.lookups.reaudits import reaudit_today
from app.storage.database import Database
from app.web.compared import compared
from tests.builders import NOW, a_device, a_document, a_person, a_signed_revision

HEADER = "device,read_at,state_read,preset,alarm,reading\n"
AT = "2026-03-02T09:00:00Z"
SIGNED: dict[str, Any] = {
    "audio-volume": {"value": 80, "reason": "heard at the crew's seat"},
    "longest-pause-s": {"value": 120, "reason": "so that it ends by itself"},
    "all-alarms-on-at-start": {"value": True, "reason": "nobody has to remember"},
    "default-lead": {"value": "II", "reason": "as taught"},
}
HELD = ("audio-volume,80", "longest-pause-s,120", "all-alarms-on-at-start,on", "default-lead,ii")


def ready(tx: Session) -> None:
    a_signed_revision(tx, document={**a_document(), "options": SIGNED})
    a_device(tx, "boat-3")


def a_file(*rows: str, at: str = AT) -> BytesIO:
    told = (f"boat-3,{at},power-on,*,{row}\n" for row in rows)
    return BytesIO((HEADER + "".join(told)).encode())


def taken(tx: Session, *rows: str) -> None:
    by = a_person(tx, Role.FLEET_MANAGER)
    take_file(tx, content=a_file(*rows), by=by, now=NOW + timedelta(hours=2))


def page(tx: Session) -> Any:
    agency = a_person(tx).agency_id
    return device(tx, agency_id=agency, tag="boat-3", now=NOW + timedelta(hours=2))


def open_ones(tx: Session) -> list[tuple[str, str, Direction, Severity]]:
    found = findings(tx, agency_id=a_person(tx).agency_id, now=NOW + timedelta(hours=2))
    return [
        (one.finding.preset, one.finding.alarm, one.finding.direction, one.finding.severity)
        for one in found
    ]


def test_what_holds_opens_nothing_and_is_no_preset_read(database: Database) -> None:
    with database.writing() as tx:
        ready(tx)
        taken(tx, *HELD)

        assert open_ones(tx) == []
        assert page(tx).now.presets_read == 0
        assert page(tx).status is DeviceStatus.NOT_JUDGED


@pytest.mark.parametrize(
    ("row", "severity"),
    [
        ("audio-volume,off", Severity.UNSAFE),
        ("audio-volume,0", Severity.UNSAFE),
        ("audio-volume,79", Severity.OFF_PROTOCOL),
        ("longest-pause-s,permanent", Severity.UNSAFE),
        ("longest-pause-s,180", Severity.OFF_PROTOCOL),
        ("all-alarms-on-at-start,off", Severity.UNSAFE),
        ("default-lead,III", Severity.OFF_PROTOCOL),
    ],
)
def test_what_strays_is_a_finding_as_grave_as_it_is(
    sqlite_database: Database, row: str, severity: Severity
) -> None:
    with sqlite_database.writing() as tx:
        ready(tx)
        taken(tx, row)

        option = row.partition(",")[0]
        assert open_ones(tx) == [("*", option, Direction.OTHER, severity)]
        unsafe = severity is Severity.UNSAFE
        assert page(tx).status is (DeviceStatus.UNSAFE if unsafe else DeviceStatus.DIFFERS)


def test_the_device_page_says_it_in_words(database: Database) -> None:
    with database.writing() as tx:
        ready(tx)
        taken(tx, "audio-volume,off", *HELD[1:])

        shown = compared(next(one.latest for one in page(tx).presets if one.preset == "*"))
    assert shown.preset == "all presets"
    (line,) = shown.deviating
    assert (line.label, line.signed, line.found) == ("Audio volume", "80 %", "off")
    assert line.sentence == (
        "The audio is off: an alarm is seen only by somebody who looks. "
        "Audio volume is off instead of 80 %."
    )
    assert shown.conforming == 3


def test_an_unread_option_is_told_and_is_no_finding(sqlite_database: Database) -> None:
    with sqlite_database.writing() as tx:
        ready(tx)
        taken(tx, "audio-volume,could-not-read: menu locked")

        assert open_ones(tx) == []
        assert page(tx).status is DeviceStatus.NOT_JUDGED


def test_what_is_no_option_is_told_by_its_line(sqlite_database: Database) -> None:
    with sqlite_database.writing() as tx:
        ready(tx)
        with pytest.raises(Refused) as refused:
            taken(tx, HELD[0], "heart-rate-low,50", "audio-volume", f"default-lead,{'x' * 201}")

    told = [(one.line, one.column) for one in refused.value.faults]
    assert told == [(3, "alarm"), (4, "row"), (5, "reading")]


def test_a_report_by_itself_is_judged_as_in_a_file(database: Database) -> None:
    with database.writing() as tx:
        ready(tx)
        report = NewReport(
            device="boat-3",
            preset="*",
            state_read=StateRead.POWER_ON,
            readings={"audio-volume": FoundText("off"), "longest-pause-s": FoundOn()},
            read_at=NOW,
            idempotency_key="one",
            origin=Origin.API,
        )
        record_report(tx, report=report, by=a_person(tx, Role.FLEET_MANAGER), now=NOW)

        assert [(alarm, severity) for _, alarm, _, severity in open_ones(tx)] == [
            ("audio-volume", Severity.UNSAFE),
            ("longest-pause-s", Severity.OFF_PROTOCOL),
        ]


def test_an_unknown_option_of_a_report_is_refused(sqlite_database: Database) -> None:
    with sqlite_database.writing() as tx:
        ready(tx)
        report = NewReport("boat-3", "*", StateRead.POWER_ON, {"colour": FoundText("x")}, NOW, "k")
        with pytest.raises(Refused, match="no such option"):
            record_report(tx, report=report, by=a_person(tx, Role.FLEET_MANAGER), now=NOW)


def test_a_re_audit_holds_options_as_well(database: Database) -> None:
    with database.writing() as tx:
        ready(tx)
        taken(tx, *HELD)
        changed = {**SIGNED, "audio-volume": {"value": 90, "reason": "louder"}}
        later = NOW + timedelta(hours=3)
        a_signed_revision(tx, document={**a_document(), "options": changed}, now=later)
        agency = a_person(tx).agency_id
        found = reaudit_today(tx, agency_id=agency, now=later + timedelta(hours=1)).found
        reaudit(tx, by=a_person(tx, Role.FLEET_MANAGER), now=later + timedelta(hours=1))

    assert found.today(Severity.OFF_PROTOCOL) == 1
    assert found.then(None) == 1
