import re
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from sqlmodel import Session

from app.actions.signing import sign_revision
from app.actions.waivers import waive_finding
from app.domain.people import Role
from app.domain.signing import SigningTerms
from app.lookups.policy import open_revision
from app.lookups.revisions import revision
from app.storage.database import Database
from tests.builders import (
    DAY,
    NOW,
    PASSWORD,
    a_document,
    a_draft,
    a_person,
    a_revision_in_review,
    a_signed_revision,
    an_agency,
)
from tests.web.policies import DRAFT, POLICY
from tests.web.test_limits import words
from tests.web.test_policy_moves import signing, signing_of
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


def test_who_signs_is_told_first_what_waits_and_what_then_becomes_of_it(visits: Visits) -> None:
    visits.seed(a_signed_revision)
    visits.seed(lambda tx: a_signed_revision(tx, in_force_at=NOW + 4 * DAY))
    visits.seed(a_draft)
    dana = visits.of(Role.MEDICAL_DIRECTOR)

    page = words(dana.get(f"{POLICY}/3/sign").text)
    assert "Revision 2 is signed already and takes over on 6 Mar 2026, 09:00 GMT ." in page
    assert "revision 3 holds until then and no longer" in page
    answer = signing_of(dana, 3, emergency_reason="A fault in the field")

    assert answer.status_code == 303
    assert "another takes over on 6 Mar 2026" in words(dana.get(f"{POLICY}/3").text)
    shown = words(dana.get(f"{POLICY}/3").text)
    assert "in force , from 2 Mar 2026, 09:00 GMT to 6 Mar 2026, 09:00 GMT" in shown


def test_nothing_is_said_of_others_where_none_waits(visits: Visits) -> None:
    visits.seed(a_signed_revision)
    visits.seed(a_revision_in_review)

    page = words(visits.of(Role.MEDICAL_DIRECTOR).get(f"{POLICY}/2/sign").text)

    assert "takes over" not in page


def test_one_withdrawn_before_its_time_never_came_into_force(visits: Visits) -> None:
    visits.seed(lambda tx: a_signed_revision(tx, in_force_at=NOW + 4 * DAY))
    dana = visits.of(Role.MEDICAL_DIRECTOR)

    dana.post(f"{DRAFT}/withdraw", data={"note": "not yet"})

    page = words(dana.get(DRAFT).text)
    assert "withdrawn , on 2 Mar 2026, 09:00 GMT . It never came into force" in page
    assert "to 2 Mar 2026" not in page
    assert re.search(r"<td>never</td>", dana.get(POLICY).text)


WAIVED = date(2026, 3, 20)


def _signed_alone_with_a_waiver(tx: Session) -> None:
    draft = a_draft(tx, document=with_a_model(a_document({"heart-rate-high": 185})))
    dana = a_person(tx)
    for one in open_revision(tx, agency_id=dana.agency_id, number=1, now=NOW).before_signing.unsafe:
        waive_finding(
            tx,
            number=1,
            finding=one.key,
            reason="until the delivery",
            until=WAIVED,
            by=dana,
            now=NOW,
        )
    sign_revision(
        tx,
        number=1,
        fingerprint=draft.fingerprint,
        meaning="Approved",
        password=PASSWORD,
        by=dana,
        now=NOW,
        terms=SigningTerms(emergency="a fault in the field"),
    )


def with_a_model(document: dict[str, Any]) -> dict[str, Any]:
    presets = {one["key"].upper(): {"carries": one["key"]} for one in document["categories"]}
    return document | {"models": {"dunlin": {"presets": presets}}}


@pytest.mark.parametrize(
    "path",
    [
        "",
        "/models",
        "/models/dunlin",
        "/circumstances",
        "/options",
        "/redline",
        "/corridor",
        "/bands",
        "/bands?bands=99",
        "/noise",
    ],
)
def test_what_is_overdue_and_waived_shows_on_every_page_of_the_desk(
    visits: Visits, path: str
) -> None:
    visits.seed(_signed_alone_with_a_waiver)
    cruz = visits.of(Role.CREW)
    early = words(cruz.get(f"{DRAFT}{path}").text)
    assert "Waived by Dana until 20 Mar 2026: until the delivery" in early
    assert "should have reviewed it" not in early

    visits.now = NOW + 31 * DAY
    late = words(cruz.get(f"{DRAFT}{path}").text)

    assert "Overdue: Revision 1 was signed in an emergency by one person alone." in late
    assert "A waiver of revision 1 by Dana ended on 20 Mar 2026; the limit still holds." in late
