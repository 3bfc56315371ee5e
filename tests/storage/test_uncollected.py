import gc
from threading import Event, Thread

import pytest

from app.storage.uncollected import without_collecting


def test_garbage_is_collected_again_afterwards() -> None:
    with without_collecting():
        within = gc.isenabled()

    assert not within
    assert gc.isenabled()


def test_garbage_is_collected_again_after_an_exception() -> None:
    with pytest.raises(ValueError, match="wrong"), without_collecting():
        raise ValueError("wrong")

    assert gc.isenabled()


def test_one_within_another_leaves_it_to_the_outer_one() -> None:
    with without_collecting():
        with without_collecting():
            pass
        between = gc.isenabled()

    assert not between
    assert gc.isenabled()


def test_whoever_leaves_last_starts_it_again() -> None:
    goes_on, began = Event(), Event()

    def longer() -> None:
        with without_collecting():
            began.set()
            goes_on.wait(10)

    other = Thread(target=longer)
    with without_collecting():
        other.start()
        began.wait(10)
    while_it_goes_on = gc.isenabled()
    goes_on.set()
    other.join()

    assert not while_it_goes_on
    assert gc.isenabled()


def test_where_nothing_is_collected_it_stays_so() -> None:
    gc.disable()
    try:
        with without_collecting():
            pass
        afterwards = gc.isenabled()
    finally:
        gc.enable()

    assert not afterwards
