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


@pytest.mark.parametrize(
    ("password", "taken"),
    [
        ("sunshinegirl", False),
        ("SunshineGirl", False),
        ("sunshine girl", False),
        ("sunshinegirl2026!", False),
        ("hunter hunter", False),
        ("hunter22hunter22", False),
        ("hunter rides a horse", True),
        ("marchstone2026", False),
        ("MARCH stone 1", False),
        ("Skerry-Isles 2026", False),
        ("marchstone skerry gate", True),
        ("abcdefghijkl", False),
        ("345678901234", False),
        ("321098765432", False),
        ("abcdefghijkm", True),
    ],
)
def test_what_many_use_and_what_lies_near_is_refused(password: str, taken: bool) -> None:
    def check() -> None:
        check_new_password(
            password,
            username="dana",
            name="Dana",
            around=("marchstone", "skerry-isles"),
            common=frozenset({"sunshinegirl", "hunter"}),
        )

    if taken:
        check()
    else:
        with pytest.raises(Refused):
            check()


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
