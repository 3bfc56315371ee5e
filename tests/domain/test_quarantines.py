from dataclasses import replace
from datetime import timedelta

import pytest

from app.domain.errors import NotNow, Refused
from app.domain.quarantines import (
    Handover,
    LogKept,
    Quarantine,
    Word,
    check_handover,
    check_may_correct,
    read_fingerprint,
)
from tests.builders import HOUR, NOW

DIGEST = "0123456789abcdef" * 4
WORD = Word("Dana", NOW, "so")
HELD = Quarantine(1, "boat-3", 7, placed=WORD)
LOG = LogKept(DIGEST, "safe", "Tess", NOW)


@pytest.mark.parametrize(
    ("held", "refused"),
    [
        (None, False),
        (HELD, True),
        (replace(HELD, log=LOG), False),
        (replace(HELD, log_waived=WORD), False),
        (replace(HELD, released=WORD), False),
    ],
)
def test_nothing_is_corrected_before_the_log_is_exported(
    held: Quarantine | None, refused: bool
) -> None:
    if not refused:
        check_may_correct(held)
        return
    with pytest.raises(NotNow, match="Export the log first"):
        check_may_correct(held)


@pytest.mark.parametrize(
    ("typed", "taken"),
    [
        (DIGEST, True),
        (f" {DIGEST[:32]} {DIGEST[32:].upper()}\n", True),
        (DIGEST[:-1], False),
        (DIGEST + "0", False),
        (DIGEST[:-1] + "g", False),
        ("", False),
    ],
)
def test_a_fingerprint_is_a_whole_sha256(typed: str, taken: bool) -> None:
    if taken:
        assert read_fingerprint(typed) == DIGEST
        return
    with pytest.raises(Refused):
        read_fingerprint(typed)


@pytest.mark.parametrize(
    ("later", "allowed"),
    [
        (-HOUR - timedelta(seconds=1), False),
        (-HOUR, True),
        (timedelta(0), True),
        (timedelta(seconds=1), False),
    ],
)
def test_the_chain_has_one_order(later: timedelta, allowed: bool) -> None:
    link = Handover("Femi", "Tess", NOW - HOUR, "store", "", "", "Femi", NOW)
    held = replace(HELD, custody=(link,))

    if allowed:
        check_handover(held, NOW + later, now=NOW)
    else:
        with pytest.raises(Refused):
            check_handover(held, NOW + later, now=NOW)


def test_the_last_who_took_it_has_it() -> None:
    link = Handover("Femi", "Tess", NOW, "store", "", "", "Femi", NOW)

    assert HELD.holder == ""
    assert replace(HELD, custody=(link,)).holder == "Tess"
