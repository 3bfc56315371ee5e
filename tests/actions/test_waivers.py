from datetime import date
from typing import Any

import pytest
from sqlmodel import Session

from app.actions.revisions import edit_draft, move_revision, send_back
from app.actions.signing import sign_revision
from app.actions.waivers import waive_finding, withdraw_waiver
from app.domain.errors import NotAllowed, NotFound, NotNow, Refused
from app.domain.moves import RevisionStatus
from app.domain.people import Role
from app.domain.revisions import StoredRevision
from app.domain.signing import SigningTerms
from app.domain.waivers import Waiver
from app.lookups.policy import open_revision
from app.lookups.revisions import revision
from app.lookups.waivers import waivers_of
from app.storage.database import Database
from tests.builders import (
    DAY,
    NOW,
    PASSWORD,
    a_document,
    a_draft,
    a_person,
    a_revision_in_review,
    an_agency,
    olu,
)
from tests.storage.ledgers import bodies, deeds

UNSAFE = a_document({"heart-rate-high": 185})
UNTIL = date(2026, 9, 1)


def unsafe_keys(tx: Session, number: int) -> list[str]:
    found = open_revision(tx, agency_id=an_agency(tx).id, number=number, now=NOW)
    return [one.key for one in found.before_signing.unsafe]


def a_waiver(tx: Session, number: int, **instead: Any) -> Waiver:
    wanted: dict[str, Any] = {
        "reason": "until the spring delivery",
        "until": UNTIL,
        "by": a_person(tx),
        "now": NOW,
    } | instead
    if "finding" not in wanted:
        wanted["finding"] = unsafe_keys(tx, number)[0]
    return waive_finding(tx, number=number, **wanted)


def held(tx: Session, number: int) -> list[tuple[str, str]]:
    found = revision(tx, agency_id=an_agency(tx).id, number=number, now=NOW)
    return [(one.by_name, one.reason) for one in waivers_of(tx, found)]


def sign(tx: Session, number: int, terms: SigningTerms | None = None) -> StoredRevision:
    dana = a_person(tx)
    found = revision(tx, agency_id=dana.agency_id, number=number, now=NOW)
    return sign_revision(
        tx,
        number=number,
        fingerprint=found.fingerprint,
        meaning="Approved",
        password=PASSWORD,
        by=dana,
        now=NOW,
        terms=terms or SigningTerms(),
    )


def test_a_waived_finding_no_longer_blocks_and_the_signature_names_it(database: Database) -> None:
    with database.writing() as tx:
        number = a_revision_in_review(tx, document=UNSAFE).number
        waiver = a_waiver(tx, number)

        signed = sign(tx, number)

        assert signed.status is RevisionStatus.IN_FORCE
        assert held(tx, number) == [("Dana", "until the spring delivery")]
        told = bodies(tx)[-1]["about"]["waivers"]
        assert told == [
            {"finding": waiver.finding, "message": waiver.message, "until": "2026-09-01"}
        ]


def test_the_ledger_says_what_was_waived_why_and_how_long(database: Database) -> None:
    with database.writing() as tx:
        number = a_draft(tx, document=UNSAFE).number
        waiver = a_waiver(tx, number)

        entry = bodies(tx)[-1]

    assert (entry["did"], entry["by"]) == ("waive a finding", "dana")
    assert entry["about"]["finding"] == waiver.finding
    assert entry["about"]["reason"] == "until the spring delivery"
    assert entry["about"]["until"] == "2026-09-01"


def test_each_finding_is_waived_by_itself(database: Database) -> None:
    both = a_document({"heart-rate-high": 185, "heart-rate-low": 40})
    with database.writing() as tx:
        number = a_revision_in_review(tx, document=both).number
        first, second = unsafe_keys(tx, number)
        a_waiver(tx, number, finding=first)
        with pytest.raises(Refused) as refused:
            sign(tx, number)
        a_waiver(tx, number, finding=second)

        assert [fault.column for fault in refused.value.faults] == ["silent-gap"]
        assert sign(tx, number).status is RevisionStatus.IN_FORCE


def test_an_edit_of_the_limit_makes_the_waiver_void_and_the_next_signature_leaves_it(
    database: Database,
) -> None:
    with database.writing() as tx:
        draft = a_draft(tx, document=UNSAFE)
        a_waiver(tx, draft.number)
        anna = a_person(tx, Role.AUTHOR)
        edit_draft(
            tx,
            number=draft.number,
            document=a_document({"heart-rate-high": 190}),
            edit_version=draft.edit_version,
            by=anna,
            now=NOW,
        )
        move_revision(tx, number=draft.number, to=RevisionStatus.IN_REVIEW, by=anna, now=NOW)
        with pytest.raises(Refused):
            sign(tx, draft.number)
        a_waiver(tx, draft.number, reason="for 190")

        sign(tx, draft.number)

        assert held(tx, draft.number) == [("Dana", "for 190")]


def settings_of(**settings: dict[str, Any]) -> dict[str, Any]:
    document = a_document()
    named = {alarm.replace("_", "-"): setting for alarm, setting in settings.items()}
    document["settings"]["preschool"] |= named
    return document


def on(limit: float | None, priority: str = "medium", **more: Any) -> dict[str, Any]:
    told = {"delay_s": 0, "latching": False, "reason": "agreed", "source": "our board"}
    return {"state": "on", "limit": limit, "priority": priority, **told, **more}


OFF = {"state": "off", "reason": "artefact"}
FREE = {"from": 20, "to": 40, "off_by": "nobody"}


@pytest.mark.parametrize(
    ("rule", "waived", "edited"),
    [
        # pulse rate at 185 hides how far heart rate beside it moves
        (
            "silent-gap",
            settings_of(heart_rate_high=on(185), pulse_rate_high=on(185)),
            settings_of(heart_rate_high=on(190), pulse_rate_high=on(185)),
        ),
        (
            "silent-gap",
            settings_of(heart_rate_high=on(185), pulse_rate_high=on(185)),
            settings_of(heart_rate_high=OFF, pulse_rate_high=on(185)),
        ),
        ("life-threat-off", settings_of(asystole=on(None)), settings_of(asystole=on(None, "low"))),
        ("life-threat-off", settings_of(asystole=on(None)), settings_of(asystole=OFF)),
        (
            "life-threat-off",
            settings_of(asystole=OFF),
            settings_of(asystole={"state": "no-policy"}),
        ),
        (
            "latitude-breach",
            settings_of(apnoea=on(20, latitude=FREE)),
            settings_of(apnoea=on(28, latitude=FREE)),
        ),
        (
            "delay-long",
            settings_of(temperature_high=on(39, delay_s=31)),
            settings_of(temperature_high=on(41, delay_s=31)),
        ),
        (
            "limit-order",
            settings_of(etco2_low=on(40), etco2_high=on(40)),
            settings_of(etco2_low=on(40), etco2_high=on(40, "low")),
        ),
    ],
)
def test_a_waiver_of_one_setting_never_signs_another(
    database: Database, rule: str, waived: dict[str, Any], edited: dict[str, Any]
) -> None:
    with database.writing() as tx:
        draft = a_draft(tx, document=waived)
        for key in unsafe_keys(tx, draft.number):
            a_waiver(tx, draft.number, finding=key)
        anna = a_person(tx, Role.AUTHOR)
        version = draft.edit_version
        edit_draft(tx, number=draft.number, document=edited, edit_version=version, by=anna, now=NOW)
        move_revision(tx, number=draft.number, to=RevisionStatus.IN_REVIEW, by=anna, now=NOW)

        with pytest.raises(Refused) as refused:
            sign(tx, draft.number)
        assert rule in {fault.column for fault in refused.value.faults}
        for key in unsafe_keys(tx, draft.number):
            a_waiver(tx, draft.number, finding=key)

        assert sign(tx, draft.number).status is RevisionStatus.IN_FORCE


def test_a_waiver_stays_when_the_revision_is_sent_back(database: Database) -> None:
    with database.writing() as tx:
        number = a_revision_in_review(tx, document=UNSAFE).number
        a_waiver(tx, number)

        send_back(tx, number=number, reason="wait", by=a_person(tx, Role.REVIEWER), now=NOW)

        assert len(held(tx, number)) == 1


def test_a_waiver_that_ends_before_the_beginning_does_not_cover(database: Database) -> None:
    with database.writing() as tx:
        number = a_revision_in_review(tx, document=UNSAFE).number
        a_waiver(tx, number, until=date(2026, 3, 4))

        with pytest.raises(Refused, match="only until 4 Mar 2026"):
            sign(tx, number, SigningTerms(in_force_at=NOW + 3 * DAY))
        assert sign(tx, number, SigningTerms(in_force_at=NOW + 2 * DAY)).signed_at == NOW


def test_a_new_draft_starts_without_the_waivers_of_the_one_it_copies(database: Database) -> None:
    with database.writing() as tx:
        number = a_draft(tx, document=UNSAFE).number
        a_waiver(tx, number)

        copy = a_draft(tx, document=UNSAFE)

        assert held(tx, copy.number) == []


def test_a_waiver_is_withdrawn_before_the_signature_and_never_after(database: Database) -> None:
    with database.writing() as tx:
        number = a_revision_in_review(tx, document=UNSAFE).number
        dana = a_person(tx)
        first = a_waiver(tx, number)
        withdraw_waiver(tx, number=number, finding=first.finding, by=dana, now=NOW)
        assert held(tx, number) == []
        assert deeds(tx)[-1] == "withdraw a waiver"
        with pytest.raises(NotFound):
            withdraw_waiver(tx, number=number, finding=first.finding, by=dana, now=NOW)
        a_waiver(tx, number)
        sign(tx, number)

        with pytest.raises(NotNow, match="signed with it"):
            withdraw_waiver(tx, number=number, finding=first.finding, by=dana, now=NOW)
        with pytest.raises(NotNow, match="signed with it"):
            a_waiver(tx, number)


@pytest.mark.parametrize(
    ("instead", "column"),
    [
        ({"reason": " "}, "reason"),
        ({"until": date(2026, 3, 2)}, "until"),
        ({"until": date(2029, 3, 3)}, "until"),
    ],
)
def test_a_waiver_takes_a_reason_and_a_last_day(
    sqlite_database: Database, instead: dict[str, Any], column: str
) -> None:
    with sqlite_database.writing() as tx:
        number = a_draft(tx, document=UNSAFE).number

        with pytest.raises(Refused) as refused:
            a_waiver(tx, number, **instead)

    assert refused.value.faults[0].column == column


def test_nothing_is_waived_twice_or_that_is_not_found(database: Database) -> None:
    with database.writing() as tx:
        number = a_draft(tx, document=UNSAFE).number
        a_waiver(tx, number)

        with pytest.raises(NotNow, match="waived already"):
            a_waiver(tx, number)
        with pytest.raises(NotNow, match="no longer found"):
            a_waiver(tx, number, finding="0" * 64)


@pytest.mark.parametrize("role", sorted(set(Role) - {Role.MEDICAL_DIRECTOR}))
def test_only_the_medical_director_waives(sqlite_database: Database, role: Role) -> None:
    with sqlite_database.writing() as tx:
        number = a_draft(tx, document=UNSAFE).number
        waiver = a_waiver(tx, number)
        somebody = a_person(tx, role)

        with pytest.raises(NotAllowed):
            a_waiver(tx, number, by=somebody)
        with pytest.raises(NotAllowed):
            withdraw_waiver(tx, number=number, finding=waiver.finding, by=somebody, now=NOW)


def test_an_outsider_finds_no_revision_to_waive_in(database: Database) -> None:
    with database.writing() as tx:
        number = a_draft(tx, document=UNSAFE).number
        waiver = a_waiver(tx, number)

        with pytest.raises(NotFound):
            a_waiver(tx, number, finding=waiver.finding, by=olu(tx))
        with pytest.raises(NotFound):
            withdraw_waiver(tx, number=number, finding=waiver.finding, by=olu(tx), now=NOW)
