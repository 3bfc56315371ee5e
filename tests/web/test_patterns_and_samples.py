import re
from hashlib import sha256
from pathlib import Path

import pytest

from app.domain.patterns import Pattern
from app.domain.people import Role
from app.storage.database import Database
from app.web.patterns import sentence
from tests.actions.test_draws import a_fleet as devices
from tests.builders import a_signed_revision
from tests.lookups.test_patterns import a_fleet
from tests.web.visits import Visits


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path) -> Visits:
    return Visits(sqlite_database, tmp_path)


def a_pattern(found: int, of: int, without: int) -> Pattern:
    return Pattern("etco2-low", "at 20", "software", "3.2", found, of, without, 37, 0.01, 9, ())


@pytest.mark.parametrize(
    ("found", "of", "without", "words"),
    [
        (9, 9, 0, "All 9 devices on software 3.2 hold EtCO₂ low at 20; none of the other 37 do."),
        (
            8,
            9,
            1,
            "8 of the 9 devices on software 3.2 hold EtCO₂ low at 20; 1 of the other 37 does.",
        ),
        (8, 9, 2, "8 of the 9 devices on software 3.2 hold EtCO₂ low at 20; 2 of the other 37 do."),
    ],
)
def test_a_pattern_is_one_sentence_with_its_figures(
    found: int, of: int, without: int, words: str
) -> None:
    assert sentence(a_pattern(found, of, without)) == words


def test_the_page_tells_what_goes_with_the_deviations(visits: Visits) -> None:
    visits.seed(lambda tx: a_fleet(tx, 5, 12))

    page = visits.of(Role.FLEET_MANAGER).get("/skerry/fleet/why")

    assert page.status_code == 200
    assert "All 5 devices on software 3.2 hold" in page.text
    assert "none of the other 12 do" in page.text
    assert "proves no cause" in page.text


def test_without_a_reading_the_page_says_so(visits: Visits) -> None:
    visits.seed(lambda tx: devices(tx, 2))

    assert "No device was read yet" in visits.of(Role.CREW).get("/skerry/fleet/why").text


def test_a_sample_is_drawn_and_shown(visits: Visits) -> None:
    visits.seed(lambda tx: devices(tx, 40))
    visits.seed(a_signed_revision)
    femi = visits.of(Role.FLEET_MANAGER)
    plan = {"purpose": "monthly", "strata": "none", "tolerate": "5%", "confidence": "95%"}

    drawn = femi.post("/skerry/fleet/samples", data=plan)
    page = femi.get(drawn.headers["location"])

    assert drawn.status_code == 303
    assert "0 of 31 drawn devices read" in page.text
    assert "How to draw it again" in page.text
    assert "/read?preset=infant&amp;trigger=sample" in page.text
    assert "monthly" in femi.get("/skerry/fleet/samples").text


def test_whoever_reads_the_page_can_draw_again(visits: Visits) -> None:
    visits.seed(lambda tx: devices(tx, 40))
    visits.seed(a_signed_revision)
    femi = visits.of(Role.FLEET_MANAGER)
    plan = {"purpose": "monthly", "strata": "none", "tolerate": "5%", "confidence": "95%"}

    drawn = femi.post("/skerry/fleet/samples", data=plan)
    page = femi.get(drawn.headers["location"]).text

    [listed] = re.findall(r"<textarea [^>]*readonly>\n(.*?)</textarea>", page, re.DOTALL)
    [seed] = re.findall(r"<dt>Seed</dt><dd><code>(\w+)</code>", page)
    [told] = re.findall(r"of the list</dt><dd><code>(\w{64})</code>", page)
    tags = [line.removesuffix("\t") for line in listed.splitlines()]
    lots = sorted(tags, key=lambda tag: sha256(f"{seed}\n{tag}".encode()).hexdigest())
    assert sha256(listed.encode()).hexdigest() == told
    assert len(tags) == 40
    shown = re.findall(r'<th scope="row"><a href="/skerry/devices/([\w-]+)"', page)
    assert sorted(shown) == sorted(lots[:31])


def test_what_was_typed_comes_back_with_the_fault(visits: Visits) -> None:
    visits.seed(lambda tx: devices(tx, 2))
    plan = {"purpose": "monthly", "strata": "station", "tolerate": "lots", "confidence": "95%"}

    answer = visits.of(Role.FLEET_MANAGER).post("/skerry/fleet/samples", data=plan)

    assert answer.status_code == 422
    assert "must be a share such as 10% or 0.1" in answer.text
    assert 'value="monthly"' in answer.text


def test_crew_see_samples_and_draw_none(visits: Visits) -> None:
    cruz = visits.of(Role.CREW)

    assert "Draw a sample" not in cruz.get("/skerry/fleet/samples").text
    assert cruz.post("/skerry/fleet/samples", data={}).status_code == 403


def test_a_sample_that_is_not_there(visits: Visits) -> None:
    assert visits.of(Role.CREW).get("/skerry/fleet/samples/7").status_code == 404
