"""The table of moves as a picture: states from top to bottom, moves as arrows between them.

A move to the next state goes straight down, one further down swings out to the right, one back up
to the left. Shorter swings lie inside longer ones; those that end in one state meet there.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from app.domain.moves import MOVES, Move, RevisionStatus
from app.domain.permissions import ALLOWED

WIDTH, BOX_WIDTH, BOX_HEIGHT, PITCH = 760, 130, 36, 92
BOX_X, TOP = 250, 8
_FIRST_LANE, _LANE, _GAP = 170, 110, 6
_MIDDLE = BOX_X + BOX_WIDTH // 2


@dataclass(frozen=True)
class Box:
    status: RevisionStatus
    y: int
    x: int = BOX_X
    width: int = BOX_WIDTH
    height: int = BOX_HEIGHT


@dataclass(frozen=True)
class Arrow:
    """`path` and `head` are drawn as SVG writes them; the words stand at `x`, `y`."""

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


def moves_picture() -> MovesPicture:
    boxes = {status: Box(status, TOP + PITCH * at) for at, status in enumerate(RevisionStatus)}
    pairs = [(boxes[start], boxes[end]) for start, moves in MOVES.items() for end in moves]
    lanes = _lanes(pairs)
    arrows = tuple(_arrow(start, end, lanes.get((start, end), 0)) for start, end in pairs)
    height = TOP * 2 + PITCH * (len(boxes) - 1) + BOX_HEIGHT
    return MovesPicture(tuple(boxes.values()), arrows, WIDTH, height)


def _lanes(pairs: Sequence[tuple[Box, Box]]) -> dict[tuple[Box, Box], int]:
    """Shorter ones first, each as far inside as those that it overlaps leave room."""
    swings = [(start, end) for start, end in pairs if end.y - start.y > PITCH]
    found: dict[tuple[Box, Box], int] = {}
    for start, end in sorted(swings, key=lambda pair: pair[1].y - pair[0].y):
        taken = {lane for (a, b), lane in found.items() if a.y < end.y and start.y < b.y}
        found[start, end] = next(lane for lane in range(len(swings)) if lane not in taken)
    return found


def _arrow(start: Box, end: Box, lane: int) -> Arrow:
    move = MOVES[start.status][end.status]
    if end.y - start.y == PITCH:
        top, tip = start.y + BOX_HEIGHT, end.y
        path = f"M{_MIDDLE} {top}V{tip}"
        head = f"{_MIDDLE},{tip} {_MIDDLE - 5},{tip - 9} {_MIDDLE + 5},{tip - 9}"
        place = (_MIDDLE + 10, (top + tip) // 2 - 4)
        return Arrow(start.status, end.status, move, path, head, *place, "start")
    return _swing(start, end, move, lane)


def _swing(start: Box, end: Box, move: Move, lane: int) -> Arrow:
    """Leaves a box below its middle and enters the next above it, so that two do not touch."""
    down = end.y > start.y
    side = BOX_X + BOX_WIDTH if down else BOX_X
    out = side + _FIRST_LANE + _LANE * lane if down else side - 40
    away, tip = start.y + BOX_HEIGHT // 2 + _GAP, end.y + BOX_HEIGHT // 2 - _GAP
    if not down:
        away, tip = away - 2 * _GAP, tip + 2 * _GAP
    base = side + (9 if down else -9)
    path = f"M{side} {away}H{out}V{tip}H{side}"
    head = f"{side},{tip} {base},{tip - 5} {base},{tip + 5}"
    place = (out - 8, (away + tip) // 2)
    return Arrow(start.status, end.status, move, path, head, *place, "end")
