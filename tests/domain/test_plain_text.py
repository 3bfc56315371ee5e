import pytest

from app.domain.errors import Refused
from app.domain.plain_text import line, note


@pytest.mark.parametrize("typed", ["North", "  Nørrebro ✚ 2 ", "x" * 200, "'; DROP TABLE device"])
def test_a_line_is_kept_without_its_edges(typed: str) -> None:
    assert line(typed, column="station") == typed.strip()


@pytest.mark.parametrize("typed", ["", "  ", "x" * 201, "a\nb", "a\x00b", "a\ud800", "a\x1b[2J"])
def test_a_line_that_is_none_is_refused(typed: str) -> None:
    with pytest.raises(Refused) as refused:
        line(typed, column="station")

    assert refused.value.faults[0].column == "station"


def test_a_note_may_have_lines_and_may_be_empty() -> None:
    assert note(" first\r\n\tsecond ") == "first\r\n\tsecond"
    assert note("  ") == ""
    assert note("x" * 4000) == "x" * 4000


@pytest.mark.parametrize(("typed", "needed"), [("", True), ("x" * 4001, False), ("a\x00b", False)])
def test_a_note_that_is_none_is_refused(typed: str, needed: bool) -> None:
    with pytest.raises(Refused):
        note(typed, needed=needed)
