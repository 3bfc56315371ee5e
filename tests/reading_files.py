"""Files of readings as people and machines send them."""

import hashlib
from collections.abc import Mapping

from app.domain.device_reports import FoundOff, FoundOn, Reading
from app.domain.settings_of_alarms import show_number
from tests.builders import PRESET, as_signed

HEADER = "device,read_at,state_read,preset,alarm,reading"
AT = "2026-03-02T09:00:00Z"
GOOD = f"boat-3,{AT},power-on,{PRESET},heart-rate-high,170"
LOOSER = f"boat-3,{AT},power-on,{PRESET},heart-rate-high,200"


def a_file(*lines: str, more: str = "") -> bytes:
    return "\n".join([HEADER + more, *lines, ""]).encode()


def a_whole_file(readings: Mapping[str, Reading] | None = None, *, device: str = "boat-3") -> bytes:
    """Every alarm of one preset, as signed unless told otherwise."""
    found = as_signed() if readings is None else readings
    return a_file(
        *(
            f"{device},{AT},power-on,{PRESET},{alarm},{written(reading)}"
            for alarm, reading in found.items()
        )
    )


def digest(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


def written(reading: Reading) -> str:
    if isinstance(reading, FoundOff):
        return "off"
    assert isinstance(reading, FoundOn)
    return "on" if reading.limit is None else show_number(reading.limit)


BAD_ROWS = {
    "unknown device": (
        f"boat-9,{AT},power-on,{PRESET},heart-rate-high,170",
        "device: there is no such device: add it to the register first",
    ),
    "hostile device": (
        f"<script>alert(1)</script>,{AT},power-on,{PRESET},heart-rate-high,170",
        "device: there is no such device: add it to the register first",
    ),
    "formula": (
        f"=HYPERLINK(1),{AT},power-on,{PRESET},heart-rate-high,170",
        "device: there is no such device: add it to the register first",
    ),
    "unknown preset": (
        f"boat-3,{AT},power-on,CHILD,heart-rate-high,170",
        "preset: must be one of neonate, infant, preschool, school, adult",
    ),
    "unknown state": (
        f"boat-3,{AT},asleep,{PRESET},heart-rate-high,170",
        "state_read: must be one of power-on, after-category, in-use, stored-preset",
    ),
    "unknown alarm": (f"boat-3,{AT},power-on,{PRESET},pulse,170", "alarm: is no alarm condition"),
    "unknown option": (
        f"boat-3,{AT},power-on,*,heart-rate-high,120",
        "alarm: is no option of a device",
    ),
    "no zone": (
        f"boat-3,2026-03-02T09:00:00,power-on,{PRESET},heart-rate-high,170",
        "read_at: has no zone: add Z or an offset such as +01:00",
    ),
    "in the future": (
        f"boat-3,2026-03-02T09:00:01Z,power-on,{PRESET},heart-rate-high,170",
        "read_at: lies in the future",
    ),
    "no date": (
        f"boat-3,yesterday,power-on,{PRESET},heart-rate-high,170",
        "read_at: must be a time such as 2026-03-01T08:00:00Z",
    ),
    "NaN": (
        f"boat-3,{AT},power-on,{PRESET},heart-rate-high,NaN",
        "reading: must be a number, on, off, not-fitted or could-not-read: why",
    ),
    "1e309": (
        f"boat-3,{AT},power-on,{PRESET},heart-rate-high,1e309",
        "reading: must be a number, on, off, not-fitted or could-not-read: why",
    ),
    "number in words": (
        f"boat-3,{AT},power-on,{PRESET},heart-rate-high,a lot",
        "reading: must be a number, on, off, not-fitted or could-not-read: why",
    ),
    "limit of an event": (
        f"boat-3,{AT},power-on,{PRESET},asystole,5",
        "reading: this alarm has no limit: write on or off",
    ),
    "cell too long": (
        f"boat-3,{AT},power-on,{PRESET},heart-rate-high,{'9' * 2001}",
        "row: a cell is longer than 2000 characters",
    ),
    "cut off": (f"boat-3,{AT},power-on", "row: has 3 cells where the header has 6"),
    "not printable": (
        f"boat-3,{AT},power-on,{PRESET},heart-rate-high,could-not-read: \x00",
        "reading: holds characters that cannot be printed",
    ),
}
"""A row and why it is refused, where boat-3 is known and revision 1 is in force."""

UNREADABLE = {
    "empty": (b"", "the file is empty"),
    "not UTF-8": (a_file(GOOD) + b"\xff\xfe\n", "line 3, file: this is not UTF-8 text"),
    "UTF-16": (a_file(GOOD).decode().encode("utf-16"), "line 1, file: this is not UTF-8 text"),
    "a picture": (b"\x89PNG\r\n\x1a\n\x00\x00", "line 1, file: this is not UTF-8 text"),
    "no header": (f"{GOOD}\n".encode(), "line 1, device: this column is missing"),
    "open quote": (a_file(f'"{GOOD}'), "file: this is no CSV"),
    "unknown column": (a_file(f"{GOOD},x", more=",mood"), "line 1, mood: unknown column"),
    "column twice": (a_file(f"{GOOD},x", more=",device"), "device: this column stands twice"),
}
"""A file of which nothing can be taken, and what is said of it."""
