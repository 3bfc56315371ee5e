"""What was found on a device: exactly one of on, off, not-fitted, could-not-read, not-read."""

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from app.domain.settings_of_alarms import Priority


class StateRead(StrEnum):
    POWER_ON = "power-on"
    AFTER_CATEGORY = "after-category"
    IN_USE = "in-use"
    STORED_PRESET = "stored-preset"

    @property
    def counts(self) -> bool:
        """Only these say what the device holds for the next patient."""
        return self in (StateRead.POWER_ON, StateRead.AFTER_CATEGORY)


class Origin(StrEnum):
    """How a report came in: only through the form is it known to be a blind reading by its sender.

    `CREW` is such a one, too, but sent in by somebody of a crew whom nobody had asked for it: it
    counts for the device and verifies, and is no part of a random sample. `SETTLED` is what
    several looks bear out; each of them is a report of its own. `SEEN` is of a crew as well, on
    whose phone the device's values had been opened: what it finds astray counts, and it bears
    nothing out.
    """

    FORM = "form"
    CREW = "crew"
    SEEN = "seen"
    SETTLED = "settled"
    FILE = "file"
    API = "api"

    @property
    def blind(self) -> bool:
        return self in (Origin.FORM, Origin.CREW)


@dataclass(frozen=True)
class Told:
    """What a file tells of a report besides its readings; empty where it tells nothing."""

    reader: str = ""
    software: str = ""
    trigger: str = ""
    minutes_off: int | None = None
    device_clock: str = ""


@dataclass(frozen=True)
class FoundOn:
    """Priority, delay and latching are None where they were not looked at."""

    limit: Decimal | None = None
    unit: str | None = None
    priority: Priority | None = None
    delay_s: Decimal | None = None
    latching: bool | None = None

    state = "on"


@dataclass(frozen=True)
class FoundOff:
    state = "off"


@dataclass(frozen=True)
class FoundNotFitted:
    state = "not-fitted"


@dataclass(frozen=True)
class CouldNotRead:
    why: str

    state = "could-not-read"


@dataclass(frozen=True)
class NotRead:
    state = "not-read"


@dataclass(frozen=True)
class FoundText:
    """The value of an option that is a word, such as the start-up category."""

    text: str

    state = "text"


Reading = FoundOn | FoundText | FoundOff | FoundNotFitted | CouldNotRead | NotRead
