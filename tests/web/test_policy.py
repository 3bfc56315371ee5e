import json
import re
from pathlib import Path
from typing import Any

import pytest
from httpx2 import Response
from starlette.testclient import TestClient

from app.domain.people import Role
from app.exchange.profile_json import read_profile
from app.lookups.ledger import prove_agency
from app.lookups.revisions import revision
from app.storage.database import Database
from tests.builders import (
    NOW,
    PASSWORD,
    a_document,
    a_draft,
    a_revision_in_review,
    a_signed_revision,
    an_agency,
)
from tests.web.visits import Visits

POLICY = "/skerry/policy"
DRAFT = f"{POLICY}/1"
CELL = f"{DRAFT}/cell/preschool/heart-rate-high"
WALL = f"{DRAFT}/wall/preschool/heart-rate-high"
CATEGORIES = f"{DRAFT}/categories"
HTMX = {"HX-Request": "true"}
ON = {
    "state": "on",
    "limit": "175",
    "priority": "medium",
    "delay_s": "0",
    "latching": "no",
    "reason": "agreed",
    "source": "common practice",
    "edit_version": "1",
}
SILENT = "Heart rate can rise to 185 /min unannounced"
NOT_THE_PASSWORD = "never on a page"


@pytest.fixture
def visits(sqlite_database: Database, tmp_path: Path) -> Visits:
    return Visits(sqlite_database, tmp_path)


@pytest.fixture
def anna(visits: Visits) -> TestClient:
    """In front of a draft of her own, in which the heart rate may rise unannounced."""
    visits.seed(lambda tx: a_draft(tx, document=a_document({"heart-rate-high": 185})))
    return visits.of(Role.AUTHOR)


def stored(visits: Visits, number: int = 1) -> dict[str, Any]:
    with visits.database.reading() as tx:
        agency = an_agency(tx)
        found = revision(tx, agency_id=agency.id, number=number, now=visits.now)
    document: dict[str, Any] = json.loads(found.document)
    return document


def setting(visits: Visits, alarm: str = "heart-rate-high") -> dict[str, Any] | None:
    found: dict[str, Any] | None = stored(visits)["settings"]["preschool"].get(alarm)
    return found


def field(page: Response, name: str) -> str:
    """The value of a text field on the page."""
    found = re.search(rf'name="{name}" type="text"[^>]*value="([^"]*)"', page.text)
    assert found is not None
    return found[1]


# The list


def test_every_revision_is_listed_with_its_status_and_signature(visits: Visits) -> None:
    visits.seed(a_signed_revision)
    visits.seed(a_draft)

    page = visits.of(Role.CREW).get(POLICY)

    assert page.status_code == 200
    assert page.text.index("Revision 2") < page.text.index("Revision 1")
    assert all(words in page.text for words in ("draft", "in force", "Dana"))
    assert "Start a draft" not in page.text


def test_an_agency_without_a_policy_is_told_how_to_begin(visits: Visits) -> None:
    page = visits.of(Role.AUTHOR).get(POLICY)

    assert "There is no policy yet. Start a draft, or upload a profile file." in page.text


def test_a_draft_starts_as_a_copy(visits: Visits) -> None:
    visits.seed(a_signed_revision)

    answer = visits.of(Role.AUTHOR).post(POLICY, data={"copy_of": "1"})

    assert (answer.status_code, answer.headers["location"]) == (303, f"{POLICY}/2")
    assert stored(visits, 2) == {**stored(visits, 1), "revision": 2}


def test_a_draft_starts_empty(visits: Visits) -> None:
    anna = visits.of(Role.AUTHOR)

    answer = anna.post(POLICY, data={"copy_of": "empty"})

    assert answer.headers["location"] == DRAFT
    assert stored(visits)["settings"] == {"all-ages": {}}
    assert "No vital sign has a limit yet" in anna.get(DRAFT).text


@pytest.mark.parametrize("copy_of", ["7", "seven", "²"])
def test_a_copy_of_nothing_is_not_found(visits: Visits, copy_of: str) -> None:
    assert visits.of(Role.AUTHOR).post(POLICY, data={"copy_of": copy_of}).status_code == 404


# Files


def upload(client: TestClient, text: str) -> Response:
    return client.post(f"{POLICY}/upload", files={"profile": ("ours.json", text.encode())})


def test_a_profile_file_becomes_a_draft(visits: Visits) -> None:
    document = {**a_document(), "agency": "Somebody", "revision": 40}

    answer = upload(visits.of(Role.AUTHOR), json.dumps(document))

    assert answer.headers["location"] == DRAFT
    assert stored(visits) == {**document, "agency": "Skerry Ambulance", "revision": 1}


def test_a_profile_file_that_is_wrong_is_told_by_line_and_column(visits: Visits) -> None:
    text = json.dumps(a_document() | {"agency": "x", "colour": "blue"}, indent=1)

    page = upload(visits.of(Role.AUTHOR), text)

    line = next(n for n, one in enumerate(text.splitlines(), 1) if "colour" in one)
    assert page.status_code == 422
    assert "ours.json was refused; nothing was stored." in page.text
    assert f"line {line}, column 12: colour: unknown key" in page.text


def test_what_is_downloaded_can_be_uploaded_and_has_the_same_fingerprint(
    anna: TestClient, visits: Visits
) -> None:
    answer = anna.get(f"{DRAFT}/profile.json")

    assert answer.headers["content-disposition"] == (
        'attachment; filename="skerry-revision-1.json"'
    )
    assert read_profile(answer.content).fingerprint[:12] in anna.get(DRAFT).text
    assert answer.json() == stored(visits)


# One revision


def test_a_revision_shows_corridor_strip_findings_and_grid(anna: TestClient) -> None:
    page = anna.get(f"{DRAFT}?age=3+y").text

    assert '<title id="corridor-name">Age corridor of revision 1</title>' in page
    assert "At 3 y" in page
    assert "alarm below 75 · above 185 /min" in page
    assert "Silent from 180 to 185: above 180 /min is danger." in page
    assert page.index(SILENT) < page.index('class="findings"') + 400
    assert page.count("<tr>") > 40
    assert "no advice for a patient" in page


@pytest.mark.parametrize(
    ("query", "heading"),
    [
        ("", "At 7 mo"),
        ("?age=7+mo", "At 7 mo"),
        ("?age=0+d", "At birth"),
        ("?at=0", "At birth"),
        ("?at=200", "At 100 y"),
        ("?at=1000", "At 100 y"),
    ],
)
def test_the_age_in_hand_is_typed_or_walked_to(anna: TestClient, query: str, heading: str) -> None:
    assert heading in anna.get(f"{DRAFT}{query}").text


def test_what_is_no_age_is_told_beside_the_field(anna: TestClient) -> None:
    page = anna.get(f"{DRAFT}?age=seven").text

    assert "is no age: write a number" in page
    assert 'aria-describedby="age-wrong"' in page


def test_walking_answers_with_strip_and_line_alone(anna: TestClient) -> None:
    answer = anna.get(f"{DRAFT}/strip?at=100&lanes=4", headers=HTMX).text

    assert answer.lstrip().startswith("{#") is False
    assert 'id="strip"' in answer
    assert 'id="age-line"' in answer
    assert "<html" not in answer


def test_a_draft_is_compared_with_what_is_in_force(visits: Visits) -> None:
    visits.seed(a_signed_revision)
    visits.seed(lambda tx: a_draft(tx, document=a_document({"heart-rate-high": 175})))

    page = visits.of(Role.AUTHOR).get(f"{POLICY}/2").text

    assert "Against revision 1, which is in force" in page
    assert "Preschool: Heart rate can rise from 170 to 175 /min unannounced." in page


def test_a_signed_revision_shows_its_signature_and_no_way_to_edit(visits: Visits) -> None:
    visits.seed(a_signed_revision)

    page = visits.of(Role.MEDICAL_DIRECTOR).get(DRAFT).text

    assert "“This is our policy.”" in page
    assert "/cell/" not in page
    assert "/wall/" not in page
    assert "Withdraw" in page


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
        "cell-place", "corridor", "strip", "findings", "redline", "facts",
        "cell-preschool-heart-rate-high",
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


# Categories


def band(key: str, start: str, end: str, version: int, label: str = "Band") -> dict[str, str]:
    return {
        "key": key,
        "label": label,
        "start": start,
        "end": end,
        "edit_version": str(version),
    }


def test_the_proof_stands_beside_the_categories(anna: TestClient) -> None:
    assert "Every age from birth on reaches exactly one category." in anna.get(CATEGORIES).text

    answer = anna.post(f"{CATEGORIES}/infant", data=band("", "28 d", "11 mo", 1, "Infant"))

    assert (answer.status_code, answer.headers["location"]) == (303, CATEGORIES)
    assert "Ages 11 mo to 1 y reach no category" in anna.get(CATEGORIES).text


def test_a_category_is_added_changed_and_removed(anna: TestClient, visits: Visits) -> None:
    anna.post(CATEGORIES, data=band("old", "65 y", "", 1, "Old"))
    anna.post(f"{CATEGORIES}/adult", data=band("ignored", "13 y", "65 y", 2, "Adult"))
    assert "Every age from birth on" in anna.get(CATEGORIES).text
    assert [one["key"] for one in stored(visits)["categories"]][-2:] == ["adult", "old"]

    anna.post(f"{CATEGORIES}/old/remove", data={"edit_version": "3"})

    assert "old" not in stored(visits)["settings"]


@pytest.mark.parametrize(
    ("path", "typed", "reason"),
    [
        ("", band("infant", "28 d", "1 y", 1), "stands already"),
        ("", band("Old Ones", "65 y", "", 1), "pattern"),
        ("", band("old", "65", "", 1), "is no age"),
        ("", band("old", "65 y", "60 y", 1), "must be older than from"),
        ("/infant", band("", "28 days", "1 y", 1), "is no age"),
    ],
)
def test_what_is_no_category_is_told_and_stays_typed(
    anna: TestClient, path: str, typed: dict[str, str], reason: str
) -> None:
    page = anna.post(CATEGORIES + path, data=typed)

    assert page.status_code == 422
    assert reason in page.text
    assert f'value="{typed["start"]}"' in page.text


def test_the_last_category_cannot_be_removed(visits: Visits) -> None:
    anna = visits.of(Role.AUTHOR)
    anna.post(POLICY, data={"copy_of": "empty"})

    page = anna.post(f"{CATEGORIES}/all-ages/remove", data={"edit_version": "1"})

    assert page.status_code == 422
    assert "a policy needs at least one category" in page.text


def test_categories_never_overwrite_somebody_elses_change(anna: TestClient) -> None:
    anna.post(CELL, data=ON)

    assert anna.post(CATEGORIES, data=band("old", "65 y", "", 1)).status_code == 409


def test_a_category_that_is_not_there_is_not_found(anna: TestClient) -> None:
    assert anna.post(f"{CATEGORIES}/giant", data=band("", "0 d", "", 1)).status_code == 404
    removed = anna.post(f"{CATEGORIES}/giant/remove", data={"edit_version": "1"})
    assert removed.status_code == 404


# Moves


def test_a_draft_is_submitted_reviewed_and_sent_back_with_a_reason(visits: Visits) -> None:
    visits.seed(a_draft)
    anna, ravi = visits.of(Role.AUTHOR), visits.of(Role.REVIEWER)

    assert anna.post(f"{DRAFT}/submit").headers["location"] == DRAFT
    assert "in review" in ravi.get(DRAFT).text
    assert ravi.post(f"{DRAFT}/review", data={"note": "read"}).headers["location"] == DRAFT
    assert "Reviewed by" in ravi.get(DRAFT).text
    assert ravi.post(f"{DRAFT}/send-back", data={"note": ""}).status_code == 422
    assert ravi.post(f"{DRAFT}/send-back", data={"note": "85 is meant"}).status_code == 303
    assert "85 is meant" in anna.get(DRAFT).text
    assert "Submit for review" in anna.get(DRAFT).text


def test_who_wrote_a_draft_is_not_asked_to_review_it(visits: Visits) -> None:
    visits.seed(a_revision_in_review)

    assert "Record my review" in visits.of(Role.REVIEWER).get(DRAFT).text
    assert "Record my review" not in visits.of(Role.AUTHOR).get(DRAFT).text


def test_a_revision_in_force_is_withdrawn_with_a_reason(visits: Visits) -> None:
    visits.seed(a_signed_revision)
    dana = visits.of(Role.MEDICAL_DIRECTOR)

    assert dana.post(f"{DRAFT}/withdraw", data={"note": "a slip"}).status_code == 303

    assert "withdrawn" in dana.get(DRAFT).text


# Signing


def signing(visits: Visits, **instead: str) -> Response:
    dana = visits.of(Role.MEDICAL_DIRECTOR)
    page = dana.get(f"{DRAFT}/sign")
    fingerprint = re.search(r'name="fingerprint" value="(\w+)"', page.text)
    assert fingerprint is not None
    typed = {"fingerprint": fingerprint[1], "meaning": "Approved", "password": PASSWORD}
    return dana.post(f"{DRAFT}/sign", data=typed | instead)


def test_a_signed_revision_is_in_force_at_once(visits: Visits) -> None:
    visits.seed(a_revision_in_review)

    answer = signing(visits)

    assert (answer.status_code, answer.headers["location"]) == (303, DRAFT)
    page = visits.of(Role.CREW).get(DRAFT).text
    assert "“Approved”" in page
    assert '<span class="status">in force</span>' in page
    with visits.database.reading() as tx:
        assert prove_agency(tx, agency="skerry").holds


def test_a_signed_revision_comes_into_force_at_the_local_time_given(visits: Visits) -> None:
    """The agency keeps the time of London: in June an hour ahead of UTC."""
    visits.now = NOW.replace(month=6)
    visits.seed(lambda tx: a_revision_in_review(tx))

    signing(visits, when="later", begins="2026-06-03T08:00")

    crew = visits.of(Role.CREW)
    assert "3 Jun 2026, 08:00 BST" in crew.get(DRAFT).text
    assert '<span class="status">signed</span>' in crew.get(DRAFT).text
    visits.now = NOW.replace(month=6, day=3, hour=7)
    assert '<span class="status">in force</span>' in crew.get(DRAFT).text


@pytest.mark.parametrize(
    ("instead", "name", "reason"),
    [
        ({"password": NOT_THE_PASSWORD}, "password", "this is not your password"),
        ({"meaning": " "}, "meaning", "this must not be empty"),
        ({"when": "later", "begins": "soon"}, "begins", "give a day and a time"),
        ({"when": "later", "begins": "2020-01-01T08:00"}, "begins", "this time has passed"),
    ],
)
def test_a_signature_that_lacks_something_is_refused_on_the_page(
    visits: Visits, instead: dict[str, str], name: str, reason: str
) -> None:
    visits.seed(a_revision_in_review)

    page = signing(visits, **instead)

    assert page.status_code == 422
    assert re.search(rf'id="{name}-wrong">{reason}', page.text)
    assert PASSWORD not in page.text
    assert NOT_THE_PASSWORD not in page.text
    assert "in review" in visits.of(Role.CREW).get(DRAFT).text


def test_wrong_passwords_are_slowed_down(visits: Visits) -> None:
    visits.seed(a_revision_in_review)

    answers = [signing(visits, password="wrong again").status_code for _ in range(12)]

    assert answers[0] == 422
    assert answers[-1] == 429


def test_what_was_changed_after_it_was_shown_cannot_be_signed(visits: Visits) -> None:
    visits.seed(a_revision_in_review)

    assert signing(visits, fingerprint="0" * 64).status_code == 409


@pytest.mark.parametrize(
    ("document", "told"),
    [
        (a_document({"heart-rate-high": 185}), SILENT),
        (a_document() | {"settings": {}}, "neonate, heart rate low: setting"),
    ],
)
def test_what_is_unsafe_or_blank_blocks_and_is_listed(
    visits: Visits, document: dict[str, Any], told: str
) -> None:
    visits.seed(lambda tx: a_revision_in_review(tx, document=document))

    page = visits.of(Role.MEDICAL_DIRECTOR).get(f"{DRAFT}/sign").text

    assert "It cannot be signed yet." in page
    assert told in page
    assert "password" not in page


def test_nobody_signs_what_only_they_wrote(visits: Visits) -> None:
    dana = visits.of(Role.MEDICAL_DIRECTOR)
    visits.seed(lambda tx: an_agency(tx))
    dana.post(
        f"{POLICY}/upload", files={"profile": ("a", json.dumps(a_document() | {"agency": "x"}))}
    )
    dana.post(f"{DRAFT}/submit")

    page = dana.get(f"{DRAFT}/sign").text

    assert "You are the only author of this revision." in page


def test_a_draft_is_not_signed(anna: TestClient, visits: Visits) -> None:
    assert visits.of(Role.MEDICAL_DIRECTOR).get(f"{DRAFT}/sign").status_code == 409


# Who may


@pytest.mark.parametrize("role", [Role.CREW, Role.FLEET_MANAGER, Role.REVIEWER, Role.EDUCATOR])
def test_who_writes_no_policy_changes_nothing(anna: TestClient, visits: Visits, role: Role) -> None:
    before, reader = stored(visits), visits.of(role)

    answers = [
        reader.get(CELL),
        reader.post(CELL, data=ON),
        reader.post(CELL, data={}),
        reader.post(WALL, data={"steps": "1", "edit_version": "1"}),
        reader.post(CATEGORIES, data={}),
        reader.post(f"{CATEGORIES}/infant", data={}),
        reader.post(f"{CATEGORIES}/infant/remove", data={"edit_version": "1"}),
        reader.post(POLICY, data={"copy_of": "1"}),
        reader.post(f"{DRAFT}/submit"),
        upload(reader, json.dumps(a_document() | {"agency": "x"})),
        reader.get(f"{DRAFT}/sign"),
    ]

    assert {answer.status_code for answer in answers} == {403}
    assert stored(visits) == before
    assert "/cell/" not in reader.get(DRAFT).text


@pytest.mark.parametrize(
    "path", ["", "/1", "/1/strip", "/1/profile.json", "/1/categories", "/1/sign", f"{CELL[14:]}"]
)
def test_another_agencys_policy_is_not_there(anna: TestClient, visits: Visits, path: str) -> None:
    assert visits.of_outsider().get(POLICY + path).status_code == 404


def test_a_revision_that_does_not_exist_is_not_found(anna: TestClient) -> None:
    for path in ("", "/strip", "/profile.json", "/categories", "/cell/preschool/spo2-low"):
        assert anna.get(f"{POLICY}/9{path}").status_code == 404


def test_without_signing_in_there_is_nothing_to_see(visits: Visits) -> None:
    stranger = TestClient(visits.app, follow_redirects=False)

    assert stranger.get(POLICY).headers["location"].startswith("/sign-in")


def test_a_page_has_no_style_attribute(anna: TestClient) -> None:
    """The content policy would not let it through."""
    assert " style=" not in anna.get(DRAFT).text
