"""The quick way and the standard's own give the same bytes, whatever a document holds."""

from typing import Any

import pytest
import rfc8785
from hypothesis import given
from hypothesis import strategies as st

from app.demo.profile import document
from app.domain.canonical import canonical

NUMBERS = st.integers(-(2**53) + 1, 2**53 - 1) | st.floats(allow_nan=False, allow_infinity=False)
TEXTS = st.text(st.characters(exclude_categories=["Cs"]))
VALUES = st.recursive(
    st.none() | st.booleans() | NUMBERS | TEXTS,
    lambda held: st.lists(held) | st.dictionaries(TEXTS, held),
    max_leaves=12,
)


@given(st.dictionaries(TEXTS, VALUES))
def test_any_document_has_the_text_of_the_standard(found: dict[str, Any]) -> None:
    assert canonical(found) == rfc8785.dumps(found)


@pytest.mark.parametrize(
    "number", [90.0, -0.0, 1e-7, 1e-5, 0.0001, 1e16, 1e21, 0.1 + 0.2, 2**53 - 1, 37.05, 1e15]
)
def test_a_number_is_written_as_the_standard_writes_it(number: float) -> None:
    assert canonical({"limit": number}) == rfc8785.dumps({"limit": number})


@pytest.mark.parametrize("keys", [("\U0001f422", "\ufb33"), ("b", "a", "é"), ("a b", "a", "a-b")])
def test_keys_stand_in_the_order_of_the_standard(keys: tuple[str, ...]) -> None:
    found = dict.fromkeys(keys, 1)

    assert canonical(found) == rfc8785.dumps(found)


@pytest.mark.parametrize("wrong", [float("nan"), float("inf"), 2**53, "\ud800", object()])
def test_what_has_no_such_text_is_refused_as_the_standard_does(wrong: Any) -> None:
    with pytest.raises(rfc8785.CanonicalizationError):
        canonical({"limit": wrong})


def test_a_whole_policy_takes_the_quick_way(monkeypatch: pytest.MonkeyPatch) -> None:
    whole = document(3)
    expected = rfc8785.dumps(whole)
    monkeypatch.setattr(rfc8785, "dumps", None)

    assert canonical(whole) == expected
