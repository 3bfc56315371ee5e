"""The blind form of options, the settings that are no alarm. Nothing here knows a signed value.

One option is up to three fields: `<option>` the number or the word that the device shows,
`<option>.found` what was chosen instead, `<option>.why`. A number that is hardly one needs
`<option>.sure`.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from app.domain.device_reports import CouldNotRead, FoundOff, FoundOn, FoundText, NotRead, Reading
from app.domain.double_reading import NextLook
from app.domain.errors import Fault, Refused
from app.domain.options import OPTIONS, START_UP, OptionKind
from app.domain.plain_text import line
from app.domain.reading_grids import ReadingGrid
from app.domain.written_limits import shown_unit
from app.web.reading_form import NUMBER

UNREAD = "could-not-read"
AGAIN = "look again, then tick “it is so”"
MOST = {"%": 100, "s": 3600, "min": 240}
"""Beyond that a finger slipped more likely than a device goes so far. From memory."""
SWITCH = (("on", "on"), ("off", "off"))


@dataclass(frozen=True)
class AskedOption:
    """`presets`: by the name that the device has for each, the category that it carries."""

    kind: OptionKind
    presets: Mapping[str, str]

    @property
    def alarm(self) -> str:
        """What its fields are called, as those of an alarm."""
        return self.kind.key

    @property
    def label(self) -> str:
        return self.kind.label

    @property
    def shown(self) -> str:
        return shown_unit(self.kind.unit)

    @property
    def is_number(self) -> bool:
        return self.kind.kind == "number"

    @property
    def is_word(self) -> bool:
        return self.kind.kind == "word"

    @property
    def grid(self) -> ReadingGrid:
        return ReadingGrid(Decimal(0), Decimal(MOST[self.kind.unit]), Decimal(1), self.kind.unit)

    @property
    def choices(self) -> tuple[tuple[str, str], ...]:
        """Value and words of what can be chosen, besides that it could not be read."""
        if self.kind.kind == "yes-no":
            return SWITCH
        names = self.presets if self.kind.key == START_UP else self.kind.words
        return tuple((name, shown_unit(name)) for name in names)

    def told(self, word: str) -> Reading:
        """The device names its presets, the policy its categories."""
        if self.kind.kind == "yes-no":
            return FoundOn() if word == "on" else FoundOff()
        return FoundText(self.presets[word] if self.kind.key == START_UP else word)


def options_of(look: NextLook, presets: Mapping[str, str]) -> list[AskedOption]:
    return [AskedOption(OPTIONS[key], presets) for key in look.asked]


def option_readings_from(
    typed: Mapping[str, str], wanted: Sequence[AskedOption]
) -> dict[str, Reading]:
    """Raises Refused with every fault at its option."""
    faults: list[Fault] = []
    readings: dict[str, Reading] = {}
    for one in wanted:
        try:
            readings[one.alarm] = _reading(typed, one)
        except Refused as refused:
            faults += refused.faults
    if faults:
        raise Refused(faults)
    return readings


def _reading(typed: Mapping[str, str], one: AskedOption) -> Reading:
    own, chosen = typed.get(one.alarm, "").strip(), typed.get(f"{one.alarm}.found", "")
    if own and chosen:
        raise _fault(one, "give what it shows or one of the choices, not both")
    if own:
        return _number(typed, one, own) if one.is_number else _word(one, own)
    if chosen == UNREAD:
        return CouldNotRead(_why(typed, one))
    if chosen in dict(one.choices):
        return one.told(chosen)
    if typed.get("rest") and not chosen:
        return NotRead()
    raise _fault(one, "nothing is entered")


def _number(typed: Mapping[str, str], one: AskedOption, text: str) -> FoundOn:
    if not NUMBER.fullmatch(text):
        raise _fault(one, "write a number, such as 25")
    value = Decimal(text.replace(",", "."))
    reason = one.grid.why_not(value)
    if reason and not typed.get(f"{one.alarm}.sure"):
        raise _fault(one, f"{reason}; {AGAIN}")
    return FoundOn(value)


def _word(one: AskedOption, text: str) -> FoundText:
    """As the device shows it; a switch is only on or off."""
    if not one.is_word:
        raise _fault(one, "choose on or off")
    try:
        return FoundText(line(text, column=one.alarm))
    except Refused as refused:
        raise _fault(one, "write what it shows, in one short line") from refused


def _why(typed: Mapping[str, str], one: AskedOption) -> str:
    try:
        return line(typed.get(f"{one.alarm}.why", ""), column=one.alarm)
    except Refused as refused:
        raise _fault(one, "say why it could not be read") from refused


def _fault(one: AskedOption, reason: str) -> Refused:
    return Refused.because(reason, column=one.alarm)
