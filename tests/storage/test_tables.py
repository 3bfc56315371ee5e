"""The database repeats the rules that must never break; each is tried here, past all our code."""

from io import BytesIO

import pytest
import sqlalchemy as sa
from sqlalchemy.exc import IntegrityError
from sqlmodel import Session, SQLModel

from app.actions.acknowledgements import acknowledge
from app.actions.answered_requests import once
from app.actions.api_tokens import give_token
from app.actions.cards import collect_cards
from app.actions.column_maps import save_column_map
from app.actions.crew_codes import set_crew_code
from app.actions.device_changes import change_loan, change_software
from app.actions.drills import finish_drill
from app.actions.finding_words import accept_finding, assign_finding
from app.actions.invitations import make_link
from app.actions.long_work import ask_reaudit
from app.actions.people import make_setup_link
from app.actions.quarantines import (
    Passed,
    go_on_without_log,
    hand_over,
    keep_log,
    place_in_quarantine,
    release_device,
)
from app.actions.reaudits import reaudit
from app.actions.report_files import hold_upload, take_file
from app.actions.revision_comments import add_comment, resolve_comment
from app.actions.revisions import record_review
from app.actions.shift_checks import put_right
from app.actions.sign_ins import sign_in
from app.domain.column_maps import ColumnMap
from app.domain.devices import Loan
from app.domain.errors import NotSignedIn
from app.domain.finding_life import FindingStatus
from app.domain.people import Person, Role, Scope
from app.domain.shift_questions import Answer, Question
from app.exchange.reports_csv import REQUIRED
from app.lookups.findings import findings
from app.storage import tables
from app.storage.database import Database
from app.storage.engine import for_writing
from tests.actions.test_cards import a_print
from tests.actions.test_clearances import override
from tests.actions.test_draws import a_draw
from tests.actions.test_drills import right_answers
from tests.actions.test_findings import STRAYED, a_finding
from tests.actions.test_model_records import record
from tests.actions.test_readings import begun, look
from tests.actions.test_waivers import a_waiver, unsafe_keys
from tests.adopted_bounds import adopted_bounds, drafted_bounds
from tests.builders import (
    DAY,
    NOW,
    PASSWORD,
    PRESET,
    a_device,
    a_document,
    a_draft,
    a_person,
    a_report,
    a_revision_in_review,
)
from tests.reading_files import a_whole_file
from tests.recorded import a_recording, an_evidence
from tests.shift_checks import a_check, queued
from tests.storage.ledgers import lift_guard

UNSAFE = a_document({"heart-rate-high": 185, "heart-rate-low": 40})
LONG_AGO = "'2000-01-01 00:00:00+00'"
BROKEN = {
    "agency": {
        "key_filled": "key = ''",
        "name_filled": "name = ''",
        "time_zone_filled": "time_zone = ''",
        "choices_filled": "choices = ''",
    },
    "person": {
        "username_filled": "username = ''",
        "name_filled": "name = ''",
        "password_hash_filled": "password_hash = ''",
        "username_small": "username = 'Dana'",
    },
    "person_role": {"role_known": "role = 'pilot'"},
    "sign_in": {
        "token_hash_is_sha256": "token_hash = 'the token itself'",
        "expires_later": "expires_at = created_at",
    },
    "sign_in_failure": {
        "subject_is_sha256": "subject = 'dana'",
        "failures_positive": "failures = 0",
    },
    "invitation": {
        "token_hash_is_sha256": "token_hash = 'the token itself'",
        "expires_later": "expires_at = created_at",
    },
    "setup_link": {
        "token_hash_is_sha256": "token_hash = 'the token itself'",
        "expires_later": "expires_at = created_at",
    },
    "revision": {
        "status_known": "status = 'approved' WHERE status = 'signed'",
        "document_filled": "document = ''",
        "fingerprint_is_sha256": "fingerprint = 'abc'",
        "reviewed_by_with_reviewed_at": "reviewed_at = NULL WHERE status = 'in-review'",
        "signed_at_with_in_force_at": "in_force_at = NULL WHERE status = 'signed'",
        "never_before_signing": f"in_force_at = {LONG_AGO} WHERE status = 'signed'",
        "signed_has_time": "status = 'draft' WHERE status = 'signed'",
        "withdrawn_has_time": "status = 'withdrawn' WHERE status = 'signed'",
        "number_positive": "number = 0 WHERE status = 'signed'",
        "edit_version_positive": "edit_version = 0",
        "signed_at_with_review_by": "review_by = NULL WHERE status = 'signed'",
        "emergency_filled": "emergency = '' WHERE status = 'signed'",
        "emergency_is_signed": "emergency = 'now' WHERE status = 'in-review'",
    },
    "waiver": {
        "finding_is_sha256": "finding = 'abc'",
        "rule_filled": "rule = ''",
        "message_filled": "message = ''",
        "reason_filled": "reason = ''",
        "name_filled": "name = ''",
    },
    "revision_comment": {
        "text_filled": "text = ''",
        "name_filled": "name = ''",
        "done_filled": "done = ''",
        "category_with_alarm": "alarm = NULL",
        "resolved_by_with_resolved_at": "resolved_by = NULL",
        "resolver_with_resolved_at": "resolver = NULL",
        "done_with_resolved_at": "done = NULL",
    },
    "signature": {
        "username_filled": "username = ''",
        "name_filled": "name = ''",
        "roles_filled": "roles = ''",
        "meaning_filled": "meaning = ''",
        "fingerprint_is_sha256": "fingerprint = 'abc'",
    },
    "outer_bounds": {
        "status_known": "status = 'approved' WHERE status = 'draft'",
        "text_filled": "text = ''",
        "fingerprint_is_sha256": "fingerprint = 'abc'",
        "number_positive": "number = 0 WHERE status = 'signed'",
        "signed_by_with_signed_at": "signed_by = NULL WHERE status = 'signed'",
        "signer_username_with_signed_at": "signer_username = NULL WHERE status = 'signed'",
        "signer_name_with_signed_at": "signer_name = NULL WHERE status = 'signed'",
        "signer_roles_with_signed_at": "signer_roles = NULL WHERE status = 'signed'",
        "meaning_with_signed_at": "meaning = NULL WHERE status = 'signed'",
        "signed_at_with_in_force_at": "in_force_at = NULL WHERE status = 'signed'",
        "signer_username_filled": "signer_username = '' WHERE status = 'signed'",
        "signer_name_filled": "signer_name = '' WHERE status = 'signed'",
        "signer_roles_filled": "signer_roles = '' WHERE status = 'signed'",
        "meaning_filled": "meaning = '' WHERE status = 'signed'",
        "signed_has_time": "status = 'draft' WHERE status = 'signed'",
        "never_before_signing": f"in_force_at = {LONG_AGO} WHERE status = 'signed'",
        "two_people": "signed_by = author_id WHERE status = 'signed'",
    },
    "device": {
        "tag_filled": "tag = ''",
        "model_filled": "model = ''",
        "station_filled": "station = ''",
        "owner_filled": "owner = ''",
        "status_known": "status = 'lost'",
        "cause_known": "cause = 'rumour' WHERE cause IS NOT NULL",
        "owner_with_loan_from": "owner = NULL WHERE owner IS NOT NULL",
        "loan_ends_later": "loan_until = '2000-01-01' WHERE owner IS NOT NULL",
        "cause_with_cause_at": "cause = NULL WHERE cause IS NOT NULL",
        "cleared_after_cause": f"cleared_at = {LONG_AGO} WHERE cause IS NOT NULL",
    },
    "device_change": {
        "kind_known": "kind = 'painted'",
        "changes_filled": "changes = ''",
        "name_filled": "name = ''",
    },
    "clearance_override": {
        "state_known": "state = 'not-cleared'",
        "reason_filled": "reason = ''",
        "name_filled": "name = ''",
    },
    "model_record": {
        "key_filled": "key = ''",
        "facts_filled": "facts = ''",
        "name_filled": "name = ''",
    },
    "recording": {
        "name_filled": "name = ''",
        "category_filled": "category = ''",
        "vital_signs_filled": "vital_signs = ''",
        "fingerprint_is_sha256": "fingerprint = 'abc'",
        "number_positive": "number = 0",
        "patients_positive": "patients = 0",
        "rows_for_patients": "row_count = patients - 1",
        "step_positive": "step_s = 0",
        "content_filled": "content = ''",
    },
    "evidence": {
        "category_filled": "category = ''",
        "question_is_sha256": "question = 'abc'",
        "policy_is_sha256": "policy = 'abc'",
        "bounds_is_sha256": "bounds = 'abc'",
        "recordings_is_sha256": "recordings = 'abc'",
        "document_filled": "document = ''",
    },
    "layout": {
        "fingerprint_is_sha256": "fingerprint = 'abc'",
        "columns_filled": "columns = ''",
    },
    "report": {
        "state_read_known": "state_read = 'asleep'",
        "origin_known": "origin = 'rumour'",
        "preset_filled": "preset = ''",
        "model_filled": "model = ''",
        "idempotency_key_filled": "idempotency_key = '' WHERE id = 1",
        "read_before_received": f"received_at = {LONG_AGO}",
        "minutes_off_not_negative": "minutes_off = -1",
        "vals_filled": "vals = ''",
        "raw_or_input": "raw = '' WHERE raw IS NULL",
        "input_id_with_file_id": "input_id = NULL, raw = '' WHERE raw IS NULL",
        "file_id_with_file_lines": "file_lines = NULL WHERE raw IS NULL",
    },
    "report_input": {
        "digest_is_sha256": "digest = 'abc'",
        "content_filled": "content = ''",
    },
    "sent_file": {"fingerprint_is_sha256": "fingerprint = 'abc'"},
    "reading_session": {
        "state_read_known": "state_read = 'asleep'",
        "trigger_known": "\"trigger\" = 'because'",
        "status_known": "status = 'lost'",
        "preset_filled": "preset = ''",
        "software_filled": "software = ''",
        "idempotency_key_filled": "idempotency_key = ''",
        "minutes_off_not_negative": "minutes_off = -1",
        "die_is_a_percentage": "die = 100",
        "counts_fit": "confirmed = flags + 1",
    },
    "reading_look": {
        "asked_filled": "asked = ''",
        "other_than_filled": "other_than = ''",
        "closely_filled": "closely = ''",
        "number_in_reach": "number = number + 3",
    },
    "long_work": {
        "kind_known": "kind = 'rest'",
        "state_known": "state = 'asleep'",
        "tries_not_negative": "tries = -1",
        "ended_when_over": "ended_at = asked_at",
        "outcome_when_done": "outcome = '{}'",
        "failure_when_failed": "failure = '{}'",
    },
    "reaudit": {"bounds_filled": "bounds = ''", "devices_counted": "devices = -1"},
    "shift_check": {
        "idempotency_key_filled": "idempotency_key = ''",
        "answers_filled": "answers = ''",
        "found_filled": "found = ''",
        "phone_filled": "phone = ''",
        "put_right_note_filled": "put_right_note = ''",
        "fingerprint_is_sha256": "fingerprint = 'abc'",
        "unread_not_negative": "unread = -1",
        "not_fitted_not_negative": "not_fitted = -1",
        "number_positive": "number = 0",
        "read_before_received": f"received_at = {LONG_AGO}",
        "put_right_by_another": "put_right_by = person_id",
        "phone_with_number": "phone = NULL",
        "locked_at_with_number": "locked_at = NULL",
        "sent_at_with_number": "sent_at = NULL",
        "put_right_by_with_put_right_at": "put_right_by = NULL",
        "put_right_note_with_put_right_at": "put_right_note = NULL",
    },
    "api_token": {
        "name_filled": "name = ''",
        "scopes_filled": "scopes = ''",
        "token_hash_is_sha256": "token_hash = 'abc'",
        "expires_later": "expires_at = created_at",
    },
    "answered_request": {
        "key_filled": "key = ''",
        "answer_filled": "answer = ''",
        "fingerprint_is_sha256": "fingerprint = 'abc'",
    },
    "column_map": {
        "source_filled": "source = ''",
        "document_filled": "document = ''",
        "signature_is_sha256": "signature = 'abc'",
    },
    "pending_upload": {
        "preview_filled": "preview = ''",
        "content_filled": "content = ''",
        "fingerprint_is_sha256": "fingerprint = 'abc'",
    },
    "deviation": {
        "alarm_filled": "alarm = ''",
        "direction_known": "direction = 'sideways'",
        "severity_known": "severity = 'dire'",
    },
    "device_presets": {"presets_filled": "presets = ''"},
    "device_now": {
        "worst_known": "worst = 'dire'",
        "counts_not_negative": "missing = -1",
        "presets_read_not_negative": "presets_read = -1",
        "model_filled": "model = ''",
        "latest_not_before_oldest": f"latest_read_at = {LONG_AGO}",
        "vals_filled": "vals = ''",
    },
    "finding": {
        "preset_filled": "preset = ''",
        "alarm_filled": "alarm = ''",
        "direction_known": "direction = 'sideways'",
        "severity_known": "severity = 'dire'",
        "status_known": "status = 'lost' WHERE status = 'open'",
        "contained_by_with_contained_at": "contained_by = NULL WHERE status = 'closed'",
        "corrected_by_with_corrected_at": "corrected_at = NULL WHERE status = 'closed'",
        "verified_by_with_verified_at": "verified_at = NULL WHERE status = 'closed'",
        "verified_by_with_verified_report_id": "verified_report_id = NULL WHERE status = 'closed'",
        "closed_by_with_closed_at": "closed_by = NULL WHERE status = 'closed'",
        "closed_has_time": "status = 'closed' WHERE status = 'open'",
        "kind_known": "kind = 'rumour' WHERE status = 'open'",
        "cause_known": "cause = 'ghosts'",
        "heard_known": "heard = 'perhaps' WHERE status = 'closed'",
        "seen_known": "seen = 'perhaps' WHERE status = 'closed'",
        "heard_with_seen": "heard = NULL WHERE status = 'closed'",
        "accepted_reason_filled": "accepted_reason = '' WHERE status = 'open'",
        "accepted_by_with_accepted_reason": "accepted_by = NULL WHERE status = 'open'",
        "accepted_at_with_accepted_reason": "accepted_at = NULL WHERE status = 'open'",
        "accepted_until_with_accepted_reason": "accepted_until = NULL WHERE status = 'open'",
        "acceptance_ends_at_with_accepted_reason": (
            "acceptance_ends_at = NULL WHERE status = 'open'"
        ),
        "look_again_at_with_closed_at": "look_again_at = NULL WHERE status = 'closed'",
        "look_last_at_with_closed_at": "look_last_at = NULL WHERE status = 'closed'",
        "contained_before_verified": f"verify_due_at = {LONG_AGO}",
        "recurrences_not_negative": "recurrences = -1",
    },
    "finding_event": {
        "kind_known": "kind = 'forgotten'",
        "name_filled": "name = ''",
    },
    "quarantine": {
        "reason_filled": "reason = ''",
        "log_place_filled": "log_place = ''",
        "log_waived_reason_filled": "log_waived_reason = ''",
        "release_reason_filled": "release_reason = ''",
        "log_fingerprint_is_sha256": "log_fingerprint = 'abc'",
        "log_fingerprint_with_log_at": "log_fingerprint = NULL",
        "log_place_with_log_at": "log_place = NULL",
        "log_by_with_log_at": "log_by = NULL",
        "log_waived_by_with_log_waived_at": "log_waived_by = NULL",
        "log_waived_reason_with_log_waived_at": "log_waived_reason = NULL",
        "released_by_with_released_at": "released_by = NULL",
        "release_reason_with_released_at": "release_reason = NULL",
    },
    "custody": {
        "given_by_filled": "given_by = ''",
        "taken_by_filled": "taken_by = ''",
        "place_filled": "place = ''",
        "told_afterwards": f"recorded_at = {LONG_AGO}",
    },
    "ledger": {
        "agency_filled": "agency = '' WHERE seq = 1",
        "body_filled": "body = ''",
        "prev_is_sha256": "prev = 'abc'",
        "hash_is_sha256": "hash = 'abc'",
        "seq_positive": "seq = 0 WHERE seq = 1",
    },
    "card_print": {
        "size_known": "size = 'a1'",
        "collected_by_with_collected_at": "collected_by = printed_by WHERE collected_at IS NULL",
        "number_positive": "number = 0 WHERE number = 1",
        "copies_positive": "copies = 0",
        "collected_after_printing": f"collected_at = {LONG_AGO} WHERE collected_at IS NOT NULL",
    },
    "crew_code": {"code_hash_filled": "code_hash = ''"},
    "acknowledgement": {"station_filled": "station = ''"},
    "drill": {"seed_filled": "seed = ''", "answers_filled": "answers = ''"},
    "draw": {
        "strata_known": "strata = 'wing'",
        "listed_filled": "listed = ''",
        "chosen_filled": "chosen = ''",
        "seed_filled": "seed = ''",
        "confidence_filled": "confidence = ''",
        "fingerprint_is_sha256": "fingerprint = 'abc'",
        "number_positive": "number = 0",
    },
    "ledger_head": {
        "agency_filled": "agency = '' WHERE agency = 'skerry'",
        "hash_is_sha256": "hash = 'abc'",
        "seq_not_negative": "seq = -1",
    },
}


@pytest.fixture
def full(database: Database) -> Database:
    """At least one row in every table, and every nullable foreign key filled in some row."""
    with database.writing() as tx:
        make_setup_link(tx, now=NOW)
        adopted_bounds(tx)
        make_link(tx, username="ada", by=a_person(tx, Role.ADMINISTRATOR), now=NOW)
        drafted_bounds(tx)
        a_finding(tx, FindingStatus.CLOSED)
        a_report(tx, STRAYED, read_at=NOW + DAY)
        an_accepted_and_quarantined_finding(tx)
        submitted = a_revision_in_review(tx)
        record_review(tx, number=submitted.number, by=a_person(tx, Role.REVIEWER), now=NOW)
        a_waiver_and_a_comment(tx)
        a_draw(tx)
        a_print(tx)
        a_print(tx)
        collect_cards(tx, number=1, note="shredded", by=_keeper(tx), now=NOW)
        a_register(tx)
        a_recording(tx)
        an_evidence(tx)
        look(tx, begun(tx, now=NOW + 2 * DAY), now=NOW + 2 * DAY)
        reaudit(tx, by=_keeper(tx), now=NOW + 2 * DAY)
        ask_reaudit(tx, by=_keeper(tx), now=NOW + 2 * DAY)
        a_program(tx)
        a_crew(tx)
        a_mended_check(tx)
        _a_file(tx)
        hold_upload(tx, name="round.csv", content=BytesIO(b"x"), by=_keeper(tx), now=NOW)
        _sign_in(tx, PASSWORD)
    with pytest.raises(NotSignedIn), database.writing() as tx:
        _sign_in(tx, "not the password")
    return database


def an_accepted_and_quarantined_finding(tx: Session) -> None:
    """The one that is open, and its device from its placing to its release."""
    dana, femi = a_person(tx), _keeper(tx)
    (page,) = findings(tx, agency_id=dana.agency_id, now=NOW)
    number, tag = page.finding.id, page.finding.device
    until = (NOW + DAY).date()
    accept_finding(tx, finding_id=number, reason="so", until=until, by=dana, now=NOW)
    assign_finding(tx, finding_id=number, to=femi.username, by=femi, now=NOW)
    place_in_quarantine(tx, finding_id=number, reason="so", by=femi, now=NOW)
    passed = Passed("Femi", "Tess", NOW, "store")
    hand_over(tx, device=tag, passed=passed, by=femi, now=NOW)
    go_on_without_log(tx, device=tag, reason="so", by=dana, now=NOW)
    keep_log(tx, device=tag, fingerprint="0" * 64, place="safe", by=femi, now=NOW)
    release_device(tx, device=tag, reason="so", by=dana, now=NOW)


def a_program(tx: Session) -> None:
    """With a token, an answer kept for it, and a column map."""
    ada, keeper = a_person(tx, Role.ADMINISTRATOR), _keeper(tx)
    give_token(tx, name="Rig", scopes=[Scope.READ_FLEET], days=1, by=ada, now=NOW)
    once(tx, key="monday", fingerprint="a" * 64, by=keeper, now=NOW, do=lambda: "{}")
    columns = {name: name.title() for name in REQUIRED}
    by = ColumnMap("Bench log", tuple(columns.values()), columns)
    save_column_map(tx, by, by=keeper, now=NOW)


def a_mended_check(tx: Session) -> None:
    """Kept on a phone, and what it found put right by somebody else."""
    at = NOW + 4 * DAY
    check = a_check(tx, answers={Question.VOLUME: Answer.NO}, queued=queued(at - DAY, at), now=at)
    put_right(tx, number=check.id, told="louder", by=_keeper(tx), now=at)


def a_crew(tx: Session) -> None:
    """A code before the look-up, somebody who has seen a revision, a finished drill."""
    set_crew_code(tx, code="north 44", by=a_person(tx), now=NOW)
    acknowledge(tx, revision=1, station="North", by=a_person(tx, Role.CREW), now=NOW)
    number, answers = right_answers(tx, "seed", now=NOW + DAY)
    finish_drill(
        tx,
        revision=number,
        seed="seed",
        answers=answers,
        by=a_person(tx, Role.CREW),
        now=NOW + DAY,
        address="127.0.0.1",
    )


def a_waiver_and_a_comment(tx: Session) -> None:
    number = a_draft(tx, document=UNSAFE).number
    for key in unsafe_keys(tx, number):
        a_waiver(tx, number, finding=key)
    said = add_comment(
        tx, number=number, text="why?", cell=(PRESET, "asystole"), by=a_person(tx), now=NOW
    )
    resolve_comment(tx, number=number, comment=said.id, done="so", by=a_person(tx), now=NOW)


def a_register(tx: Session) -> None:
    """A device that came on loan, with software by somebody, and what the director says of it."""
    tag, femi = a_device(tx).tag, _keeper(tx)
    loan = Loan("Tern Air", NOW.date(), NOW.date())
    change_loan(tx, tag=tag, loan=loan, why="", by=femi, now=NOW)
    change_software(tx, tag=tag, software="9", why="", by=femi, now=NOW)
    override(tx, tag=tag)
    record(tx)


def _a_file(tx: Session) -> None:
    content = BytesIO(a_whole_file(device=a_device(tx, "boat-8").tag))
    take_file(tx, content=content, by=_keeper(tx), now=NOW + DAY)


def _keeper(tx: Session) -> Person:
    return a_person(tx, Role.FLEET_MANAGER)


def _sign_in(tx: Session, password: str) -> None:
    sign_in(tx, agency="skerry", username="dana", password=password, now=NOW, address="::1")


def test_every_check_is_tried_here() -> None:
    checks = {
        table.name: {
            str(constraint.name).removeprefix(f"ck_{table.name}_")
            for constraint in table.constraints
            if isinstance(constraint, sa.CheckConstraint)
        }
        for table in SQLModel.metadata.sorted_tables
    }

    assert {table: set(names) for table, names in BROKEN.items()} == {
        table: names for table, names in checks.items() if names
    }


def test_every_check_refuses_what_breaks_it(full: Database) -> None:
    told = {
        (table, name): _refusal(full, _update(table, change))
        for table, checks in BROKEN.items()
        for name, change in checks.items()
    }

    assert {(t, n): why for (t, n), why in told.items() if f"ck_{t}_{n}" not in why} == {}


def test_no_row_is_left_without_its_owner(full: Database) -> None:
    foreign_keys = [
        (table.name, column.name)
        for table in SQLModel.metadata.sorted_tables
        for column in table.columns
        if column.foreign_keys
    ]

    told = {
        (table, column): _refusal(full, _update(table, _orphaned(table, column)))
        for table, column in foreign_keys
    }

    assert {where: why for where, why in told.items() if "foreign key" not in why.lower()} == {}


def test_the_ledger_hangs_on_nothing() -> None:
    for row in (tables.LedgerRow, tables.LedgerHeadRow):
        table = SQLModel.metadata.tables[str(row.__tablename__)]
        assert not table.foreign_keys


def test_two_findings_of_one_alarm_cannot_be_open_together(full: Database) -> None:
    table = SQLModel.metadata.tables["finding"]
    columns = ", ".join(column.name for column in table.columns if column.name != "id")
    copy = f"INSERT INTO finding ({columns}) SELECT {columns} FROM finding WHERE status ="

    assert "unique" in _refusal(full, f"{copy} 'open'").lower()
    assert _refusal(full, f"{copy} 'closed'") == ""


@pytest.mark.parametrize(
    ("table", "change"),
    [
        ("revision", "number = 1"),
        ("outer_bounds", "number = 1"),
        ("person", "username = 'dana'"),
        ("report", "idempotency_key = 'once'"),
        ("waiver", "revision_id = 1, finding = (SELECT min(finding) FROM waiver)"),
        ("ledger", "seq = 1 WHERE agency = 'skerry'"),
    ],
)
def test_what_must_be_unique_is(full: Database, table: str, change: str) -> None:
    assert "unique" in _refusal(full, _update(table, change)).lower()


def _update(table: str, change: str) -> str:
    return f"UPDATE {table} SET {change}"


def _orphaned(table: str, column: str) -> str:
    """One row only, so that no unique constraint comes first."""
    return f"{column} = 424242 WHERE {column} = (SELECT max({column}) FROM {table})"


def _refusal(database: Database, statement: str) -> str:
    """What the database says; empty if it takes it. Nothing is kept either way."""
    with Session(for_writing(database.engine)) as tx:
        if "ledger" in statement:
            lift_guard(tx)
        connection = tx.connection()
        try:
            if connection.exec_driver_sql(statement).rowcount < 1:
                raise AssertionError(f"no row to try this on: {statement}")
        except IntegrityError as error:
            return str(error.orig)
    return ""
