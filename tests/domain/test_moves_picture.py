"""Every move of the table is an arrow from its state to the next, and none is made up."""

import re
from itertools import combinations

from app.domain.moves import MOVES, RevisionStatus
from app.domain.moves_picture import NARROW, Arrow, Box, moves_picture
from app.domain.permissions import ALLOWED

PICTURE = moves_picture()
BOXES = {box.status: box for box in PICTURE.boxes}


def points(arrow: Arrow) -> list[tuple[int, int]]:
    found: list[tuple[int, int]] = []
    x = y = 0
    for command, numbers in re.findall(r"([MHV])([\d ]+)", arrow.path):
        told = [int(number) for number in numbers.split()]
        x, y = (told[0], told[1]) if command == "M" else (x, y)
        x = told[0] if command == "H" else x
        y = told[0] if command == "V" else y
        found.append((x, y))
    return found


def touches(box: Box, point: tuple[int, int]) -> bool:
    x, y = point
    across = box.x <= x <= box.x + box.width and y in (box.y, box.y + box.height)
    return across or (x in (box.x, box.x + box.width) and box.y <= y <= box.y + box.height)


def test_the_picture_holds_every_state_and_every_move_once() -> None:
    assert set(BOXES) == set(RevisionStatus)
    drawn = [(arrow.start, arrow.end) for arrow in PICTURE.arrows]
    assert sorted(drawn) == sorted((start, end) for start, ends in MOVES.items() for end in ends)


def test_an_arrow_leads_from_its_state_to_the_next() -> None:
    for arrow in PICTURE.arrows:
        line = points(arrow)
        assert touches(BOXES[arrow.start], line[0])
        assert touches(BOXES[arrow.end], line[-1])
        assert arrow.head.startswith(f"{line[-1][0]},{line[-1][1]} ")


def test_no_two_arrows_run_along_each_other() -> None:
    upright = [
        (arrow, x, min(y, below), max(y, below))
        for arrow in PICTURE.arrows
        for (x, y), (same, below) in zip(points(arrow), points(arrow)[1:], strict=False)
        if x == same
    ]
    for (one, x, top, bottom), (other, x2, top2, bottom2) in combinations(upright, 2):
        assert x != x2 or bottom <= top2 or bottom2 <= top, (one, other)


def test_everything_stands_within_the_picture() -> None:
    for arrow in PICTURE.arrows:
        assert all(0 < x < PICTURE.width and 0 < y < PICTURE.height for x, y in points(arrow))
        width = 7 * max(len(arrow.move.words), len(arrow.who))
        start = arrow.x if arrow.anchor == "start" else arrow.x - width
        assert start >= 0
        assert start + width <= PICTURE.width


def test_on_a_phone_it_is_narrow_enough_and_every_arrow_has_its_number() -> None:
    narrow = moves_picture(NARROW)

    assert narrow.width <= 320
    assert [arrow.number for arrow in narrow.arrows] == [*range(1, len(narrow.arrows) + 1)]
    assert [(a.number, a.start, a.end) for a in narrow.arrows] == [
        (a.number, a.start, a.end) for a in PICTURE.arrows
    ]
    for arrow in narrow.arrows:
        assert all(0 < x < narrow.width and 0 < y < narrow.height for x, y in points(arrow))


def test_an_arrow_says_who_may() -> None:
    for arrow in PICTURE.arrows:
        if arrow.move.deed is None:
            assert arrow.who == "by itself, in time"
        else:
            assert set(arrow.who.split(" or ")) == {r.words for r in ALLOWED[arrow.move.deed]}
