import re
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from app.domain.people import Role
from app.storage.database import Database
from tests.builders import (
    a_document,
    a_draft,
    a_revision_in_review,
    a_signed_revision,
)
from tests.web.policies import (
    CATEGORIES,
    CELL,
    DRAFT,
    HTMX,
    ON,
    SILENT,
    WALL,
    an_unsafe_draft,
    field,
    setting,
    stored,
)
from tests.web.visits import Visits


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path) -> Visits:
    return Visits(sqlite_database, tmp_path)


@pytest.fixture
def anna(visits: Visits) -> TestClient:
    """In front of a draft of her own, in which the heart rate may rise unannounced."""
    visits.seed(an_unsafe_draft)
    return visits.of(Role.AUTHOR)


# A cell


def test_a_cell_opens_with_its_setting_as_a_page_or_in_place(anna: TestClient) -> None:
    page, part = anna.get(CELL), anna.get(CELL, headers=HTMX)

    assert (field(page, "limit"), field(part, "limit")) == ("185", "185")
    assert "<html" in page.text
    assert "<html" not in part.text


def test_a_blank_opens_with_nothing_filled_in(visits: Visits) -> None:
    document = a_document()
    del document["settings"]["preschool"]["heart-rate-high"]
    visits.seed(lambda tx: a_draft(tx, document=document))

    page = visits.of(Role.AUTHOR).get(CELL)

    assert "checked" not in page.text
    assert re.findall(r'type="text"[^>]*value="([^"]+)"', page.text) == []
    assert re.findall(r'<option value="[^"]+" selected', page.text) == []


@pytest.mark.parametrize("path", ["giant/heart-rate-high", "preschool/heart-rate"])
def test_a_cell_that_does_not_exist_is_not_found(anna: TestClient, path: str) -> None:
    assert anna.get(f"{DRAFT}/cell/{path}").status_code == 404
    assert anna.post(f"{DRAFT}/cell/{path}", data=ON).status_code == 404


def test_saving_without_script_leads_back_to_the_age_in_hand(
    anna: TestClient, visits: Visits
) -> None:
    answer = anna.post(CELL, data={**ON, "age": "3 y"})

    assert (answer.status_code, answer.headers["location"]) == (303, f"{DRAFT}?age=3+y")
    assert setting(visits) == {
        "state": "on",
        "limit": 175,
        "priority": "medium",
        "delay_s": 0,
        "latching": False,
        "reason": "agreed",
        "source": "common practice",
    }


def test_saving_by_htmx_checks_again_and_swaps_what_changed(anna: TestClient) -> None:
    assert SILENT in anna.get(DRAFT).text

    answer = anna.post(CELL, data=ON, headers=HTMX)

    assert answer.status_code == 200
    assert answer.headers["hx-retarget"] == "#said"
    assert "Saved: Preschool, Heart rate high." in answer.text
    assert SILENT not in answer.text
    swapped = re.findall(r'id="([\w-]+)"[^>]*hx-swap-oob="true"', answer.text)
    assert swapped == [
        "cell-place", "lane-heart-rate", "strip", "findings", "redline", "facts", "blanks",
        "cell-preschool-heart-rate-high", "blank-count", "undo",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        ({"state": "off"}, {"state": "off", "reason": "agreed", "source": "common practice"}),
        ({"state": "not-fitted", "reason": "", "source": ""}, {"state": "not-fitted"}),
        ({"state": "no-policy", "reason": " ", "source": ""}, {"state": "no-policy"}),
        ({"state": "blank"}, None),
        (
            {"state": "on", "limit": "175.5", "priority": "", "delay_s": "", "latching": ""},
            {"state": "on", "limit": 175.5, "reason": "agreed", "source": "common practice"},
        ),
    ],
)
def test_every_state_is_kept_as_chosen(
    anna: TestClient, visits: Visits, typed: dict[str, str], kept: dict[str, Any] | None
) -> None:
    anna.post(CELL, data={**ON, **typed})

    assert setting(visits) == kept


def test_deep_line_and_latitude_are_kept(anna: TestClient, visits: Visits) -> None:
    more = {
        "latching": "yes",
        "deep_limit": "178",
        "deep_priority": "high",
        "deep_delay_s": "0",
        "latitude_from": "160",
        "latitude_to": "180",
        "off_by": "medical-control",
    }

    anna.post(CELL, data={**ON, **more})

    kept = setting(visits) or {}
    assert kept["latching"] is True
    assert kept["deep"] == {"limit": 178, "priority": "high", "delay_s": 0}
    assert kept["latitude"] == {"from": 160, "to": 180, "off_by": "medical-control"}
    page = anna.get(CELL)
    assert [field(page, name) for name in ("deep_limit", "latitude_from")] == ["178", "160"]


def test_a_limit_is_kept_in_the_unit_in_which_it_was_written(
    anna: TestClient, visits: Visits
) -> None:
    anna.post(f"{DRAFT}/cell/preschool/etco2-high", data={**ON, "limit": "6.5", "unit": "kPa"})

    kept = setting(visits, "etco2-high") or {}
    assert (kept["limit"], kept["unit"]) == (6.5, "kPa")
    assert "above 6.5 kPa" in anna.get(DRAFT).text


@pytest.mark.parametrize(
    ("alarm", "typed", "name", "reason"),
    [
        ("heart-rate-high", {"state": ""}, "state", "choose one"),
        ("heart-rate-high", {"limit": ""}, "limit", "an alarm that is on needs its limit"),
        ("heart-rate-high", {"limit": "fast"}, "limit", "write a number such as 90 or 37.5"),
        ("heart-rate-high", {"limit": "1e3"}, "limit", "write a number such as 90 or 37.5"),
        ("heart-rate-high", {"delay_s": "601"}, "delay_s", "less than or equal to 600"),
        ("heart-rate-high", {"deep_delay_s": "0"}, "deep_limit", "a deep line needs its limit"),
        ("heart-rate-high", {"latitude_from": "9"}, "latitude_from", "needs both from and to"),
        (
            "heart-rate-high",
            {"latitude_from": "9", "latitude_to": "8"},
            "latitude_to",
            "must not be below from",
        ),
        ("heart-rate-high", {"priority": "loud"}, "priority", "should be"),
        ("etco2-high", {"unit": "bar"}, "unit", "must be one of mm[Hg], kPa"),
    ],
)
def test_what_cannot_be_kept_is_told_at_its_field_and_nothing_typed_is_lost(
    anna: TestClient,
    visits: Visits,
    alarm: str,
    typed: dict[str, str],
    name: str,
    reason: str,
) -> None:
    before = stored(visits)

    page = anna.post(f"{DRAFT}/cell/preschool/{alarm}", data={**ON, **typed}, headers=HTMX)

    assert page.status_code == 422
    told = re.search(rf'id="{name}-wrong">([^<]*)<', page.text)
    assert told is not None
    assert reason in told[1]
    assert field(page, "reason") == "agreed"
    assert stored(visits) == before


def test_two_authors_never_overwrite_each_other(anna: TestClient, visits: Visits) -> None:
    anna.post(CELL, data={**ON, "limit": "178"})

    page = anna.post(CELL, data={**ON, "limit": "172"}, headers=HTMX)

    assert page.status_code == 409
    assert "Revision 1 was changed while you were editing it." in page.text
    assert "<td>178</td><td>172</td>" in page.text
    assert field(page, "limit") == "172"
    assert (setting(visits) or {})["limit"] == 178
    version = re.search(r'name="edit_version" value="(\d+)"', page.text)
    assert version is not None
    anna.post(CELL, data={**ON, "limit": "172", "edit_version": version[1]})
    assert (setting(visits) or {})["limit"] == 172


@pytest.mark.parametrize("seeded", [a_revision_in_review, a_signed_revision])
def test_only_a_draft_can_be_edited(visits: Visits, seeded: Any) -> None:
    visits.seed(seeded)
    anna = visits.of(Role.AUTHOR)

    assert anna.get(CELL).status_code == 404
    assert anna.post(CELL, data=ON).status_code == 409
    assert anna.post(WALL, data={"steps": 1, "edit_version": 1}).status_code == 409
    assert anna.post(CATEGORIES, data={}).status_code in (409, 422)


def test_words_that_are_markup_stay_words(anna: TestClient) -> None:
    anna.post(CELL, data={**ON, "reason": "<script>alert(1)</script>"})

    assert "<script>alert(1)" not in anna.get(CELL).text


# A wall


def test_a_wall_moves_by_a_step(anna: TestClient, visits: Visits) -> None:
    step = {"steps": "-1", "edit_version": "1", "age": "3 y"}

    answer = anna.post(WALL, data=step, headers=HTMX)

    assert "Preschool, Heart rate high is now 184." in answer.text
    assert "above 184 /min" in answer.text
    assert 'id="cell-place"' not in answer.text
    assert (setting(visits) or {})["limit"] == 184


def test_a_wall_moves_without_script(anna: TestClient, visits: Visits) -> None:
    answer = anna.post(WALL, data={"steps": "-6", "edit_version": "1", "age": "3 y"})

    assert answer.headers["location"] == f"{DRAFT}?age=3+y"
    assert (setting(visits) or {})["limit"] == 179


def test_a_wall_that_somebody_else_moved_stays_and_is_shown(
    anna: TestClient, visits: Visits
) -> None:
    anna.post(CELL, data={**ON, "limit": "178"})

    answer = anna.post(WALL, data={"steps": "-1", "edit_version": "1"}, headers=HTMX)

    assert answer.status_code == 409
    assert "Nothing was moved; this is how it stands now." in answer.text
    assert "above 178 /min" in answer.text
    assert (setting(visits) or {})["limit"] == 178
    plain = anna.post(WALL, data={"steps": "-1", "edit_version": "1"})
    assert plain.status_code == 409


def test_where_no_wall_stands_none_is_moved(anna: TestClient) -> None:
    wall = f"{DRAFT}/wall/preschool/spo2-high"

    assert anna.post(wall, data={"steps": "1", "edit_version": "1"}).status_code == 404
