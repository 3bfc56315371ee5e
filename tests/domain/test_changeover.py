"""A new revision reaches the devices one by one, and what each of them still holds."""

import json
from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from app.domain.changeover import CHANGEOVER, Gap, InForce, Reach
from app.domain.default_bounds import DEFAULT_BOUNDS
from app.domain.device_reports import CouldNotRead, FoundOff, Reading
from app.domain.profiles import Profile
from app.exchange.profile_json import parse_profile
from tests.domain.presets import read
from tests.worked_profiles import document, on

BEGAN = datetime(2026, 3, 1, tzinfo=UTC)
SECOND = timedelta(seconds=1)


def policy(child: Mapping[str, float], adult: Mapping[str, float]) -> Profile:
    bands: dict[str, Any] = {
        "child": ("1 y", "13 y", {alarm: on(limit) for alarm, limit in child.items()}),
        "adult": ("13 y", None, {alarm: on(limit) for alarm, limit in adult.items()}),
    }
    return parse_profile(json.dumps(document(bands)))


FIRST = policy({"heart-rate-low": 70, "heart-rate-high": 160}, {"heart-rate-low": 50})
SECOND_ONE = policy({"heart-rate-low": 72, "heart-rate-high": 160}, {"heart-rate-low": 50})
TODAY = InForce(
    3,
    BEGAN,
    policy({"heart-rate-low": 75, "heart-rate-high": 150}, {"heart-rate-low": 50}),
    DEFAULT_BOUNDS,
    {1: FIRST, 2: SECOND_ONE},
)


def gap(
    low: Reading, high: Reading, adult: Reading | None = None, *, today: InForce = TODAY
) -> Gap:
    found = {("child", "heart-rate-low"): low, ("child", "heart-rate-high"): high}
    return today.gap("", found if adult is None else found | {("adult", "heart-rate-low"): adult})


@pytest.mark.parametrize(
    ("low", "high", "adult", "differs", "as_in"),
    [
        (read(75), read(150), read(50), 0, None),
        (read(70), read(160), read(50), 2, 1),
        (read(72), read(160), read(50), 2, 2),
        (read(72), read(160), None, 2, 2),
        # a single limit that went back, or half a preset that was set: neither revision
        (read(70), read(150), read(50), 1, None),
        (read(75), read(160), read(50), 1, None),
        # one preset still as in an older revision, another one strayed
        (read(72), read(160), read(45), 3, None),
        # what could not be read speaks neither for nor against
        (read(72), CouldNotRead("dark"), None, 1, 2),
        (CouldNotRead("dark"), CouldNotRead("dark"), None, 0, None),
        (FoundOff(), read(160), None, 2, None),
    ],
)
def test_a_device_holds_an_older_revision_where_every_preset_does(
    low: Reading, high: Reading, adult: Reading | None, differs: int, as_in: int | None
) -> None:
    found = gap(low, high, adult)

    assert (found.differs, found.as_in) == (differs, as_in)


def test_of_several_that_explain_it_the_latest_is_named() -> None:
    today = InForce(3, BEGAN, TODAY.profile, DEFAULT_BOUNDS, {1: FIRST, 2: FIRST})

    assert gap(read(70), read(160), today=today).as_in == 2


def test_a_preset_that_the_revision_does_not_have_is_not_judged() -> None:
    found = TODAY.gap("", {("OLD", "heart-rate-low"): read(10)})

    assert (found.differs, found.as_in) == (0, None)


def test_an_older_revision_that_did_not_have_the_preset_explains_nothing() -> None:
    one_band = parse_profile(json.dumps(document({"all": ("0 d", None, {})})))
    today = InForce(3, BEGAN, TODAY.profile, DEFAULT_BOUNDS, {1: one_band})

    assert gap(read(70), read(160), today=today).as_in is None


def test_what_an_older_revision_left_unsafe_is_unsafe() -> None:
    """Off on a danger bound is silent at every age, whatever was signed before."""
    before = policy({"heart-rate-low": 70}, {})
    silent = parse_profile(
        json.dumps(
            document(
                {"child": ("1 y", "13 y", {"heart-rate-low": {"state": "off", "reason": "x"}})}
            )
        )
    )
    today = InForce(2, BEGAN, before, DEFAULT_BOUNDS, {1: silent})

    found = today.gap("", {("child", "heart-rate-low"): FoundOff()})

    assert (found.unsafe, found.as_in, found.reach(BEGAN)) == (True, 1, Reach.UNSAFE)
    assert found.words(BEGAN) == "unsafe beside revision 2, holds revision 1"


LAST_MOMENT = BEGAN + CHANGEOVER - SECOND


@pytest.mark.parametrize(
    ("found", "now", "reach", "words"),
    [
        (Gap(2, BEGAN), BEGAN, Reach.REACHED, ""),
        (Gap(2, BEGAN), BEGAN + 2 * CHANGEOVER, Reach.REACHED, ""),
        (
            Gap(2, BEGAN, 3, as_in=1),
            BEGAN,
            Reach.NOT_YET,
            "not yet reached by revision 2: holds revision 1",
        ),
        (
            Gap(2, BEGAN, 3, as_in=1),
            LAST_MOMENT,
            Reach.NOT_YET,
            "not yet reached by revision 2: holds revision 1",
        ),
        (
            Gap(2, BEGAN, 3, as_in=1),
            BEGAN + CHANGEOVER,
            Reach.MISSED,
            "missed by the changeover to revision 2: holds revision 1",
        ),
        (Gap(2, BEGAN, 3), BEGAN, Reach.OTHERWISE, "differs from revision 2"),
        (Gap(2, BEGAN, 3), BEGAN + CHANGEOVER, Reach.OTHERWISE, "differs from revision 2"),
        (Gap(2, BEGAN, 3, unsafe=True), BEGAN, Reach.UNSAFE, "unsafe beside revision 2"),
        (
            Gap(2, BEGAN, 3, unsafe=True, as_in=1),
            BEGAN,
            Reach.UNSAFE,
            "unsafe beside revision 2, holds revision 1",
        ),
        (
            Gap(2, BEGAN, 3, unsafe=True, as_in=1),
            BEGAN + CHANGEOVER,
            Reach.UNSAFE,
            "unsafe beside revision 2, holds revision 1",
        ),
    ],
)
def test_within_the_changeover_an_older_revision_is_not_yet_reached_unless_unsafe(
    found: Gap, now: datetime, reach: Reach, words: str
) -> None:
    assert found.reach(now) is reach
    assert found.words(now) == words
