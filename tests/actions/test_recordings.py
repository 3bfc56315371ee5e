from dataclasses import replace
from datetime import date
from decimal import Decimal

import numpy as np
import pytest

from app.actions.evidence import keep_evidence
from app.actions.model_records import record_model
from app.actions.recordings import add_recording, add_synthetic, pack_trends, remove_recording
from app.domain.device_models import Grid
from app.domain.errors import NotAllowed, NotFound, NotNow, Refused
from app.domain.model_records import ModelFacts
from app.domain.people import Role
from app.domain.recordings import NewRecording
from app.domain.synthetic_cohort import Assumed
from app.exchange.packed_trends import unpacked
from app.lookups.evidence import (
    Answer,
    EvidenceAsked,
    all_recordings,
    asked_evidence,
    printed_answers,
    trends_of,
)
from app.storage.database import Database
from tests.builders import (
    NOW,
    PRESET,
    a_device,
    a_document,
    a_draft,
    a_person,
    a_signed_revision,
    olu,
)
from tests.recorded import a_recording, an_evidence, trends
from tests.storage.ledgers import bodies


def test_a_recording_comes_back_as_it_was_kept(database: Database) -> None:
    with database.writing() as tx:
        a_signed_revision(tx)
        kept = a_recording(tx)

    with database.reading() as tx:
        agency = a_person(tx).agency_id
        assert all_recordings(tx, agency_id=agency) == [kept]
        asked = asked_evidence(tx, agency_id=agency, number=1, category=PRESET, now=NOW)
        (found,) = trends_of(tx, asked)
        assert bodies(tx)[-1]["about"]["fingerprint"] == kept.fingerprint
    assert (kept.patients, kept.rows, kept.step_s) == (2, 114, 1)
    for name, values in trends().values.items():
        assert found.values[name].tolist() == values.tolist()
    assert found.patient.tolist() == trends().patient.tolist()
    assert found.second.tolist() == trends().second.tolist()


def test_the_same_trends_are_kept_once_a_category(database: Database) -> None:
    with database.writing() as tx:
        a_recording(tx)
        a_recording(tx, category="school")

        with pytest.raises(Refused) as refused:
            a_recording(tx, name="The same again")

    assert "as recording 1" in refused.value.faults[0].reason


@pytest.mark.parametrize(
    ("role", "allowed"),
    [
        (Role.MEDICAL_DIRECTOR, True),
        (Role.AUTHOR, True),
        (Role.QUALITY_OFFICER, True),
        (Role.REVIEWER, False),
        (Role.FLEET_MANAGER, False),
        (Role.CREW, False),
        (Role.ADMINISTRATOR, False),
    ],
)
def test_who_may_keep_and_remove_recordings(
    sqlite_database: Database, role: Role, *, allowed: bool
) -> None:
    with sqlite_database.writing() as tx:
        a_signed_revision(tx)
        by = a_person(tx, role)
        if allowed:
            assert a_recording(tx, by=by).number == 1
            remove_recording(tx, number=1, by=by, now=NOW)
            assert all_recordings(tx, agency_id=by.agency_id) == []
            return
        with pytest.raises(NotAllowed):
            a_recording(tx, by=by)
        with pytest.raises(NotAllowed):
            add_synthetic(tx, PRESET, Assumed(patients=2), by=by, now=NOW)
        with pytest.raises(NotAllowed):
            remove_recording(tx, number=1, by=by, now=NOW)


def test_nobody_reaches_the_recording_of_another_agency(database: Database) -> None:
    with database.writing() as tx:
        a_recording(tx)
        outsider = olu(tx)

        assert all_recordings(tx, agency_id=outsider.agency_id) == []
        with pytest.raises(NotFound):
            remove_recording(tx, number=1, by=outsider, now=NOW)


def test_a_synthetic_cohort_is_marked_in_the_library_and_in_the_ledger(database: Database) -> None:
    with database.writing() as tx:
        a_draft(tx)
        kept = add_synthetic(
            tx, PRESET, Assumed(patients=3, hours=1, step_s=60), by=a_person(tx), now=NOW
        )

        assert kept.name == "Synthetic cohort, Preschool"
        assert kept.synthetic.startswith("SYNTHETIC: 3 invented patients")
        assert bodies(tx)[-1]["about"]["synthetic"] == kept.synthetic
        assert all_recordings(tx, agency_id=a_person(tx).agency_id)[0].synthetic == kept.synthetic


def test_a_synthetic_cohort_needs_a_policy_and_one_of_its_categories(database: Database) -> None:
    with database.writing() as tx:
        dana = a_person(tx)
        with pytest.raises(NotNow):
            add_synthetic(tx, PRESET, Assumed(patients=2), by=dana, now=NOW)
        a_draft(tx)
        with pytest.raises(Refused):
            add_synthetic(tx, "toddler", Assumed(patients=2), by=dana, now=NOW)


@pytest.mark.parametrize(
    ("new", "column"),
    [
        (NewRecording(" ", PRESET, ""), "name"),
        (NewRecording("x" * 201, PRESET, ""), "name"),
        (NewRecording("a\x00b", PRESET, ""), "name"),
        (NewRecording("fine", "", ""), "category"),
        (NewRecording("fine", PRESET, "a\nb"), "origin"),
    ],
)
def test_what_is_typed_is_checked(
    sqlite_database: Database, new: NewRecording, column: str
) -> None:
    found = trends()
    with sqlite_database.writing() as tx, pytest.raises(Refused) as refused:
        add_recording(tx, new, found, pack_trends(found), by=a_person(tx), now=NOW)

    assert refused.value.faults[0].column == column


def test_more_than_the_library_holds_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("app.domain.recordings.MOST_SAMPLES", 227)

    with pytest.raises(Refused) as refused:
        pack_trends(trends())

    assert "holds more than 227 samples" in refused.value.faults[0].reason


def test_a_file_with_nothing_measured_is_refused() -> None:
    nothing = replace(trends(), values={"spo2": np.full(trends().rows, np.nan)})

    with pytest.raises(Refused) as refused:
        pack_trends(nothing)

    assert "nothing was measured in it" in refused.value.faults[0].reason


def test_the_clock_of_every_patient_begins_anew() -> None:
    """1767225600 is a moment in January 2026: with it, a journey could be found."""
    found = trends()
    dated = replace(found, second=found.second + 1_767_225_600 + 5000 * found.patient)

    assert pack_trends(dated) == pack_trends(found)
    assert unpacked(pack_trends(dated)[0]).second.max() == found.second.max()


def test_an_answer_is_found_again_while_nothing_changes(database: Database) -> None:
    with database.writing() as tx:
        a_signed_revision(tx)
        a_recording(tx)
        found = an_evidence(tx)
        agency = a_person(tx).agency_id

    with database.reading() as tx:
        asked = asked_evidence(tx, agency_id=agency, number=1, category=None, now=NOW)
        told = bodies(tx)[-1]
    assert asked.answer is not None
    assert asked.answer.evidence == found
    assert asked.answer.made_by == "Dana"
    assert told["did"] == "replay recordings"
    assert told["about"]["policy"] == asked.revision.fingerprint


def test_another_recording_or_limit_asks_anew_and_the_same_again_replaces(
    database: Database,
) -> None:
    with database.writing() as tx:
        a_signed_revision(tx)
        a_draft(tx, document=a_document({"heart-rate-high": 185}))
        a_recording(tx)
        an_evidence(tx)
        an_evidence(tx)
        agency = a_person(tx).agency_id

        def answered(number: int) -> bool:
            asked = asked_evidence(tx, agency_id=agency, number=number, category=PRESET, now=NOW)
            return asked.answer is not None

        assert answered(1)
        assert not answered(2)
        a_recording(tx, slower=1)
        assert not answered(1)
        remove_recording(tx, number=2, by=a_person(tx), now=NOW)
        assert answered(1)


def test_what_was_told_stays_with_its_policy_when_recordings_change(database: Database) -> None:
    with database.writing() as tx:
        a_signed_revision(tx)
        a_draft(tx, document=a_document({"heart-rate-high": 185}))
        a_recording(tx)
        found = an_evidence(tx)
        a_recording(tx, slower=1)
        agency = a_person(tx).agency_id

    def asked(number: int) -> EvidenceAsked:
        with database.reading() as tx:
            return asked_evidence(tx, agency_id=agency, number=number, category=PRESET, now=NOW)

    assert asked(1).answer is None
    assert asked(1).earlier is not None
    assert asked(1).earlier == Answer(found, NOW, "Dana")
    assert asked(2).earlier is None
    with database.reading() as tx:
        (printed,) = printed_answers(tx, agency_id=agency, number=1, now=NOW)
        assert (printed.evidence, printed.current) == (found, False)


def test_what_the_fleets_own_tests_found_says_at_which_limits_a_curve_stands(
    database: Database,
) -> None:
    """The policy maps no model; one of the fleet's is found to go by fives."""
    grid = {"heart-rate-high": Grid(Decimal(100), Decimal(200), Decimal(5))}
    facts = ModelFacts(
        label="Dunlin",
        presets=(),
        grid=grid,
        tested_on=date(2026, 3, 2),
        tested_by="Tess Loft",
    )
    with database.writing() as tx:
        a_signed_revision(tx)
        a_recording(tx)
        every_step = an_evidence(tx).line("heart-rate-high")
        record_model(tx, key="dunlin", facts=facts, by=a_person(tx, Role.TECHNICIAN), now=NOW)
        agency = a_person(tx).agency_id
        nobody_has_one = asked_evidence(
            tx, agency_id=agency, number=1, category=PRESET, now=NOW
        ).answer
        a_device(tx)
        asked = asked_evidence(tx, agency_id=agency, number=1, category=PRESET, now=NOW)
        by_fives = an_evidence(tx).line("heart-rate-high")

    assert nobody_has_one is not None
    assert asked.answer is None  # it is another question now
    assert every_step is not None
    assert by_fives is not None
    assert len(by_fives.limits) < len(every_step.limits)
    assert all(limit % 5 == 0 for limit in by_fives.limits)


def test_real_and_invented_patients_are_never_mixed(database: Database) -> None:
    with database.writing() as tx:
        a_signed_revision(tx)
        a_recording(tx, synthetic="SYNTHETIC: so")
        agency = a_person(tx).agency_id

        def used() -> tuple[list[int], int]:
            asked = asked_evidence(tx, agency_id=agency, number=1, category=PRESET, now=NOW)
            return [one.number for one in asked.recordings], asked.left_out

        assert used() == ([1], 0)
        a_recording(tx, slower=1)
        assert used() == ([2], 1)


def test_crews_do_not_replay(sqlite_database: Database) -> None:
    with sqlite_database.writing() as tx:
        a_signed_revision(tx)
        a_recording(tx)
        found = an_evidence(tx)
        cruz = a_person(tx, Role.CREW)
        asked = asked_evidence(tx, agency_id=cruz.agency_id, number=1, category=PRESET, now=NOW)

        with pytest.raises(NotAllowed):
            keep_evidence(
                tx,
                found,
                revision_id=asked.revision.id,
                told_from=asked.fingerprints,
                by=cruz,
                now=NOW,
            )
