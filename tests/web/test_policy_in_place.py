import html
import re
from pathlib import Path

import pytest
from httpx2 import Response
from starlette.testclient import TestClient

from app.domain.people import Role
from app.storage.database import Database
from tests.builders import a_document, a_draft, a_revision_in_review
from tests.storage.ledgers import deeds
from tests.web.policies import CELL, DRAFT, HTMX, ON, SILENT, WALL, an_unsafe_draft, setting
from tests.web.visits import Visits

TYPED = f"{CELL}/typed"
UNDO = f"{DRAFT}/undo"


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path) -> Visits:
    return Visits(sqlite_database, tmp_path)


@pytest.fixture
def anna(visits: Visits) -> TestClient:
    """In front of a draft of her own, in which the heart rate may rise unannounced."""
    visits.seed(an_unsafe_draft)
    return visits.of(Role.AUTHOR)


def typed(words: str, version: int = 1) -> dict[str, str]:
    return {"typed": words, "edit_version": str(version)}


def before(answer: Response) -> str:
    """What the answer gives to the page for taking the change back."""
    found = re.search(r'name="before" value="([^"]*)"', answer.text)
    assert found is not None
    return html.unescape(found[1])


# Typing


def test_a_number_typed_into_a_cell_is_its_limit_and_the_rest_stays(
    anna: TestClient, visits: Visits
) -> None:
    kept = setting(visits) or {}

    answer = anna.post(TYPED, data=typed("175"), headers=HTMX)

    assert answer.status_code == 200
    assert "Saved: Preschool, Heart rate high." in answer.text
    assert SILENT not in answer.text
    assert setting(visits) == {**kept, "limit": 175}


def test_a_number_typed_into_a_blank_leaves_the_rest_blank_and_counted(visits: Visits) -> None:
    document = a_document()
    del document["settings"]["preschool"]["heart-rate-high"]
    visits.seed(lambda tx: a_draft(tx, document=document))
    anna = visits.of(Role.AUTHOR)
    assert "1 cell has a blank that must be filled before it can be signed." in anna.get(DRAFT).text

    answer = anna.post(TYPED, data=typed("175"), headers=HTMX)

    assert setting(visits) == {"state": "on", "limit": 175}
    assert "no priority, no delay, no latching, no reason, no source" in answer.text
    link = '<a href="#cell-preschool-heart-rate-high">Heart rate high</a>'
    assert f"{link}: priority, delay, latching, reason, source" in answer.text


def test_only_what_the_change_touches_is_swapped(anna: TestClient) -> None:
    answer = anna.post(TYPED, data=typed("175"), headers=HTMX)

    swapped = re.findall(r'id="([\w-]+)"[^>]*hx-swap-oob="true"', answer.text)
    cells = [one for one in swapped if one.startswith("cell-")]
    lanes = [one for one in swapped if one.startswith("lane-")]
    assert cells == ["cell-preschool-heart-rate-high"]
    assert lanes == ["lane-heart-rate"]
    assert {"findings", "blanks", "blank-count", "undo"} <= set(swapped)
    assert not {"grid", "corridor"} & set(swapped)


def test_what_is_not_understood_is_told_and_nothing_is_stored(
    anna: TestClient, visits: Visits
) -> None:
    kept = setting(visits)

    answer = anna.post(TYPED, data=typed("fast"), headers=HTMX)

    assert answer.status_code == 422
    assert answer.text.strip().startswith("“fast” is not understood")
    assert setting(visits) == kept


def test_a_value_that_no_policy_can_hold_is_refused(anna: TestClient) -> None:
    answer = anna.post(TYPED, data=typed("175 601s"), headers=HTMX)

    assert answer.status_code == 422
    assert "less than or equal to 600" in answer.text


def test_what_was_typed_over_somebody_elses_change_stands_beside_it(
    anna: TestClient, visits: Visits
) -> None:
    anna.post(CELL, data={**ON, "limit": "178"})

    answer = anna.post(TYPED, data=typed("172 h"), headers=HTMX)

    assert answer.status_code == 409
    assert answer.headers["hx-retarget"] == "#cell-place"
    assert "You typed “172 h”." in answer.text
    assert "<td>178</td><td>172</td>" in answer.text
    assert "<td>medium</td><td>high</td>" in answer.text
    assert re.search(r'<section id="grid"[^>]*hx-swap-oob="true"', answer.text)
    assert (setting(visits) or {})["limit"] == 178


def test_what_no_longer_fits_the_cell_is_still_told(anna: TestClient, visits: Visits) -> None:
    anna.post(CELL, data={**ON, "state": "off"})

    answer = anna.post(TYPED, data=typed("m 5s"), headers=HTMX)

    assert answer.status_code == 409
    assert "You typed “m 5s”." in answer.text
    assert (setting(visits) or {})["state"] == "off"


def test_what_says_nothing_new_is_no_edit(anna: TestClient, visits: Visits) -> None:
    answer = anna.post(TYPED, data=typed("185"), headers=HTMX)

    assert answer.status_code == 200
    assert before(answer) == ""
    assert 'id="cell-preschool-heart-rate-high"' in answer.text
    assert "edit the draft" not in visits.seed(deeds)


def test_without_script_typing_leads_back_to_the_page(anna: TestClient) -> None:
    answer = anna.post(TYPED, data={**typed("175"), "age": "3 y"})

    assert (answer.status_code, answer.headers["location"]) == (303, f"{DRAFT}?age=3+y")


def test_only_who_may_edit_types_and_only_into_a_draft(visits: Visits) -> None:
    visits.seed(a_revision_in_review)

    assert visits.of(Role.CREW).post(TYPED, data=typed("90")).status_code == 403
    assert visits.of(Role.AUTHOR).post(TYPED, data=typed("90")).status_code == 409
    assert visits.of(Role.CREW).post(UNDO, data={"before": "{}"}).status_code == 403


# Undo


def test_a_change_is_taken_back_and_made_again(anna: TestClient, visits: Visits) -> None:
    kept = setting(visits)
    answer = anna.post(TYPED, data=typed("off"), headers=HTMX)

    undone = anna.post(UNDO, data={"before": before(answer), "edit_version": "2"}, headers=HTMX)
    assert "Put back: Preschool, Heart rate high." in undone.text
    assert setting(visits) == kept

    anna.post(UNDO, data={"before": before(undone), "edit_version": "3"}, headers=HTMX)
    assert setting(visits) == {"state": "off"}


def test_a_blank_that_was_filled_is_blank_again(visits: Visits) -> None:
    document = a_document()
    del document["settings"]["preschool"]["heart-rate-high"]
    visits.seed(lambda tx: a_draft(tx, document=document))
    anna = visits.of(Role.AUTHOR)
    answer = anna.post(TYPED, data=typed("175"), headers=HTMX)

    anna.post(UNDO, data={"before": before(answer), "edit_version": "2"}, headers=HTMX)

    assert setting(visits) is None


@pytest.mark.parametrize(
    ("address", "data"),
    [(CELL, ON), (WALL, {"steps": "-1", "edit_version": "1"})],
)
def test_the_form_and_the_wall_can_be_taken_back_too(
    anna: TestClient, visits: Visits, address: str, data: dict[str, str]
) -> None:
    kept = setting(visits)
    answer = anna.post(address, data=data, headers=HTMX)

    anna.post(UNDO, data={"before": before(answer), "edit_version": "2"}, headers=HTMX)

    assert setting(visits) == kept


def test_nothing_is_taken_back_past_somebody_elses_change(anna: TestClient, visits: Visits) -> None:
    answer = anna.post(TYPED, data=typed("175"), headers=HTMX)
    anna.post(CELL, data={**ON, "limit": "178", "edit_version": "2"})

    undone = anna.post(UNDO, data={"before": before(answer), "edit_version": "2"}, headers=HTMX)

    assert undone.status_code == 409
    assert "Nothing was put back; this is how it stands now." in undone.text
    assert re.search(r'<section id="grid"[^>]*hx-swap-oob="true"', undone.text)
    assert (setting(visits) or {})["limit"] == 178


@pytest.mark.parametrize(
    ("taken_back", "status"),
    [
        ("", 422),
        ("[]", 422),
        ("{}", 422),
        ('{"preschool": {}}', 422),
        ('{"preschool": 1}', 422),
        ('{"preschool": {"heart-rate-high": {"state": "loud"}}}', 422),
        ('{"giant": {"heart-rate-high": null}}', 404),
    ],
)
def test_what_was_never_a_change_is_not_taken_back(
    anna: TestClient, taken_back: str, status: int
) -> None:
    answer = anna.post(UNDO, data={"before": taken_back, "edit_version": "1"}, headers=HTMX)

    assert answer.status_code == status


def test_every_change_and_its_undoing_stand_in_the_ledger(anna: TestClient, visits: Visits) -> None:
    answer = anna.post(TYPED, data=typed("175"), headers=HTMX)
    anna.post(UNDO, data={"before": before(answer), "edit_version": "2"}, headers=HTMX)

    assert visits.seed(deeds)[-2:] == ["edit the draft", "edit the draft"]
