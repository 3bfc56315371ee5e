from collections.abc import Sequence
from contextlib import suppress
from hashlib import sha1
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from app.domain.errors import NotNow, Refused
from app.exchange.leaked_passwords import check_leaked_passwords, leaked

ABC = "A9993E364706816ABA3E25717850C26C9CD0D89D"
"""Of "abc"; RFC 3174, section 7.3, TEST1."""
ONE_FILE = settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)


def digest(password: str) -> str:
    return sha1(password.encode(), usedforsecurity=False).hexdigest()


def a_list(folder: Path, lines: Sequence[str], ending: str = "\n") -> Path:
    file = folder / "leaks.txt"
    file.write_bytes("".join(f"{line}{ending}" for line in lines).encode())
    return file


@pytest.mark.parametrize("line", [ABC, f"{ABC}:1", f"{ABC}:52256179", ABC.lower()])
@pytest.mark.parametrize("ending", ["\n", "\r\n", ""])
def test_a_password_is_found_however_its_line_is_written(
    tmp_path: Path, line: str, ending: str
) -> None:
    file = a_list(tmp_path, [line], ending)

    check_leaked_passwords(file)

    assert leaked(file, "abc")
    assert not leaked(file, "Abc")
    assert not leaked(file, "abc ")


@ONE_FILE
@given(
    leaks=st.dictionaries(st.text(), st.integers(0, 10**20 - 1) | st.none(), min_size=1),
    others=st.sets(st.text()),
    ending=st.sampled_from(["\n", "\r\n"]),
)
def test_every_line_is_found_and_nothing_else(
    tmp_path: Path, leaks: dict[str, int | None], others: set[str], ending: str
) -> None:
    lines = sorted(
        digest(one) + ("" if count is None else f":{count}") for one, count in leaks.items()
    )
    file = a_list(tmp_path, lines, ending)

    check_leaked_passwords(file)

    assert all(leaked(file, one) for one in leaks)
    assert not any(leaked(file, one) for one in others - leaks.keys())


def test_a_list_larger_than_what_is_looked_at_holds_its_first_last_and_middle(
    tmp_path: Path,
) -> None:
    passwords = [f"lantern {number}" for number in range(20_000)]
    ranked = sorted(passwords, key=digest)
    file = a_list(tmp_path, [f"{digest(one).upper()}:{len(one)}" for one in ranked])

    check_leaked_passwords(file)

    assert all(leaked(file, ranked[at]) for at in (0, 1, 9_999, 10_000, -2, -1))
    assert not leaked(file, "lantern 20000")


@pytest.mark.parametrize(
    ("lines", "why"),
    [
        ([], "it is empty"),
        (["sunshine"], "at byte 0 is no SHA-1"),
        ([ABC, ABC[:-1]], "at byte 41 is no SHA-1"),
        ([ABC + "0"], "no SHA-1"),
        ([f"{ABC}:many"], "no SHA-1"),
        ([ABC, "", ABC], "no SHA-1"),
        ([ABC, "0" + ABC[1:]], "its lines do not rise"),
        ([ABC * 10_000], "no SHA-1"),
    ],
)
def test_a_list_that_will_not_do_is_refused_in_words(
    tmp_path: Path, lines: list[str], why: str
) -> None:
    with pytest.raises(Refused, match=why):
        check_leaked_passwords(a_list(tmp_path, lines))


def test_a_list_by_how_often_is_refused_for_its_order(tmp_path: Path) -> None:
    lines = [f"{digest(f'lantern {number}')}:{5_000 - number}" for number in range(5_000)]

    with pytest.raises(Refused, match="ordered by hash"):
        check_leaked_passwords(a_list(tmp_path, lines))


@pytest.mark.parametrize("missing", [True, False])
def test_no_password_is_taken_unseen(tmp_path: Path, missing: bool) -> None:
    file = tmp_path / "none.txt" if missing else a_list(tmp_path, ["torn"])

    with pytest.raises(NotNow, match="no password can be set"):
        leaked(file, "abc")


@ONE_FILE
@given(st.binary(max_size=400))
def test_any_bytes_are_taken_or_refused_in_words(tmp_path: Path, content: bytes) -> None:
    file = tmp_path / "leaks.txt"
    file.write_bytes(content)

    for look in (lambda: check_leaked_passwords(file), lambda: leaked(file, "abc")):
        with suppress(Refused, NotNow):
            assert not look()
