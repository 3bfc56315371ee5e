import json
from dataclasses import replace
from datetime import date, datetime
from typing import Any

import pytest
from sqlmodel import Session

from app.actions.revisions import (
    edit_draft,
    move_revision,
    record_review,
    send_back,
    start_draft,
)
from app.actions.signing import sign_revision
from app.domain.errors import Conflict, NotAllowed, NotFound, NotNow, Refused
from app.domain.moves import RevisionStatus
from app.domain.people import Person, Role
from app.domain.revisions import StoredRevision
from app.domain.signing import SigningTerms
from app.lookups.revisions import all_revisions, in_force, revision
from app.storage.database import Database
from tests.builders import (
    DAY,
    NOW,
    PASSWORD,
    PRESET,
    a_document,
    a_draft,
    a_person,
    a_revision_in_review,
    a_signed_revision,
    olu,
)
from tests.storage.ledgers import bodies, deeds

IN_REVIEW, DRAFT = RevisionStatus.IN_REVIEW, RevisionStatus.DRAFT


def sign(tx: Session, found: StoredRevision, by: Person, **instead: Any) -> StoredRevision:
    wanted: dict[str, Any] = {
        "number": found.number,
        "fingerprint": found.fingerprint,
        "meaning": "This is our policy.",
        "password": PASSWORD,
        "by": by,
        "now": NOW,
    }
    return sign_revision(tx, **(wanted | instead))


def limit_of(found: StoredRevision, alarm: str = "heart-rate-high") -> float:
    return float(json.loads(found.document)["settings"][PRESET][alarm]["limit"])


class TestDrafting:
    def test_a_draft_gets_the_next_number_and_the_agency_s_name(self, database: Database) -> None:
        with database.writing() as tx:
            first, second = a_draft(tx), a_draft(tx)

        document = json.loads(second.document)
        assert (first.number, second.number) == (1, 2)
        assert (document["revision"], document["agency"]) == (2, "Skerry Ambulance")
        assert first.status is DRAFT
        assert [author.name for author in first.authors] == ["Anna"]

    def test_numbers_of_two_agencies_are_apart(self, database: Database) -> None:
        with database.writing() as tx:
            a_draft(tx)
            elsewhere = start_draft(tx, document=a_document(), by=olu(tx), now=NOW)

        assert elsewhere.number == 1

    def test_what_is_no_profile_is_refused(self, database: Database) -> None:
        with database.writing() as tx:
            anna = a_person(tx, Role.AUTHOR)

            with pytest.raises(Refused, match="unknown key"):
                start_draft(tx, document={**a_document(), "motto": "x"}, by=anna, now=NOW)

    def test_an_edit_is_kept_with_its_author(self, database: Database) -> None:
        with database.writing() as tx:
            draft = a_draft(tx)
            dana = a_person(tx, Role.MEDICAL_DIRECTOR)
            edited = edit_draft(
                tx,
                number=draft.number,
                document=a_document({"heart-rate-high": 175}),
                edit_version=draft.edit_version,
                by=dana,
                now=NOW + DAY,
            )

        assert limit_of(edited) == 175
        assert edited.fingerprint != draft.fingerprint
        assert edited.edit_version == draft.edit_version + 1
        assert edited.changed_at == NOW + DAY
        assert [author.name for author in edited.authors] == ["Anna", "Dana"]

    def test_a_second_editor_gets_both_versions_and_loses_nothing(self, database: Database) -> None:
        mine, theirs = a_document({"heart-rate-high": 160}), a_document({"heart-rate-high": 175})
        with database.writing() as tx:
            draft = a_draft(tx)
            dana, anna = a_person(tx, Role.MEDICAL_DIRECTOR), a_person(tx, Role.AUTHOR)
            read: dict[str, Any] = {"number": draft.number, "edit_version": 1, "now": NOW}
            edit_draft(tx, document=theirs, by=dana, **read)

            with pytest.raises(Conflict) as conflict:
                edit_draft(tx, document=mine, by=anna, **read)

            stored = revision(tx, agency_id=anna.agency_id, number=draft.number, now=NOW)
        assert conflict.value.status == 409
        assert conflict.value.yours == mine
        assert conflict.value.theirs == json.loads(stored.document)
        assert conflict.value.version == stored.edit_version
        assert limit_of(stored) == 175

    @pytest.mark.parametrize("role", sorted(set(Role) - {Role.AUTHOR, Role.MEDICAL_DIRECTOR}))
    def test_others_neither_start_nor_edit(self, sqlite_database: Database, role: Role) -> None:
        with sqlite_database.writing() as tx:
            draft = a_draft(tx)
            somebody = a_person(tx, role)

            with pytest.raises(NotAllowed):
                start_draft(tx, document=a_document(), by=somebody, now=NOW)
            with pytest.raises(NotAllowed):
                edit_draft(
                    tx,
                    number=draft.number,
                    document=a_document(),
                    edit_version=1,
                    by=somebody,
                    now=NOW,
                )

    def test_what_is_in_review_or_signed_cannot_be_edited(self, database: Database) -> None:
        with database.writing() as tx:
            submitted, signed = a_revision_in_review(tx), a_signed_revision(tx)
            for found in (submitted, signed):
                with pytest.raises(NotNow, match="only while it is draft"):
                    edit_draft(
                        tx,
                        number=found.number,
                        document=a_document(),
                        edit_version=found.edit_version,
                        by=a_person(tx, Role.AUTHOR),
                        now=NOW,
                    )


class TestMoving:
    def test_a_draft_is_submitted_and_sent_back_with_a_reason(self, database: Database) -> None:
        with database.writing() as tx:
            submitted = a_revision_in_review(tx)
            ravi = a_person(tx, Role.REVIEWER)
            back = send_back(
                tx, number=submitted.number, reason=" HR 170 is too high ", by=ravi, now=NOW
            )

            assert submitted.status is IN_REVIEW
            assert (back.status, back.note) == (DRAFT, "HR 170 is too high")
            assert bodies(tx)[-1]["about"]["note"] == "HR 170 is too high"

    def test_sending_back_takes_a_reason(self, database: Database) -> None:
        with database.writing() as tx:
            submitted = a_revision_in_review(tx)

            with pytest.raises(Refused, match="empty"):
                send_back(
                    tx,
                    number=submitted.number,
                    reason=" ",
                    by=a_person(tx, Role.REVIEWER),
                    now=NOW,
                )

    def test_a_move_that_is_not_in_the_table_is_refused(self, database: Database) -> None:
        with database.writing() as tx:
            draft = a_draft(tx)

            with pytest.raises(NotNow):
                move_revision(
                    tx,
                    number=draft.number,
                    to=RevisionStatus.WITHDRAWN,
                    by=a_person(tx),
                    now=NOW,
                    note="no",
                )

    def test_signing_is_no_mere_move(self, database: Database) -> None:
        with database.writing() as tx:
            submitted = a_revision_in_review(tx)

            with pytest.raises(NotNow, match="password"):
                move_revision(
                    tx,
                    number=submitted.number,
                    to=RevisionStatus.SIGNED,
                    by=a_person(tx),
                    now=NOW,
                )

    def test_a_move_takes_the_right_person(self, database: Database) -> None:
        with database.writing() as tx:
            submitted = a_revision_in_review(tx)

            with pytest.raises(NotAllowed):
                send_back(
                    tx,
                    number=submitted.number,
                    reason="no",
                    by=a_person(tx, Role.CREW),
                    now=NOW,
                )

    @pytest.mark.parametrize("status", ["draft", "in-review", "in-force"])
    def test_who_may_not_is_told_so_whatever_the_state(
        self, database: Database, status: str
    ) -> None:
        made = {"draft": a_draft, "in-review": a_revision_in_review, "in-force": a_signed_revision}
        with database.writing() as tx:
            found, cruz = made[status](tx), a_person(tx, Role.CREW)
            for to in (IN_REVIEW, DRAFT, RevisionStatus.WITHDRAWN, RevisionStatus.SIGNED):
                with pytest.raises(NotAllowed):
                    move_revision(tx, number=found.number, to=to, by=cruz, now=NOW, note="no")

    def test_the_one_in_force_can_be_withdrawn_and_then_nothing_is(
        self, database: Database
    ) -> None:
        with database.writing() as tx:
            a_signed_revision(tx)
            second = a_signed_revision(tx, now=NOW + DAY)
            withdrawn = move_revision(
                tx,
                number=second.number,
                to=RevisionStatus.WITHDRAWN,
                by=a_person(tx),
                now=NOW + 2 * DAY,
                note="wrong infant limits",
            )

            agency = a_person(tx).agency_id
            assert withdrawn.status is RevisionStatus.WITHDRAWN
            assert in_force(tx, agency_id=agency, at=NOW + 2 * DAY) is None
            before = in_force(tx, agency_id=agency, at=NOW + DAY)
            assert before is not None
            assert before.number == second.number


class TestReviewing:
    def test_a_review_is_recorded(self, database: Database) -> None:
        with database.writing() as tx:
            submitted = a_revision_in_review(tx)
            ravi = a_person(tx, Role.REVIEWER)
            reviewed = record_review(tx, number=submitted.number, by=ravi, now=NOW, note="fine")

        assert reviewed.review is not None
        assert (reviewed.review.name, reviewed.review.at, reviewed.note) == ("Ravi", NOW, "fine")

    def test_an_author_cannot_review_and_a_draft_cannot_be_reviewed(
        self, database: Database
    ) -> None:
        with database.writing() as tx:
            dana, ravi = a_person(tx), a_person(tx, Role.REVIEWER)
            own = start_draft(tx, document=a_document(), by=dana, now=NOW)
            with pytest.raises(NotNow):
                record_review(tx, number=own.number, by=ravi, now=NOW)
            move_revision(tx, number=own.number, to=IN_REVIEW, by=dana, now=NOW)

            with pytest.raises(NotAllowed, match="wrote part"):
                record_review(tx, number=own.number, by=dana, now=NOW)

    def test_sending_back_forgets_the_review(self, database: Database) -> None:
        with database.writing() as tx:
            submitted = a_revision_in_review(tx)
            ravi = a_person(tx, Role.REVIEWER)
            record_review(tx, number=submitted.number, by=ravi, now=NOW)
            back = send_back(tx, number=submitted.number, reason="wait", by=ravi, now=NOW)

        assert back.review is None


class TestSigning:
    def test_a_signature_says_who_what_when_and_why(self, database: Database) -> None:
        with database.writing() as tx:
            submitted = a_revision_in_review(tx)
            signed = sign(tx, submitted, a_person(tx))

            (signature,) = signed.signatures
            assert (signature.name, signature.roles) == ("Dana", ("medical-director",))
            assert (signature.at, signature.meaning) == (NOW, "This is our policy.")
            assert signature.fingerprint == signed.fingerprint == submitted.fingerprint
            assert signed.status is RevisionStatus.IN_FORCE
            assert signed.document == submitted.document
            assert bodies(tx)[-1]["about"] == {
                "revision": 1,
                "fingerprint": signed.fingerprint,
                "meaning": "This is our policy.",
                "in_force_at": NOW.isoformat(),
                "review_by": "2027-03-02",
            }

    def test_it_comes_into_force_when_its_time_has_come(self, database: Database) -> None:
        with database.writing() as tx:
            first = a_signed_revision(tx)
            second = a_signed_revision(tx, now=NOW + DAY, in_force_at=NOW + 3 * DAY)
            agency = a_person(tx).agency_id

            held = [in_force(tx, agency_id=agency, at=NOW + day * DAY) for day in (-1, 0, 2, 3)]
            assert [found and found.number for found in held] == [None, 1, 1, 2]
            assert second.status is RevisionStatus.SIGNED
            statuses = [
                line.status.value for line in all_revisions(tx, agency_id=agency, now=NOW + 3 * DAY)
            ]
            assert statuses == ["superseded", "in-force"]
            assert first.number == 1

    def test_the_wrong_password_signs_nothing_and_is_counted(self, database: Database) -> None:
        with database.writing() as tx:
            submitted = a_revision_in_review(tx)
            dana = a_person(tx)
        for _ in range(5):
            with pytest.raises(Refused), database.writing() as tx:
                sign(tx, submitted, dana, password="not the password")

        with database.reading() as tx:
            found = revision(tx, agency_id=dana.agency_id, number=1, now=NOW)
            assert (found.status, found.signatures) == (IN_REVIEW, ())
            assert "sign" not in deeds(tx)
        with pytest.raises(Exception, match="Too many"), database.writing() as tx:
            sign(tx, submitted, dana)

    def test_what_was_not_shown_cannot_be_signed(self, database: Database) -> None:
        with database.writing() as tx:
            submitted = a_revision_in_review(tx)

            with pytest.raises(Conflict, match="no longer what you were shown"):
                sign(tx, submitted, a_person(tx), fingerprint="0" * 64)

    def test_a_draft_cannot_be_signed(self, database: Database) -> None:
        with database.writing() as tx, pytest.raises(NotNow, match="submitted for review"):
            sign(tx, a_draft(tx), a_person(tx))

    def test_a_signature_takes_a_meaning(self, database: Database) -> None:
        with database.writing() as tx, pytest.raises(Refused) as refused:
            sign(tx, a_revision_in_review(tx), a_person(tx), meaning=" ")

        assert refused.value.faults[0].column == "meaning"

    def test_an_unsafe_finding_blocks_it(self, database: Database) -> None:
        unsafe = a_document({"heart-rate-high": 185})
        with database.writing() as tx, pytest.raises(Refused) as refused:
            sign(tx, a_revision_in_review(tx, document=unsafe), a_person(tx))

        assert [fault.column for fault in refused.value.faults] == ["silent-gap"]

    def test_a_blank_blocks_it(self, database: Database) -> None:
        blank = a_document()
        del blank["settings"]["infant"]["asystole"]
        del blank["settings"]["school"]["apnoea"]["priority"]
        with database.writing() as tx, pytest.raises(Refused) as refused:
            sign(tx, a_revision_in_review(tx, document=blank), a_person(tx))

        told = [(fault.column, fault.reason) for fault in refused.value.faults]
        assert ("infant asystole", "setting left blank") in told
        assert ("school apnoea", "priority left blank") in told

    def test_the_only_author_signs_after_somebody_else_has_reviewed(
        self, database: Database
    ) -> None:
        with database.writing() as tx:
            dana = a_person(tx)
            own = start_draft(tx, document=a_document(), by=dana, now=NOW)
            submitted = move_revision(tx, number=own.number, to=IN_REVIEW, by=dana, now=NOW)
            with pytest.raises(NotAllowed, match="only author"):
                sign(tx, submitted, dana)
            record_review(tx, number=own.number, by=a_person(tx, Role.REVIEWER), now=NOW)

            assert sign(tx, submitted, dana).status is RevisionStatus.IN_FORCE

    def test_it_cannot_come_into_force_before_it_is_signed(self, database: Database) -> None:
        with database.writing() as tx, pytest.raises(Refused) as refused:
            sign(tx, a_revision_in_review(tx), a_person(tx), terms=SigningTerms(NOW - DAY))

        assert refused.value.faults[0].column == "in_force_at"

    @pytest.mark.parametrize("role", sorted(set(Role) - {Role.MEDICAL_DIRECTOR}))
    def test_only_the_medical_director_signs(self, sqlite_database: Database, role: Role) -> None:
        with sqlite_database.writing() as tx, pytest.raises(NotAllowed):
            sign(tx, a_revision_in_review(tx), a_person(tx, role))

    def test_if_the_ledger_cannot_be_written_nothing_is_signed(
        self, database: Database, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        with database.writing() as tx:
            submitted = a_revision_in_review(tx)
            dana = a_person(tx)

        def disk_full(*_: object) -> str:
            raise OSError("disk full")

        monkeypatch.setattr("app.storage.ledger.entry_hash", disk_full)
        with pytest.raises(OSError, match="disk full"), database.writing() as tx:
            sign(tx, submitted, dana)

        with database.reading() as tx:
            found = revision(tx, agency_id=dana.agency_id, number=1, now=NOW)
        assert (found.status, found.signatures) == (IN_REVIEW, ())


def in_an_emergency(**more: Any) -> SigningTerms:
    return SigningTerms(emergency="A fault in the field", **more)


class TestEmergency:
    def test_a_director_signs_their_own_draft_alone(self, database: Database) -> None:
        with database.writing() as tx:
            dana = a_person(tx)
            own = start_draft(tx, document=a_document(), by=dana, now=NOW)

            signed = sign(tx, own, dana, terms=in_an_emergency())

            assert signed.status is RevisionStatus.IN_FORCE
            assert (signed.emergency, signed.review) == ("A fault in the field", None)
            assert signed.after_review_due == NOW + 30 * DAY
            assert bodies(tx)[-1]["about"]["emergency"] == "A fault in the field"

    def test_it_waives_nothing_by_itself(self, database: Database) -> None:
        unsafe = a_document({"heart-rate-high": 185})
        with database.writing() as tx, pytest.raises(Refused):
            sign(tx, a_draft(tx, document=unsafe), a_person(tx), terms=in_an_emergency())

    def test_another_person_reviews_it_afterwards(self, database: Database) -> None:
        with database.writing() as tx:
            dana, ravi = a_person(tx), a_person(tx, Role.REVIEWER)
            signed = sign(tx, a_draft(tx), dana, terms=in_an_emergency())
            for somebody in (dana, _reviewing_author(tx)):
                with pytest.raises(NotAllowed):
                    record_review(tx, number=signed.number, by=somebody, now=NOW + DAY)

            reviewed = record_review(
                tx, number=signed.number, by=ravi, now=NOW + DAY, note="was right"
            )

            assert reviewed.status is RevisionStatus.IN_FORCE
            assert reviewed.after_review_due is None
            assert reviewed.document == signed.document
            assert deeds(tx)[-1] == "review after an emergency"
            with pytest.raises(NotNow):
                record_review(tx, number=signed.number, by=ravi, now=NOW + DAY)

    def test_what_the_signer_read_alone_is_no_after_review(self, database: Database) -> None:
        with database.writing() as tx:
            dana = a_person(tx)
            submitted = a_revision_in_review(tx)
            reviewed = record_review(tx, number=submitted.number, by=dana, now=NOW)

            signed = sign(tx, reviewed, dana, terms=in_an_emergency())

        assert signed.after_review_due == NOW + 30 * DAY

    def test_a_review_before_it_counts_if_somebody_else_made_it(self, database: Database) -> None:
        with database.writing() as tx:
            submitted = a_revision_in_review(tx)
            ravi = a_person(tx, Role.REVIEWER)
            reviewed = record_review(tx, number=submitted.number, by=ravi, now=NOW)

            signed = sign(tx, reviewed, a_person(tx), terms=in_an_emergency())

        assert signed.after_review_due is None


def _reviewing_author(tx: Session) -> Person:
    """Anna wrote it, and holds the role of a reviewer besides."""
    return replace(a_person(tx, Role.AUTHOR), roles=frozenset({Role.AUTHOR, Role.REVIEWER}))


class TestReviewDate:
    def test_it_is_a_year_ahead_unless_another_day_is_given(self, database: Database) -> None:
        with database.writing() as tx:
            plain = a_signed_revision(tx)
            chosen = sign(
                tx,
                a_revision_in_review(tx),
                a_person(tx),
                terms=SigningTerms(review_by=date(2026, 9, 1)),
            )

        assert plain.review_by == date(2027, 3, 2)
        assert chosen.review_by == date(2026, 9, 1)

    @pytest.mark.parametrize("day", [date(2026, 3, 2), date(2029, 3, 3)])
    def test_it_is_later_and_within_three_years(self, database: Database, day: date) -> None:
        with database.writing() as tx, pytest.raises(Refused) as refused:
            sign(tx, a_revision_in_review(tx), a_person(tx), terms=SigningTerms(review_by=day))

        assert refused.value.faults[0].column == "review_by"


def test_an_outsider_finds_nothing(database: Database) -> None:
    with database.writing() as tx:
        submitted = a_revision_in_review(tx)
        a_signed_revision(tx)
        outsider = olu(tx)

        assert all_revisions(tx, agency_id=outsider.agency_id, now=NOW) == []
        assert in_force(tx, agency_id=outsider.agency_id, at=NOW) is None
        with pytest.raises(NotFound):
            revision(tx, agency_id=outsider.agency_id, number=1, now=NOW)
        with pytest.raises(NotFound):
            sign(tx, submitted, outsider)
        with pytest.raises(NotFound):
            record_review(tx, number=1, by=outsider, now=NOW)
        with pytest.raises(NotFound):
            send_back(tx, number=1, reason="no", by=outsider, now=NOW)
        with pytest.raises(NotFound):
            edit_draft(tx, number=1, document=a_document(), edit_version=1, by=outsider, now=NOW)


class TestSigningWhileAnotherWaits:
    """Revision 2 is signed for later; revision 3 cannot wait."""

    @staticmethod
    def walked(tx: Session) -> StoredRevision:
        a_signed_revision(tx)
        a_signed_revision(tx, in_force_at=NOW + 4 * DAY)
        draft = a_draft(tx, document=a_document({"heart-rate-high": 165}))
        return sign_revision(
            tx,
            number=draft.number,
            fingerprint=draft.fingerprint,
            meaning="Approved",
            password=PASSWORD,
            by=a_person(tx),
            now=NOW + DAY,
            terms=SigningTerms(emergency="alarms fell silent at the east station"),
        )

    @staticmethod
    def held(tx: Session, at: datetime) -> int | None:
        found = in_force(tx, agency_id=a_person(tx).agency_id, at=at)
        return None if found is None else found.number

    def test_an_emergency_holds_until_the_waiting_one_takes_over(self, database: Database) -> None:
        with database.writing() as tx:
            signed = self.walked(tx)

            assert (signed.status, signed.until) == (RevisionStatus.IN_FORCE, NOW + 4 * DAY)
            assert bodies(tx)[-1]["about"]["until_revision"] == 2
            held = [self.held(tx, NOW + days * DAY) for days in (0, 1, 3, 4, 9)]
            assert held == [1, 3, 3, 2, 2]

    def test_and_beyond_if_that_one_is_withdrawn(self, database: Database) -> None:
        with database.writing() as tx:
            self.walked(tx)
            withdrawn = move_revision(
                tx,
                number=2,
                to=RevisionStatus.WITHDRAWN,
                by=a_person(tx),
                now=NOW + 2 * DAY,
                note="drafted anew from the emergency change",
            )

            assert withdrawn.never_began
            assert withdrawn.until is None
            assert self.held(tx, NOW + 9 * DAY) == 3

    def test_a_draft_that_knows_nothing_of_it_is_not_signed_after_it(
        self, database: Database
    ) -> None:
        with database.writing() as tx:
            waiting = a_revision_in_review(tx)
            a_signed_revision(tx)

            with pytest.raises(NotNow, match="Revision 2 is signed already"):
                sign_revision(
                    tx,
                    number=waiting.number,
                    fingerprint=waiting.fingerprint,
                    meaning="Approved",
                    password=PASSWORD,
                    by=a_person(tx),
                    now=NOW,
                )
