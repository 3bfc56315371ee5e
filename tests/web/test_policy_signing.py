import re
from pathlib import Path

import pytest

from app.domain.people import Role
from app.lookups.revisions import revision
from app.storage.database import Database
from tests.builders import DAY, NOW, a_draft, a_revision_in_review, an_agency
from tests.web.policies import DRAFT, POLICY
from tests.web.test_limits import words
from tests.web.test_policy_moves import signing
from tests.web.visits import Visits

LIMITS = "/skerry/limits?category=preschool"
ALONE = "was signed in an emergency by one person alone."


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path) -> Visits:
    return Visits(sqlite_database, tmp_path)


def review_by(visits: Visits) -> str:
    with visits.database.reading() as tx:
        found = revision(tx, agency_id=an_agency(tx).id, number=1, now=visits.now)
    return str(found.review_by)


def test_the_page_proposes_a_year_and_the_signer_chooses(visits: Visits) -> None:
    visits.seed(a_revision_in_review)
    dana = visits.of(Role.MEDICAL_DIRECTOR)
    assert 'name="review_by" type="date" max="2029-03-02" value="2027-03-02"' in (
        dana.get(f"{DRAFT}/sign").text
    )

    signing(dana, review_by="2026-12-01")

    assert review_by(visits) == "2026-12-01"
    assert "1 Dec 2026" in dana.get(POLICY).text


@pytest.mark.parametrize(
    ("instead", "name", "reason"),
    [
        ({"review_by": "next year"}, "review_by", "give a day, such as 2027-03-01"),
        ({"review_by": "2029-03-03"}, "review_by", "choose a day within 3 years"),
        ({"emergency": "yes"}, "emergency", "say what the emergency is"),
    ],
)
def test_what_is_wrong_is_told_at_its_field(
    visits: Visits, instead: dict[str, str], name: str, reason: str
) -> None:
    visits.seed(a_revision_in_review)

    page = signing(visits.of(Role.MEDICAL_DIRECTOR), **instead)

    assert page.status_code == 422
    assert re.search(rf'id="{name}-wrong">{reason}', page.text)


def test_a_draft_is_signed_only_in_an_emergency(visits: Visits) -> None:
    visits.seed(a_draft)
    dana = visits.of(Role.MEDICAL_DIRECTOR)
    assert "Sign in an emergency…" in dana.get(DRAFT).text
    assert signing(dana).status_code == 422

    answer = signing(dana, emergency_reason="A fault in the field")

    assert answer.status_code == 303
    page = words(dana.get(DRAFT).text)
    assert "Signed by one person alone: A fault in the field" in page
    assert f"Revision 1 {ALONE}" in page


def test_somebody_else_reviews_it_afterwards_or_it_is_overdue_where_the_limits_are(
    visits: Visits,
) -> None:
    visits.seed(a_draft)
    dana = visits.of(Role.MEDICAL_DIRECTOR)
    signing(dana, emergency_reason="A fault in the field")
    assert ALONE not in words(dana.get(LIMITS).text)

    visits.now = NOW + 31 * DAY
    assert ALONE in words(dana.get(LIMITS).text)
    assert "Record my review" not in dana.get(DRAFT).text
    ravi = visits.of(Role.REVIEWER)
    assert "Record my review" in ravi.get(DRAFT).text
    assert ravi.post(f"{DRAFT}/review", data={"note": "it was right"}).status_code == 303

    assert ALONE not in words(dana.get(LIMITS).text)
    assert "Reviewed by Ravi" in words(dana.get(DRAFT).text)


def test_a_reviewed_revision_may_be_signed_as_an_emergency_too(visits: Visits) -> None:
    visits.seed(a_revision_in_review)
    dana = visits.of(Role.MEDICAL_DIRECTOR)

    signing(dana, emergency="yes", emergency_reason="A fault in the field")

    assert "A fault in the field" in dana.get(DRAFT).text


def test_a_reason_without_the_tick_makes_no_emergency(visits: Visits) -> None:
    visits.seed(a_revision_in_review)
    dana = visits.of(Role.MEDICAL_DIRECTOR)

    signing(dana, emergency_reason="typed, then thought better of")

    assert "Signed by one person alone" not in dana.get(DRAFT).text
