"""The options of a device read blind through the pages: flagged, borne out, mended and verified."""

import re
from pathlib import Path
from typing import Any

import pytest
from sqlmodel import Session
from starlette.testclient import TestClient

from app.domain.people import Role
from app.storage.database import Database
from tests.builders import HOUR, a_device, a_document, a_signed_revision
from tests.web.blind_readings import BEGUN, READ, hidden_in
from tests.web.visits import Visits

ONE = "/skerry/findings/1"
SIGNED: dict[str, Any] = {
    "all-alarms-on-at-start": {"value": True, "reason": "nobody has to remember"},
    "start-up-category": {"value": "adult", "reason": "the crew then chooses"},
    "audio-volume": {"value": 83, "reason": "heard at the seat of the crew"},
    "longest-pause-s": {"value": 117, "reason": "so that it ends by itself"},
    "etco2-unit": {"value": "mm[Hg]", "reason": "as our sheets"},
    "default-lead": {"value": "aVF", "reason": "as taught"},
}
HELD = {
    "all-alarms-on-at-start.found": "on",
    "start-up-category.found": "adult",
    "audio-volume": "83",
    "longest-pause-s": "117",
    "etco2-unit.found": "mm[Hg]",
    "default-lead": "avf",
}


@pytest.fixture
def visits(database: Database, tmp_path: Path) -> Visits:
    found = Visits(database, tmp_path)
    found.seed(ready)
    return found


def ready(tx: Session) -> None:
    a_signed_revision(tx, document={**a_document(), "options": SIGNED})
    a_device(tx)


def begun(client: TestClient) -> str:
    fresh = hidden_in(client.get(READ, params={"preset": "*"}).text)
    assert fresh["preset"] == "*"
    answer = client.post(READ, data=BEGUN | fresh)
    assert answer.status_code == 303, answer.text
    return answer.headers["location"]


def asked_in(page: str) -> set[str]:
    return set(re.findall(r'<fieldset class="alarm.*?name="([a-z0-9-]+)(?:\.found)?"', page, re.S))


def lock(client: TestClient, address: str, **instead: str) -> str:
    """As signed in all that is asked but for what is found instead; where it leads."""
    page = client.get(address).text
    renamed = {name.replace("_", "-"): told for name, told in instead.items()}
    renamed = {
        (f"{n}.found" if told in ("off", "permanent") else n): told for n, told in renamed.items()
    }
    strayed = {name.split(".")[0] for name in renamed}
    held = {name: told for name, told in HELD.items() if name.split(".")[0] not in strayed}
    typed = {n: told for n, told in (held | renamed).items() if n.split(".")[0] in asked_in(page)}
    answer = client.post(address, data=hidden_in(page) | typed | {"minutes_off": "5"})
    assert answer.status_code == 303, answer.text
    return answer.headers["location"]


def test_the_form_asks_all_that_is_stated_and_tells_nothing(visits: Visits) -> None:
    femi = visits.of(Role.FLEET_MANAGER)

    page = femi.get(begun(femi)).text

    assert asked_in(page) == set(SIGNED)
    assert "boat-3, all presets" in page
    assert not re.search(r"checked|selected|aVF|117|83", page)
    assert set(
        re.findall(r'<input id="[^"]*" name="[^"]*" type="text".*?value="([^"]*)"', page)
    ) == {""}


def test_an_option_is_chosen_on_the_first_page(visits: Visits) -> None:
    assert 'value="*"> no preset: volume, pauses' in visits.of(Role.FLEET_MANAGER).get(READ).text


def test_options_of_which_the_policy_says_nothing_are_not_offered(visits: Visits) -> None:
    visits.seed(lambda tx: a_signed_revision(tx, now=visits.now))
    femi = visits.of(Role.FLEET_MANAGER)

    page = femi.get(READ, params={"preset": "*"}).text
    refused = femi.post(READ, data=hidden_in(page) | BEGUN | {"preset": "*"})

    assert 'value="*"' not in page
    assert refused.status_code == 409
    assert "says nothing of options" in refused.text


def test_what_holds_is_settled_by_one_look(visits: Visits) -> None:
    femi = visits.of(Role.FLEET_MANAGER)

    found = femi.get(lock(femi, begun(femi))).text

    assert "What was read holds." in found


def test_what_strays_is_looked_at_again_mixed_with_others(visits: Visits) -> None:
    femi = visits.of(Role.FLEET_MANAGER)
    address = begun(femi)

    again = lock(femi, address, longest_pause_s="300")

    page = femi.get(again).text
    assert again == address
    assert "longest-pause-s" in asked_in(page)
    assert len(asked_in(page)) == 3
    assert "Look again: 3 options" in page
    assert femi.get(ONE).status_code == 404  # nothing counts yet


def test_an_unsafe_option_is_followed_to_its_end(visits: Visits) -> None:
    femi, tess, cruz = (
        visits.of(role) for role in (Role.FLEET_MANAGER, Role.TECHNICIAN, Role.CREW)
    )
    address = lock(femi, begun(femi), audio_volume="off")
    waiting = femi.get(address).text
    assert "Something unsafe was found" in waiting
    assert "Somebody else looks now" in waiting
    assert "83" not in waiting
    visits.now += HOUR
    settled = lock(cruz, address, audio_volume="off")
    assert "an alarm is seen only by somebody who looks" in cruz.get(settled).text

    for to in ("contained", "corrected"):
        assert tess.post(ONE, data={"to": to, "note": "seen to"}).status_code == 303
    visits.now += HOUR
    assert "Read it blind" in femi.get(ONE).text
    assert tess.post(ONE, data={"to": "verified"}).status_code == 409
    lock(tess, begun(tess))  # by who corrected it: proves nothing
    assert femi.post(ONE, data={"to": "verified"}).status_code == 409
    visits.now += HOUR
    lock(femi, begun(femi))
    assert femi.post(ONE, data={"to": "verified"}).status_code == 303
    closing = {"to": "closed", "cause": "human-set", "heard": "yes", "seen": "yes"}
    assert femi.post(ONE, data=closing).status_code == 303


def test_a_slip_gives_the_form_again_with_all_that_was_typed(visits: Visits) -> None:
    femi = visits.of(Role.FLEET_MANAGER)
    address = begun(femi)
    typed = HELD | {"audio-volume": "830", "default-lead": "III"}

    answer = femi.post(address, data=hidden_in(femi.get(address).text) | typed)

    assert answer.status_code == 422
    assert "goes from 0 to 100 %" in answer.text
    assert 'value="830"' in answer.text
    assert 'value="III"' in answer.text
