import pytest

from app.domain.confirmations import read_hash

PRINT = "0123456789abcdef" * 4


@pytest.mark.parametrize(
    ("typed", "read"),
    [
        (PRINT, PRINT),
        (PRINT.upper(), PRINT),
        (" ".join(PRINT[at : at + 8] for at in range(0, 64, 8)), PRINT),
        (f" {PRINT[:32]}\n{PRINT[32:]} ", PRINT),
        (PRINT[:-1], None),
        (f"{PRINT}0", None),
        (f"{PRINT[:-1]}g", None),
        ("٠" * 64, None),
        ("", None),
    ],
)
def test_a_fingerprint_is_read_as_it_is_copied_from_paper(typed: str, read: str | None) -> None:
    assert read_hash(typed) == read
