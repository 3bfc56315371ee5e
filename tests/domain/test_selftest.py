from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from app.domain.selftest import (
    BACKUP_AGES_AFTER,
    CLOCK_SLACK,
    LEAST_FREE,
    MIB,
    WAITS_AT_MOST,
    Check,
    Observed,
    Verdict,
    selftest,
)

NOW = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
SECOND = timedelta(seconds=1)
SOUND = Observed(
    now=NOW,
    host="127.0.0.1",
    https=True,
    secure_cookies=True,
    unwritable="",
    damage="",
    schema=("0011", "0011"),
    database_bytes=MIB,
    free_bytes=2**30,
    server_now=None,
    last_entry_at=NOW,
    entries=12,
    broken=(),
    last_backup_at=NOW,
)


def check(name: str, **instead: Any) -> Check:
    (found,) = (one for one in selftest(replace(SOUND, **instead)) if one.name == name)
    return found


def test_a_sound_installation_is_fine_everywhere() -> None:
    assert {one.verdict for one in selftest(SOUND)} == {Verdict.FINE}


@pytest.mark.parametrize(
    ("name", "instead", "verdict"),
    [
        ("settings", {"host": "0.0.0.0", "https": False}, Verdict.WRONG),  # noqa: S104 - judged
        ("settings", {"host": "0.0.0.0"}, Verdict.FINE),  # noqa: S104 - judged, not listened on
        ("settings", {"https": False, "secure_cookies": False}, Verdict.LOOK),
        ("settings", {"secure_cookies": False}, Verdict.WRONG),
        ("settings", {"leaks_unusable": "it is empty"}, Verdict.WRONG),
        ("database", {"damage": "page 3 is torn"}, Verdict.WRONG),
        ("database", {"unwritable": "disk full"}, Verdict.WRONG),
        ("migrations", {"schema": ("0010", "0011")}, Verdict.LOOK),
        ("migrations", {"schema": ("", "0011")}, Verdict.LOOK),
        ("disk", {"free_bytes": LEAST_FREE}, Verdict.FINE),
        ("disk", {"free_bytes": LEAST_FREE - 1}, Verdict.WRONG),
        ("disk", {"free_bytes": 2**30, "database_bytes": 2**30}, Verdict.LOOK),
        ("disk", {"free_bytes": 3 * 2**30, "database_bytes": 2**30}, Verdict.FINE),
        ("clock", {"last_entry_at": NOW + CLOCK_SLACK}, Verdict.FINE),
        ("clock", {"last_entry_at": NOW + CLOCK_SLACK + SECOND}, Verdict.WRONG),
        ("clock", {"last_entry_at": None}, Verdict.FINE),
        ("clock", {"server_now": NOW - CLOCK_SLACK}, Verdict.FINE),
        ("clock", {"server_now": NOW - CLOCK_SLACK - SECOND}, Verdict.WRONG),
        ("clock", {"server_now": NOW + CLOCK_SLACK + SECOND}, Verdict.WRONG),
        ("ledger", {"broken": ("skerry: entry 2 was altered",)}, Verdict.WRONG),
        ("work", {"waiting_since": NOW - WAITS_AT_MOST}, Verdict.FINE),
        ("work", {"waiting_since": NOW - WAITS_AT_MOST - SECOND}, Verdict.LOOK),
        ("backup", {"last_backup_at": None}, Verdict.LOOK),
        ("backup", {"last_backup_at": NOW - BACKUP_AGES_AFTER}, Verdict.FINE),
        ("backup", {"last_backup_at": NOW - BACKUP_AGES_AFTER - SECOND}, Verdict.LOOK),
    ],
)
def test_each_is_judged_by_itself(name: str, instead: dict[str, Any], verdict: Verdict) -> None:
    found = check(name, **instead)

    assert found.verdict is verdict
    assert bool(found.advice) is (verdict is not Verdict.FINE)


def test_it_says_how_far_the_clock_is_off_in_words() -> None:
    assert "3 hours behind" in check("clock", last_entry_at=NOW + timedelta(hours=3)).says
    assert "90 s behind" in check("clock", last_entry_at=NOW + timedelta(seconds=90)).says
    assert "2 days behind" in check("clock", last_entry_at=NOW + timedelta(days=2)).says


def test_what_does_not_hold_is_named() -> None:
    assert "entry 2 was altered" in check("ledger", broken=("skerry: entry 2 was altered",)).says
