"""Settings that are no alarm: one row each."""

from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

Kind = Literal["number", "yes-no", "word"]
OptionValue = Decimal | str | bool
START_UP = "start-up-category"


@dataclass(frozen=True)
class OptionKind:
    """`words` are what may stand instead of a number, or, for a word, all that may stand."""

    key: str
    label: str
    kind: Kind
    unit: str = ""
    words: tuple[str, ...] = ()


OPTIONS: dict[str, OptionKind] = {
    row.key: row
    for row in (
        OptionKind("all-alarms-on-at-start", "All alarms on at start", "yes-no"),
        OptionKind(START_UP, "Start-up category", "word"),
        OptionKind("audio-volume", "Audio volume", "number", "%", ("off",)),
        OptionKind("longest-pause-s", "Longest pause", "number", "s", ("permanent",)),
        OptionKind("reminder-s", "Reminder every", "number", "s", ("off",)),
        OptionKind("nibp-interval-min", "NIBP interval", "number", "min", ("manual",)),
        OptionKind("spo2-averaging-s", "SpO₂ averaging", "number", "s"),
        OptionKind("pacing-detection", "Pacing detection", "yes-no"),
        OptionKind("etco2-unit", "EtCO₂ unit", "word", "", ("mm[Hg]", "kPa")),
        OptionKind("default-lead", "Default lead", "word"),
        OptionKind("trend-interval-s", "Trend interval", "number", "s"),
    )
}


SILENCING = frozenset({"all-alarms-on-at-start", "audio-volume", "longest-pause-s"})
"""Those that can silence a device as a whole, as `breach` tells."""


def breach(key: str, value: OptionValue) -> str | None:
    """Why an option silences a device as a whole; None where it does not."""
    if key == "all-alarms-on-at-start" and (value is False or value == "off"):
        return "all alarms can be off at start: a patient is connected and nothing sounds"
    if key == "audio-volume" and (value == "off" or (_is_number(value) and value == 0)):
        return "the audio is off: an alarm is seen only by somebody who looks"
    if key == "longest-pause-s" and value == "permanent":
        return "a pause may last for ever: alarms stay silent once they were paused"
    return None


def _is_number(value: object) -> bool:
    return isinstance(value, Decimal)
