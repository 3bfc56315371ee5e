import pytest

from app.domain.errors import Refused
from app.domain.passwords import check_new_password
from app.domain.usernames import check_username, plain_username


@pytest.mark.parametrize(
    ("password", "taken"),
    [
        ("twelve chars", True),
        ("eleven char", False),
        ("long enough and nothing but small letters", True),
        ("x1" * 100, False),
        ("abcde" * 40, True),
        ("abcde" * 40 + "f", False),
        ("aaaaaaaaaaaa", False),
        ("dana.skerries", False),
        ("Dana.Skerries", False),
        ("dana.skerries dana.skerries", False),
        ("dana.skerries rides out", True),
        ("Dana Skerry-Isles", False),
    ],
)
def test_length_counts_and_composition_does_not(password: str, taken: bool) -> None:
    if taken:
        check_new_password(password, username="dana.skerries", name="Dana Skerry-Isles")
    else:
        with pytest.raises(Refused):
            check_new_password(password, username="dana.skerries", name="Dana Skerry-Isles")


def test_a_username_is_looked_up_as_it_is_stored() -> None:
    assert plain_username("  Dana ") == "dana"


@pytest.mark.parametrize(
    ("username", "taken"),
    [
        ("dana", True),
        ("d", True),
        ("dana.isles@skerry_1-2", True),
        ("x" * 64, True),
        ("x" * 65, False),
        ("", False),
        ("dana isles", False),
        ("-dana", False),
        ("Dana", False),
        ("däna", False),
        ("dana\n", False),
    ],
)
def test_usernames_are_plain_letters(username: str, taken: bool) -> None:
    if taken:
        check_username(username)
    else:
        with pytest.raises(Refused):
            check_username(username)
