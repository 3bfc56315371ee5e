"""A device's mark on the tide wall: its shape, its words and how far it has drifted."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import StrEnum

from app.domain.known_devices import DeviceStatus, Mark

WIDTH = 720.0
MARK = 24.0  # the side of the square that a mark needs, so that a finger finds it
LETTER = 6.2  # how wide a letter of a label is
LONGEST = 12  # letters of a tag that are shown
NEVER = WIDTH + 5 * MARK  # leaves room for the labels of the oldest
CELLS = 8
DAY = timedelta(days=1)


class Shape(StrEnum):
    """What a mark looks like; never a matter of colour alone."""

    LEVEL = "level"
    OPENING = "opening"
    CLOSING = "closing"
    BROKEN = "broken"
    OUTLINE = "outline"

    @property
    def words(self) -> str:
        return _WORDS[self]


_WORDS = {
    Shape.LEVEL: "holds",
    Shape.OPENING: "looser",
    Shape.CLOSING: "tighter",
    Shape.BROKEN: "differs otherwise",
    Shape.OUTLINE: "not judged",
}


@dataclass(frozen=True)
class Afloat:
    """A device at its place: `x` is the middle of its mark, `lane` counts from the top of its row.

    `days` None: never read. `label` is what stands beside the mark: its tag, and unsafe in words.
    """

    mark: Mark
    status: DeviceStatus
    shape: Shape
    days: int | None
    x: float
    lane: int
    under_water: bool
    off_the_edge: bool
    label: str = ""

    @property
    def room(self) -> float:
        return MARK + (len(self.label) + 1) * LETTER if self.label else MARK

    @property
    def unsafe(self) -> bool:
        return self.status is DeviceStatus.UNSAFE

    @property
    def age_words(self) -> str:
        if self.days is None:
            return "never read"
        return "read today" if self.days == 0 else f"read {_days(self.days)} ago"

    @property
    def words(self) -> str:
        """Status first; an unsafe mark says both that and which way it leans."""
        water = ", under water" if self.under_water else ""
        word = f"unsafe, {self.shape.words}" if self.unsafe else self.shape.words
        return f"{word}, {self.age_words}{water}"


@dataclass(frozen=True)
class Scale:
    check_interval: timedelta
    now: datetime

    @property
    def edge(self) -> timedelta:
        return 2 * self.check_interval

    @property
    def columns(self) -> tuple[int, ...]:
        """On which day each column of a counted wall begins; the last one has no end."""
        days = self.edge // DAY
        return tuple(sorted({days * n // CELLS for n in range(CELLS)}))

    def x_of_day(self, day: int) -> float:
        return self.x(day * DAY)

    def x(self, age: timedelta) -> float:
        return round(min(max(age / self.edge, 0.0), 1.0) * WIDTH, 1)


def shape_of(mark: Mark, status: DeviceStatus) -> Shape:
    """Toward fewer alarms weighs more than toward more of them."""
    if status is DeviceStatus.HOLDS:
        return Shape.LEVEL
    if status is DeviceStatus.NOT_JUDGED or mark.tally is None:
        return Shape.OUTLINE
    if mark.tally.looser:
        return Shape.OPENING
    return Shape.CLOSING if mark.tally.tighter else Shape.BROKEN


def afloat(mark: Mark, status: DeviceStatus, scale: Scale) -> Afloat:
    """As old as its oldest preset: what was read since tells nothing of the others."""
    age = None if mark.oldest_read_at is None else scale.now - mark.oldest_read_at
    return Afloat(
        mark=mark,
        status=status,
        shape=shape_of(mark, status),
        days=None if age is None else age // DAY,
        x=NEVER if age is None else scale.x(age),
        lane=0,
        under_water=age is None or age > scale.check_interval,
        off_the_edge=age is not None and age > scale.edge,
    )


def label_of(mark: Afloat, *, named: bool) -> str:
    tag = mark.mark.device.tag
    short = tag if len(tag) <= LONGEST else f"{tag[: LONGEST - 1]}…"
    return " ".join([*([short] if named else []), *(["unsafe"] if mark.unsafe else [])])


def _days(days: int) -> str:
    return "1 day" if days == 1 else f"{days} days"
