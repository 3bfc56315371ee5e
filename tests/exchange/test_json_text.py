"""The parser against the standard one: the same values, or a refusal."""

import json
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from app.exchange.json_text import parse

_NUMBERS = st.integers(-(2**53) + 1, 2**53 - 1) | st.floats(-1e15, 1e15, allow_nan=False)
_TEXT = st.text(st.characters(exclude_categories=["Cs"]), max_size=8)
_VALUES = st.recursive(
    st.none() | st.booleans() | _NUMBERS | _TEXT,
    lambda inside: st.lists(inside, max_size=4) | st.dictionaries(_TEXT, inside, max_size=4),
    max_leaves=12,
)


@settings(max_examples=100, deadline=None)
@given(value=_VALUES, indent=st.sampled_from([None, 0, 2]), plain=st.booleans())
def test_it_reads_what_the_standard_writer_writes(
    value: Any, indent: int | None, plain: bool
) -> None:
    text = json.dumps(value, indent=indent, ensure_ascii=plain)

    assert parse(text).value == value


@settings(max_examples=60, deadline=None)
@given(value=st.dictionaries(_TEXT, st.integers(0, 9), min_size=1, max_size=4))
def test_every_value_knows_where_it_stands(value: dict[str, int]) -> None:
    text = json.dumps(value, indent=1, ensure_ascii=False)
    placed = parse(text)

    for key, number in value.items():
        at = placed.places[(key,)]
        assert text[at] == str(number)
        fault = placed.fault((key,), "wrong")
        assert fault.line is not None
        assert isinstance(fault.column, int)
        assert text.split("\n")[fault.line - 1][fault.column - 1] == str(number)
