from pathlib import Path

import pytest

from app.domain.people import Role
from app.storage.database import Database
from tests.builders import DAY, a_signed_revision
from tests.printed import pages, qr_codes
from tests.web.visits import Visits

RUN = {"revision": "1", "size": "a6", "model": "", "copies": "20", "place": "Harbour station"}


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path) -> Visits:
    visits = Visits(sqlite_database, tmp_path)
    visits.seed(a_signed_revision)
    return visits


def test_cards_are_put_on_the_list_and_downloaded(visits: Visits) -> None:
    edda = visits.of(Role.EDUCATOR)

    put = edda.post("/skerry/cards", data=RUN)
    pdf = edda.get("/skerry/cards/1/cards.pdf")

    assert put.status_code == 303
    assert pdf.headers["content-type"] == "application/pdf"
    assert len(pages(pdf.content)) == 6
    assert "20 of revision 1, Harbour station" in edda.get("/skerry/cards").text


def test_the_code_on_a_card_says_whether_it_is_current(visits: Visits) -> None:
    edda = visits.of(Role.EDUCATOR)
    edda.post("/skerry/cards", data=RUN)
    [address] = set(qr_codes(edda.get("/skerry/cards/1/cards.pdf").content))
    path = address.removeprefix("http://testserver")
    before = edda.get(path).text
    visits.seed(lambda tx: a_signed_revision(tx, in_force_at=visits.now + DAY))
    visits.now += DAY

    assert "in force now" in before
    assert "Do not use this paper" in edda.get(path).text


def test_old_cards_are_called_back_until_somebody_has_them(visits: Visits) -> None:
    edda = visits.of(Role.EDUCATOR)
    edda.post("/skerry/cards", data=RUN)
    visits.seed(lambda tx: a_signed_revision(tx, in_force_at=visits.now + DAY))
    visits.now += DAY

    assert "of a revision that no longer holds" in edda.get("/skerry/cards").text
    assert edda.post("/skerry/cards/1/collect", data={"note": "shredded"}).status_code == 303
    assert "no longer holds" not in edda.get("/skerry/cards").text


@pytest.mark.parametrize(
    ("field", "value", "told"),
    [
        ("copies", "many", "write a whole number"),
        ("copies", "", "write a whole number"),
        ("size", "a1", "choose one"),
        ("place", "", ""),
    ],
)
def test_what_was_typed_comes_back_and_nothing_is_listed(
    visits: Visits, field: str, value: str, told: str
) -> None:
    edda = visits.of(Role.EDUCATOR)

    answer = edda.post("/skerry/cards", data=RUN | {field: value})

    assert answer.status_code == 422
    assert told in answer.text
    assert "Run 1" not in edda.get("/skerry/cards").text


def test_crew_see_the_list_and_print_none(visits: Visits) -> None:
    cruz = visits.of(Role.CREW)

    assert "Put on the list" not in cruz.get("/skerry/cards").text
    assert cruz.post("/skerry/cards", data=RUN).status_code == 403


def test_cards_that_were_never_printed(visits: Visits) -> None:
    assert visits.of(Role.CREW).get("/skerry/cards/9/cards.pdf").status_code == 404
