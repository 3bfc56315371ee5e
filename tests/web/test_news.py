import re
from pathlib import Path

import pytest

from app.domain.people import Role
from app.storage.database import Database
from tests.builders import DAY, a_device, a_document, a_signed_revision
from tests.web.visits import Visits

NEWS = "/skerry/news"


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path) -> Visits:
    """Revision 2 looses a preschool limit from tomorrow on."""
    found = Visits(sqlite_database, tmp_path)
    found.seed(a_signed_revision)
    found.seed(a_device)
    after = a_document({"heart-rate-high": 175})
    after["settings"]["adult"]["spo2-low"]["limit"] = 92
    begins = found.now + DAY
    found.seed(lambda tx: a_signed_revision(tx, document=after, in_force_at=begins))
    return found


def words(html: str) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", html))


def test_the_first_page_of_a_crew_reminds_until_it_has_been_seen(visits: Visits) -> None:
    cruz = visits.of(Role.CREW)
    home = words(cruz.get("/skerry/").text)
    assert "Revision 2 comes into force on" in home
    assert "Revision 1 is in force." in home

    cruz.post(f"{NEWS}/2/seen", data={"station": "North"})
    cruz.post(f"{NEWS}/1/seen", data={"station": "North"})

    assert "what it changes for you" not in words(cruz.get("/skerry/").text)
    assert "what it changes for you" not in words(visits.of(Role.EDUCATOR).get("/skerry/").text)


def test_one_page_tells_what_changes_and_a_category_leaves_out_the_rest(visits: Visits) -> None:
    cruz = visits.of(Role.CREW)

    every = words(cruz.get(f"{NEWS}/2").text)
    preschool = words(cruz.get(f"{NEWS}/2", params={"category": "preschool"}).text)

    assert "Heart rate" in every
    assert "SpO₂" in every
    assert "Heart rate" in preschool
    assert "SpO₂" not in preschool
    assert "Against revision 1." in every
    assert "no advice for a patient" in every


def test_a_station_leaves_out_the_devices_of_others(visits: Visits) -> None:
    cruz = visits.of(Role.CREW)

    assert "North : boat-3 (dunlin)" in words(cruz.get(f"{NEWS}/2").text)
    south = words(cruz.get(f"{NEWS}/2", params={"station": "South"}).text)
    assert "boat-3" not in south
    assert "boat-3" not in words(cruz.get(f"{NEWS}/2", params={"model": "petrel"}).text)


def test_the_educator_sees_who_has_not(visits: Visits) -> None:
    visits.of(Role.CREW).post(f"{NEWS}/2/seen", data={"station": "North"})
    visits.of(Role.CREW, "Carl")

    page = words(visits.of(Role.EDUCATOR).get(f"{NEWS}/2/reach").text)

    assert "1 of 2 crew (50 %); the aim is 95 %" in page
    assert "North 1 of 1 everybody has" in page
    assert "station not told yet 0 of 1 Carl" in page


def test_after_its_time_the_aims_are_told_as_missed(visits: Visits) -> None:
    visits.of(Role.CREW)
    edda = visits.of(Role.EDUCATOR)
    visits.now += 15 * DAY

    page = words(edda.get(f"{NEWS}/2/reach").text)

    assert "the aim is 95 %, missed" in page
    assert "missed By station" in page.replace("  ", " ") or page.count("missed") == 2


@pytest.mark.parametrize(
    ("role", "status"),
    [
        (Role.EDUCATOR, 200),
        (Role.QUALITY_OFFICER, 200),
        (Role.MEDICAL_DIRECTOR, 200),
        (Role.CREW, 403),
        (Role.TECHNICIAN, 403),
    ],
)
def test_who_sees_names(visits: Visits, role: Role, status: int) -> None:
    assert visits.of(role).get(f"{NEWS}/2/reach").status_code == status
    api = "/api/v1/skerry/revisions/2/acknowledgements"
    assert visits.of(role).get(api).status_code == status


def test_a_station_must_be_named_and_nothing_typed_is_lost(visits: Visits) -> None:
    answer = visits.of(Role.CREW).post(f"{NEWS}/2/seen", data={"station": "  "})

    assert answer.status_code == 422
    assert "this must not be empty" in answer.text


def test_a_draft_has_no_news(visits: Visits) -> None:
    anna = visits.of(Role.AUTHOR)
    anna.post("/skerry/policy", data={"from": "2"})

    assert visits.of(Role.CREW).get(f"{NEWS}/9").status_code == 404
    assert visits.of(Role.CREW).post(f"{NEWS}/9/seen", data={"station": "x"}).status_code == 404


def test_programs_see_the_same_and_people_may_say_so_there(visits: Visits) -> None:
    path = "/api/v1/skerry/revisions/2/acknowledgements"
    cruz = visits.of(Role.CREW)
    assert cruz.post(path, json={"station": "North"}).status_code == 204

    told = visits.of(Role.EDUCATOR).get(path).json()

    assert (told["people"], told["seen"], told["seen_before_in_force"]) == (1, 1, 1)
    assert told["stations"] == [{"station": "North", "people": 1, "seen": 1, "missing": []}]
