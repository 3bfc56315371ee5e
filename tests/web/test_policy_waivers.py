import re
from pathlib import Path

import pytest
from httpx2 import Response
from starlette.testclient import TestClient

from app.domain.people import Role
from app.storage.database import Database
from tests.actions.test_waivers import UNSAFE, a_waiver, sign
from tests.builders import (
    DAY,
    NOW,
    a_device,
    a_document,
    a_draft,
    a_report,
    a_revision_in_review,
    as_signed,
    limit,
)
from tests.web.policies import CELL, DRAFT, ON, POLICY, SILENT
from tests.web.test_limits import words
from tests.web.visits import Visits

LIMITS = "/skerry/limits?category=preschool"
WAIVED = "Waived by Dana until 1 Sep 2026: until the spring delivery"


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path) -> Visits:
    return Visits(sqlite_database, tmp_path)


def an_unsafe_revision(visits: Visits) -> None:
    visits.seed(lambda tx: a_revision_in_review(tx, document=UNSAFE))


def a_signed_waiver(visits: Visits) -> None:
    an_unsafe_revision(visits)
    visits.seed(lambda tx: a_waiver(tx, 1))
    visits.seed(lambda tx: sign(tx, 1))


def key_on(page: Response) -> str:
    found = re.search(r'name="finding" value="(\w{64})"', page.text)
    assert found is not None
    return found[1]


def waive(dana: TestClient, **instead: str) -> Response:
    typed = {"reason": "until the spring delivery", "until": "2026-09-01"} | instead
    return dana.post(f"{DRAFT}/waivers", data={"finding": key_on(dana.get(DRAFT)), **typed})


def test_a_finding_is_waived_beside_it_and_then_no_longer_blocks(visits: Visits) -> None:
    an_unsafe_revision(visits)
    dana = visits.of(Role.MEDICAL_DIRECTOR)
    assert "1 unsafe and not waived." in dana.get(f"{DRAFT}/sign").text

    answer = waive(dana)

    assert answer.headers["location"] == f"{DRAFT}#findings"
    assert WAIVED in words(dana.get(DRAFT).text)
    page = words(dana.get(f"{DRAFT}/sign").text)
    assert "It cannot be signed yet." not in page
    assert f"Waived, and signed with it Preschool: {SILENT}" in page
    assert WAIVED in page


def test_only_the_director_is_offered_it(visits: Visits) -> None:
    an_unsafe_revision(visits)

    assert "Waive this finding" in visits.of(Role.MEDICAL_DIRECTOR).get(DRAFT).text
    assert "Waive this finding" not in visits.of(Role.REVIEWER).get(DRAFT).text


@pytest.mark.parametrize(
    ("instead", "told"),
    [
        ({"reason": " "}, "this must not be empty"),
        ({"until": "soon"}, "give a day, such as 2027-03-01"),
        ({"until": "2026-03-02"}, "choose a day after today"),
    ],
)
def test_what_is_wrong_is_told_beside_its_field_and_nothing_typed_is_lost(
    visits: Visits, instead: dict[str, str], told: str
) -> None:
    an_unsafe_revision(visits)

    page = waive(visits.of(Role.MEDICAL_DIRECTOR), **instead)

    assert page.status_code == 422
    assert told in page.text
    assert SILENT in page.text
    assert ("until the spring delivery" in page.text) is ("reason" not in instead)


def test_a_finding_that_somebody_mended_meanwhile_is_not_waived(visits: Visits) -> None:
    visits.seed(lambda tx: a_draft(tx, document=UNSAFE))
    dana, anna = visits.of(Role.MEDICAL_DIRECTOR), visits.of(Role.AUTHOR)
    shown = dana.get(DRAFT)
    anna.post(CELL, data=ON)

    answer = dana.post(
        f"{DRAFT}/waivers",
        data={"finding": key_on(shown), "reason": "x", "until": "2026-09-01"},
    )

    assert answer.status_code == 409


def test_an_edited_limit_leaves_its_waiver_void_and_says_so(visits: Visits) -> None:
    visits.seed(lambda tx: a_draft(tx, document=UNSAFE))
    dana = visits.of(Role.MEDICAL_DIRECTOR)
    waive(dana)
    dana.post(CELL, data=ON | {"limit": "190"})

    page = words(dana.get(DRAFT).text)

    assert "Waivers that match nothing any more" in page
    assert "Waive this finding" in page


def test_a_waiver_is_withdrawn(visits: Visits) -> None:
    an_unsafe_revision(visits)
    dana = visits.of(Role.MEDICAL_DIRECTOR)
    waive(dana)

    dana.post(f"{DRAFT}/waivers/withdraw", data={"finding": key_on(dana.get(DRAFT))})

    assert WAIVED not in words(dana.get(DRAFT).text)


def test_the_waiver_stands_wherever_the_limit_does(visits: Visits) -> None:
    a_signed_waiver(visits)
    crew = TestClient(visits.app)

    strip = visits.of(Role.CREW).get(f"{DRAFT}/strip?age=3+y").text
    assert WAIVED in words(strip)
    revision = visits.of(Role.CREW).get(DRAFT).text
    cell = revision[revision.index('id="cell-preschool-heart-rate-high"') :][:1500]
    assert "Waived by Dana until 1 Sep 2026" in words(cell)
    high = crew.get(LIMITS).text
    assert WAIVED in words(high[high.index('id="sign-heart-rate"') :][:2500])
    assert WAIVED not in words(crew.get("/skerry/limits?category=infant").text)


def test_an_ended_waiver_warns_everywhere_and_takes_nothing_back(visits: Visits) -> None:
    a_signed_waiver(visits)
    visits.now = NOW.replace(month=9, day=2)
    warned = "A waiver of revision 1 by Dana ended on 1 Sep 2026; the limit still holds."

    dana = visits.of(Role.MEDICAL_DIRECTOR)

    for address in (DRAFT, POLICY, "/skerry/", LIMITS):
        assert warned in words(dana.get(address).text), address
    assert "185" in TestClient(visits.app).get(LIMITS).text
    assert warned not in words(visits.of(Role.CREW).get("/skerry/").text)


def test_a_device_that_strays_where_the_policy_itself_is_waived_says_so(visits: Visits) -> None:
    a_signed_waiver(visits)
    visits.seed(a_device)
    visits.seed(lambda tx: a_report(tx, as_signed(heart_rate_high=limit(200))))

    page = words(TestClient(visits.app).get("/skerry/d/boat-3/values").text)

    assert f"The policy’s own limit: {WAIVED}" in page


FLEET = (
    "/skerry/devices/boat-3",
    "/skerry/devices/boat-3/reports/1",
    "/skerry/devices/boat-3/past",
    "/skerry/findings/1",
    "/skerry/fleet/changeover",
    "/skerry/fleet/changeover/orders",
)


@pytest.mark.parametrize("address", FLEET)
def test_it_stands_wherever_the_fleet_is_held_against_the_limit(
    visits: Visits, address: str
) -> None:
    a_signed_waiver(visits)
    visits.seed(a_device)
    visits.seed(lambda tx: a_report(tx, as_signed(heart_rate_high=limit(200))))
    femi = visits.of(Role.FLEET_MANAGER)
    assert beside_the_limit(WAIVED).search(words(femi.get(address).text))

    visits.now = NOW.replace(month=9, day=2)

    page = words(femi.get(address).text)
    ended = "Its waiver by Dana ended on 1 Sep 2026; the limit still holds."
    assert beside_the_limit(ended).search(page)
    assert WAIVED not in page


def test_the_list_of_jobs_marks_it_and_counts_no_ended_waiver_as_one_that_holds(
    visits: Visits,
) -> None:
    a_signed_waiver(visits)
    visits.seed(a_device)
    visits.seed(lambda tx: a_report(tx, as_signed(heart_rate_high=limit(200))))
    femi, job = visits.of(Role.FLEET_MANAGER), "Heart rate high: 200 /min → 185 /min"

    page = words(femi.get("/skerry/fleet/changeover").text)
    assert f"{job} Waived by Dana until 1 Sep 2026" in page
    assert "1 unsafe finding is waived" in page

    visits.now = NOW.replace(month=9, day=2)

    page = words(femi.get("/skerry/fleet/changeover").text)
    assert f"{job} Its waiver by Dana ended on 1 Sep 2026" in page
    assert "Of 1 unsafe finding the waiver has ended" in page


def beside_the_limit(told: str) -> re.Pattern[str]:
    between = r"( found 200 /min)?( The policy’s own limit:)?"
    return re.compile(rf"185 /min{between} {re.escape(told)}")


@pytest.mark.parametrize("address", [*FLEET[:2], *FLEET[4:]])
def test_what_is_overdue_of_the_policy_is_told_there_too(visits: Visits, address: str) -> None:
    a_signed_waiver(visits)
    visits.seed(a_device)
    visits.seed(lambda tx: a_report(tx, as_signed(heart_rate_high=limit(200))))
    visits.now = NOW + 366 * DAY

    page = words(visits.of(Role.FLEET_MANAGER).get(address).text)

    assert "Overdue: Revision 1 should have been reviewed by 2 Mar 2027. It still holds." in page


def test_an_overdue_review_shows_on_every_page_with_limits_and_the_policy_holds(
    visits: Visits,
) -> None:
    a_signed_waiver(visits)
    words_of_it = "Revision 1 should have been reviewed by 2 Mar 2027. It still holds."
    dana = visits.of(Role.MEDICAL_DIRECTOR)
    visits.now = NOW + 365 * DAY
    assert words_of_it not in words(dana.get(LIMITS).text)
    assert "Revision 1 must be reviewed today." in words(dana.get("/skerry/").text)

    visits.now = NOW + 366 * DAY

    for address in (DRAFT, POLICY, "/skerry/"):
        assert words_of_it in words(dana.get(address).text), address
    for address in (LIMITS, "/skerry/limits"):
        told = "Expired on 2 Mar 2027. Nobody has renewed revision 1 since. It still holds"
        assert told in words(dana.get(address).text), address


def test_a_document_that_is_safe_offers_no_waiver(visits: Visits) -> None:
    visits.seed(lambda tx: a_revision_in_review(tx, document=a_document()))

    assert "Waive this finding" not in visits.of(Role.MEDICAL_DIRECTOR).get(DRAFT).text


def test_the_page_of_a_finding_that_is_not_there_is_not_found(visits: Visits) -> None:
    an_unsafe_revision(visits)

    answer = visits.of(Role.MEDICAL_DIRECTOR).get(f"{DRAFT}/waivers/{'0' * 64}")

    assert answer.status_code == 404
