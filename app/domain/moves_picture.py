"""The table of moves as a picture: states from top to bottom, moves as arrows between them.

A move to the next state goes straight down, one further down swings out to the right, one back up
to the left. Shorter swings lie inside longer ones; those that end in one state meet there.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from app.domain.moves import MOVES, Move, RevisionStatus
from app.domain.permissions import ALLOWED

BOX_WIDTH, BOX_HEIGHT, PITCH, TOP = 130, 36, 92, 8
_GAP = 6


@dataclass(frozen=True)
class Room:
    """How wide it is drawn: the words of an arrow stand in its lane, or a number alone."""

    width: int
    box_x: int
    first_lane: int
    lane: int

    @property
    def middle(self) -> int:
        return self.box_x + BOX_WIDTH // 2


WIDE = Room(760, 250, 170, 110)
NARROW = Room(310, 60, 40, 40)


@dataclass(frozen=True)
class Box:
    status: RevisionStatus
    y: int
    x: int
    width: int = BOX_WIDTH
    height: int = BOX_HEIGHT


@dataclass(frozen=True)
class Arrow:
    """`path` and `head` are drawn as SVG writes them; the words, or the number by which the table
    names the move, stand at `x`, `y`."""

    number: int
    start: RevisionStatus
    end: RevisionStatus
    move: Move
    path: str
    head: str
    x: int
    y: int
    anchor: Literal["start", "end"]

    @property
    def who(self) -> str:
        if self.move.deed is None:
            return "by itself, in time"
        return " or ".join(sorted(role.words for role in ALLOWED[self.move.deed]))


@dataclass(frozen=True)
class MovesPicture:
    boxes: tuple[Box, ...]
    arrows: tuple[Arrow, ...]
    width: int
    height: int


def moves_picture(room: Room = WIDE) -> MovesPicture:
    boxes = {
        status: Box(status, TOP + PITCH * at, room.box_x)
        for at, status in enumerate(RevisionStatus)
    }
    pairs = [(boxes[start], boxes[end]) for start, moves in MOVES.items() for end in moves]
    lanes = _lanes(pairs)
    arrows = tuple(
        _arrow(room, number, pair, lanes.get(pair, 0)) for number, pair in enumerate(pairs, start=1)
    )
    height = TOP * 2 + PITCH * (len(boxes) - 1) + BOX_HEIGHT
    return MovesPicture(tuple(boxes.values()), arrows, room.width, height)


def _lanes(pairs: Sequence[tuple[Box, Box]]) -> dict[tuple[Box, Box], int]:
    """Shorter ones first, each as far inside as those that it overlaps leave room."""
    swings = [(start, end) for start, end in pairs if end.y - start.y > PITCH]
    found: dict[tuple[Box, Box], int] = {}
    for start, end in sorted(swings, key=lambda pair: pair[1].y - pair[0].y):
        taken = {lane for (a, b), lane in found.items() if a.y < end.y and start.y < b.y}
        found[start, end] = next(lane for lane in range(len(swings)) if lane not in taken)
    return found


def _arrow(room: Room, number: int, pair: tuple[Box, Box], lane: int) -> Arrow:
    start, end = pair
    move = MOVES[start.status][end.status]
    if end.y - start.y != PITCH:
        return _swing(room, number, pair, lane)
    top, tip, middle = start.y + BOX_HEIGHT, end.y, room.middle
    path = f"M{middle} {top}V{tip}"
    head = f"{middle},{tip} {middle - 5},{tip - 9} {middle + 5},{tip - 9}"
    place = (middle + 10, (top + tip) // 2 - 4)
    return Arrow(number, start.status, end.status, move, path, head, *place, "start")


def _swing(room: Room, number: int, pair: tuple[Box, Box], lane: int) -> Arrow:
    """Leaves a box below its middle and enters the next above it, so that two do not touch."""
    start, end = pair
    down = end.y > start.y
    side = room.box_x + BOX_WIDTH if down else room.box_x
    out = side + room.first_lane + room.lane * lane if down else side - 40
    away, tip = start.y + BOX_HEIGHT // 2 + _GAP, end.y + BOX_HEIGHT // 2 - _GAP
    if not down:
        away, tip = away - 2 * _GAP, tip + 2 * _GAP
    base = side + (9 if down else -9)
    path = f"M{side} {away}H{out}V{tip}H{side}"
    head = f"{side},{tip} {base},{tip - 5} {base},{tip + 5}"
    place = (out - 8, (away + tip) // 2)
    move = MOVES[start.status][end.status]
    return Arrow(number, start.status, end.status, move, path, head, *place, "end")
