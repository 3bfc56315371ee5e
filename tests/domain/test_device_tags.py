import pytest

from app.domain.device_tags import (
    check_tag,
    claims,
    is_right,
    next_tag,
    not_found_words,
    stem_of,
    with_check,
)
from app.domain.errors import Refused

KNOWN = ["boat-3", with_check("road-7"), with_check("road-71")]


@pytest.mark.parametrize(
    ("tag", "does"),
    [
        ("boat-3", False),
        ("boat-3.4", True),
        ("boat-3.k", True),
        ("boat-3.44", False),
        ("boat.3-4", False),
        (".4", False),
        ("-.4", False),
        ("b.4", True),
    ],
)
def test_only_a_full_stop_and_one_character_claim_a_check(tag: str, does: bool) -> None:
    assert claims(tag) is does


def test_a_check_character_is_a_capital() -> None:
    tag = next(with_check(f"air-{n}") for n in range(99) if with_check(f"air-{n}")[-1].isalpha())

    assert is_right(tag)
    assert not is_right(tag[:-1] + tag[-1].lower())


def test_a_tag_without_one_is_taken_as_it_is() -> None:
    check_tag("boat-3")

    assert stem_of("boat-3") == "boat-3"


def test_a_new_tag_with_a_wrong_one_is_refused_with_the_right_one() -> None:
    with pytest.raises(Refused, match=r"did you mean boat-3\.4\?"):
        check_tag("boat-3.5")


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ("boat-4", "There is no device boat-4."),
        (
            "road-7.X",
            f"There is no device road-7.X. Its check character is wrong. Did you mean {KNOWN[1]}?",
        ),
        # One character wrong, then two neighbours swapped.
        ("rood" + KNOWN[1][4:], f"Did you mean {KNOWN[1]}?"),
        ("raod" + KNOWN[1][4:], f"Did you mean {KNOWN[1]}?"),
        ("boat-3.4", "There is no device boat-3.4. Did you mean boat-3?"),
        ("hut-9.A", "Look at the label again."),
    ],
)
def test_a_wrong_check_character_helps_to_find_what_was_meant(typed: str, told: str) -> None:
    assert not_found_words(typed, KNOWN).endswith(told)


def test_nothing_is_guessed_for_a_tag_that_claims_nothing() -> None:
    assert "Did you mean" not in not_found_words("raod-7", KNOWN)


def test_the_next_tag_is_the_first_free_number() -> None:
    assert next_tag(["road-1", with_check("road-2"), "ROAD-4"], "road") == with_check("road-3")
