from hashlib import sha256

import pytest
from sqlmodel import Session

from app.actions.outer_bounds import draft_bounds, edit_bounds
from app.domain.bounds_versions import BoundsVersion
from app.domain.comparison import Direction
from app.domain.errors import Conflict, NotAllowed, NotFound, NotNow, Refused
from app.domain.findings import Severity
from app.domain.moves import RevisionStatus
from app.domain.people import Person, Role
from app.domain.signing import SigningTerms
from app.lookups.outer_bounds import bounds_in_force
from app.storage.database import Database
from tests.actions.test_revisions import sign
from tests.adopted_bounds import DEFAULT, STRICTER, adopted_bounds, drafted_bounds, signed
from tests.builders import (
    DAY,
    NOW,
    a_device,
    a_document,
    a_person,
    a_report,
    a_revision_in_review,
    a_signed_revision,
    as_signed,
    limit,
    olu,
)
from tests.storage.ledgers import bodies

NAME = "version 1, signed by Dana"


class TestDrafting:
    def test_what_is_kept_is_the_canonical_text_and_its_fingerprint(
        self, database: Database
    ) -> None:
        sloppy = STRICTER.replace("\r\n", "\n").replace("heart-rate,1 y,", "heart-rate , 12 mo,")

        with database.writing() as tx:
            drafted = drafted_bounds(tx, sloppy)
            (told,) = [body for body in bodies(tx) if body["did"] == "draft outer bounds"]

        assert (drafted.number, drafted.text, drafted.signature) == (1, STRICTER, None)
        assert drafted.fingerprint == sha256(STRICTER.encode()).hexdigest()
        assert drafted.author.name == "Anna"
        assert told["about"] == {"version": 1, "fingerprint": drafted.fingerprint}

    def test_what_is_wrong_is_refused_and_nothing_kept(self, database: Database) -> None:
        with (
            pytest.raises(Refused, match="line 2, grade: must be danger or caution"),
            database.writing() as tx,
        ):
            drafted_bounds(tx, DEFAULT.replace("danger", "red", 1))

        with database.writing() as tx:
            assert drafted_bounds(tx).number == 1

    @pytest.mark.parametrize("role", sorted(set(Role) - {Role.AUTHOR, Role.MEDICAL_DIRECTOR}))
    def test_only_authors_and_directors_draft(self, sqlite_database: Database, role: Role) -> None:
        with sqlite_database.writing() as tx:
            somebody = a_person(tx, role)

            with pytest.raises(NotAllowed):
                draft_bounds(tx, text=DEFAULT, by=somebody, now=NOW)

    def test_numbers_of_two_agencies_are_apart(self, database: Database) -> None:
        with database.writing() as tx:
            drafted_bounds(tx)

            assert draft_bounds(tx, text=DEFAULT, by=olu(tx), now=NOW).number == 1


class TestEditing:
    def test_an_edit_is_counted_told_and_what_was_shown_before_cannot_be_signed(
        self, database: Database
    ) -> None:
        with database.writing() as tx:
            drafted = drafted_bounds(tx, DEFAULT)
            edited = edited_by(tx, a_person(tx, Role.AUTHOR))
            told = bodies(tx)[-1]

            assert (edited.text, edited.edit_version) == (STRICTER, 2)
            assert told["did"] == "edit outer bounds"
            assert told["about"] == {"version": 1, "fingerprint": edited.fingerprint}
            with pytest.raises(Conflict, match="not what you were shown"):
                signed(tx, drafted)
            assert signed(tx, edited).signature is not None

    def test_the_second_of_two_edits_gets_both_texts(self, database: Database) -> None:
        with database.writing() as tx:
            drafted_bounds(tx, DEFAULT)
            anna = a_person(tx, Role.AUTHOR)
            edited_by(tx, anna)

            with pytest.raises(Conflict) as told:
                edited_by(tx, anna, text=DEFAULT)

        assert (told.value.theirs, told.value.yours, told.value.version) == (STRICTER, DEFAULT, 2)

    def test_only_who_drafted_it_edits_it(self, database: Database) -> None:
        with database.writing() as tx:
            drafted_bounds(tx)

            with pytest.raises(NotAllowed, match="Anna drafted version 1"):
                edited_by(tx, a_person(tx, Role.MEDICAL_DIRECTOR))
            with pytest.raises(NotAllowed):
                edited_by(tx, a_person(tx, Role.CREW))

    def test_what_is_signed_is_never_edited(self, database: Database) -> None:
        with database.writing() as tx:
            adopted_bounds(tx)

            with pytest.raises(NotNow, match="Start a draft from it"):
                edited_by(tx, a_person(tx, Role.AUTHOR))

    def test_another_agency_s_version_is_not_found(self, database: Database) -> None:
        with database.writing() as tx:
            drafted_bounds(tx)

            with pytest.raises(NotFound):
                edited_by(tx, olu(tx))


def edited_by(tx: Session, by: Person, text: str = STRICTER) -> BoundsVersion:
    """On top of the first edit version."""
    return edit_bounds(tx, number=1, text=text, edit_version=1, by=by, now=NOW)


class TestSigning:
    def test_a_signature_says_who_what_when_and_why(self, database: Database) -> None:
        with database.writing() as tx:
            found = adopted_bounds(tx, in_force_at=NOW + DAY)
            told = bodies(tx)[-1]

        assert found.signature is not None
        assert (found.signature.name, found.signature.roles) == ("Dana", ("medical-director",))
        assert (found.signature.at, found.in_force_at) == (NOW, NOW + DAY)
        assert found.signature.meaning == "These are our outer bounds."
        assert told["did"] == "sign outer bounds"
        assert told["about"] == {
            "version": 1,
            "fingerprint": found.fingerprint,
            "meaning": "These are our outer bounds.",
            "in_force_at": (NOW + DAY).isoformat(),
        }

    @pytest.mark.parametrize("role", sorted(set(Role) - {Role.MEDICAL_DIRECTOR}))
    def test_only_a_director_signs(self, sqlite_database: Database, role: Role) -> None:
        with sqlite_database.writing() as tx:
            drafted = drafted_bounds(tx)

            with pytest.raises(NotAllowed):
                signed(tx, drafted, by=a_person(tx, role))

    def test_nobody_adopts_what_they_drafted_themselves(self, database: Database) -> None:
        with database.writing() as tx:
            dana = a_person(tx)
            own = draft_bounds(tx, text=STRICTER, by=dana, now=NOW)

            with pytest.raises(NotAllowed, match="Somebody else must draft"):
                signed(tx, own, by=dana)
            other = a_person(tx, Role.MEDICAL_DIRECTOR, name="Dora")
            assert signed(tx, own, by=other).signature is not None

    def test_the_password_the_text_and_the_time_must_be_right(self, database: Database) -> None:
        with database.writing() as tx:
            drafted = drafted_bounds(tx)

            with pytest.raises(Refused, match="not your password"):
                signed(tx, drafted, password="not this one")
            with pytest.raises(Conflict, match="not what you were shown"):
                signed(tx, drafted, fingerprint="0" * 64)
            with pytest.raises(Refused, match="this time has passed"):
                signed(tx, drafted, in_force_at=NOW - DAY)
            with pytest.raises(Refused, match="must not be empty"):
                signed(tx, drafted, meaning=" ")

    def test_a_version_is_signed_once_and_never_behind_a_later_one(
        self, database: Database
    ) -> None:
        with database.writing() as tx:
            first, second = drafted_bounds(tx), adopted_bounds(tx)

            with pytest.raises(NotNow, match="Version 2 is signed already; draft a new"):
                signed(tx, first)
            with pytest.raises(NotNow, match="Version 2 is signed already\\."):
                signed(tx, second)

    def test_an_outsider_finds_nothing_to_sign(self, database: Database) -> None:
        with database.writing() as tx:
            drafted = drafted_bounds(tx)

            with pytest.raises(NotFound):
                signed(tx, drafted, by=olu(tx))


class TestJudging:
    def test_a_policy_that_a_stricter_bound_makes_unsafe_cannot_be_signed(
        self, database: Database
    ) -> None:
        with database.writing() as tx:
            found = a_revision_in_review(tx, document=a_document({"heart-rate-high": 175}))
            adopted_bounds(tx)

            with pytest.raises(Refused, match=r"rise to 175 /min unannounced .* above 170"):
                sign(tx, found, a_person(tx))

    def test_a_policy_is_signed_by_the_bounds_that_hold_when_it_begins(
        self, database: Database
    ) -> None:
        with database.writing() as tx:
            found = a_revision_in_review(tx, document=a_document({"heart-rate-high": 175}))
            adopted_bounds(tx, in_force_at=NOW + DAY)

            with pytest.raises(Refused, match="unannounced"):
                sign(tx, found, a_person(tx), terms=SigningTerms(NOW + DAY))
            assert sign(tx, found, a_person(tx)).status is RevisionStatus.IN_FORCE

    @pytest.mark.parametrize(
        ("begins", "severity"),
        [(NOW + DAY, Severity.OFF_PROTOCOL), (NOW, Severity.UNSAFE)],
        ids=["before", "at"],
    )
    def test_a_report_is_judged_by_the_bounds_of_the_time_it_was_read(
        self, database: Database, begins: object, severity: Severity
    ) -> None:
        with database.writing() as tx:
            a_signed_revision(tx)
            a_device(tx)
            adopted_bounds(tx, in_force_at=begins)
            found = a_report(tx, as_signed(heart_rate_high=limit(178)))

        assert found.verdicts == {"heart-rate-high": (Direction.LOOSER, severity)}

    def test_another_agency_keeps_its_own(self, database: Database) -> None:
        with database.writing() as tx:
            adopted_bounds(tx)
            here, there = a_person(tx).agency_id, olu(tx).agency_id

            assert bounds_in_force(tx, agency_id=here, at=NOW).name == NAME
            assert bounds_in_force(tx, agency_id=there, at=NOW).name == "default, not adopted"
