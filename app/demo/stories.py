"""What is told of single devices; every other one was read in its turn and held the policy."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal

from app.domain.device_reports import CouldNotRead, FoundOff, FoundOn, Reading
from app.domain.finding_causes import CauseCode
from app.domain.finding_life import Audible, FindingStatus
from app.domain.finding_steps import NOTHING, StepDetails
from app.domain.people import Role

Found = Mapping[str, Reading]
_FEMI, _TESS, _DANA = Role.FLEET_MANAGER, Role.TECHNICIAN, Role.MEDICAL_DIRECTOR


@dataclass(frozen=True)
class Step:
    """Taken with every finding of the device, so many hours after the reading that found it."""

    hours: float
    to: FindingStatus
    by: Role
    note: str = ""
    details: StepDetails = NOTHING


@dataclass(frozen=True)
class Story:
    """`read`: days before the first day of the demo, None: in its turn. `found` differs from what
    is signed for the preset of `category` at the last reading; `as_if`: that preset holds the
    values of another category; `old`: all presets hold those of revision 1, or only `old_alarm`
    of that one; `only`: no other preset was read."""

    read: tuple[int, ...] | None = None
    category: str = ""
    found: Found = field(default_factory=dict)
    as_if: str = ""
    old: bool = False
    old_alarm: str = ""
    only: bool = False
    software: str = ""
    life: tuple[Step, ...] = ()


def _limit(value: float) -> FoundOn:
    return FoundOn(Decimal(repr(value)))


def _contained(hours: float, note: str) -> Step:
    return Step(hours, FindingStatus.CONTAINED, _FEMI, note)


def _corrected(hours: float, note: str, cause: CauseCode | None = None) -> Step:
    return Step(hours, FindingStatus.CORRECTED, _TESS, note, StepDetails(cause))


def _verified(hours: float) -> Step:
    heard = StepDetails(heard=Audible.YES, seen=Audible.YES)
    return Step(hours, FindingStatus.VERIFIED, _FEMI, details=heard)


def _closed(hours: float) -> Step:
    return Step(hours, FindingStatus.CLOSED, _DANA)


_UPDATED = "2.1.0"
_MARKED = "Marked: set by hand from the card until it is corrected."


def _set_back(read: int, *life: Step) -> Story:
    """The update took one limit back to what it had been before revision 2."""
    return Story((83, read), "adult", old=True, old_alarm="etco2-low", software=_UPDATED, life=life)


STORIES: dict[str, Story] = {
    "road-2": Story(
        (85, 1),
        "adult",
        {"spo2-low": FoundOff()},
        life=(_contained(0.5, "Taken off the road; spare-1 rides instead."),),
    ),
    "road-4": Story((81, 5), "child", as_if="young-child", life=(_contained(2, _MARKED),)),
    "road-6": Story((103,)),
    "road-9": Story(
        (78, 15),
        "adult",
        {"heart-rate-high": _limit(1400)},
        life=(
            _contained(0.2, "Kept at the station."),
            _corrected(1, "A slip of typing: one nought too many. The device shows 140."),
            _verified(20),
        ),
    ),
    "road-11": Story(
        (80, 3),
        "adult",
        {"respiratory-rate-high": _limit(53)},
        life=(_contained(0.5, "Kept at the station until it is read again."),),
    ),
    "road-14": Story((77, 24), "child", {"etco2-high": _limit(55)}),
    "road-15": Story(
        (79, 9),
        "young-child",
        as_if="child",
        life=(
            _contained(1, _MARKED),
            _corrected(
                26,
                "Toddler had been copied from Junior after a repair. Set by the sheet.",
                CauseCode.SERVICE,
            ),
        ),
    ),
    "road-16": _set_back(12, _contained(3, _MARKED)),
    "road-17": _set_back(11, _contained(2, _MARKED)),
    "road-18": _set_back(10),
    "road-19": _set_back(9),
    "road-20": _set_back(8),
    "boat-1": Story(
        (90, 20),
        "adult",
        {"heart-rate-high": _limit(120), "pulse-rate-high": _limit(120)},
    ),
    "boat-3": Story(
        (89, 12),
        "young-child",
        {"heart-rate-high": _limit(195), "pulse-rate-high": _limit(195)},
        life=(
            _contained(0.3, "Taken off the boat within the hour."),
            _corrected(
                4,
                "Set to 170. It had been raised for one child and stored by mistake.",
                CauseCode.HUMAN_SET,
            ),
            _verified(21),
            _closed(30),
        ),
    ),
    "boat-6": Story((84, 17), "adult", {"temperature-high": CouldNotRead("no probe on board")}),
    "boat-8": Story((75, 30), old=True),
    "air-3": Story(
        (76, 40),
        "adult",
        {"apnoea": _limit(45)},
        life=(
            _contained(0.4, "Flies with the second monitor."),
            _corrected(6, "Set to 30. Nobody remembers who had changed it.", CauseCode.UNKNOWN),
            _verified(28),
            _closed(48),
        ),
    ),
    "air-7": Story((88, 14), "adult", only=True),
    "spare-5": Story(()),
}
