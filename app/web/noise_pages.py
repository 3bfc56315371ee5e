"""What the page of noise and silence shows, and where on the curves it is asked to stand."""

import json
from dataclasses import dataclass
from typing import Annotated

from pydantic import BaseModel, Field

from app.domain.curve_limits import settable_words
from app.domain.evidence import Evidence, LineEvidence, Measured, SilentBeyond
from app.domain.noise_pictures import (
    NOISE_HEIGHT,
    SILENCE_HEIGHT,
    WIDTH,
    NoisePicture,
    noise_picture,
)
from app.domain.noise_readings import (
    Asked,
    NoiseReading,
    alarm_of_line,
    asked_of,
    label_of_line,
    number_words,
    place_of,
    read_curves,
)
from app.domain.revisions import StoredRevision
from app.lookups.evidence import EvidenceAsked
from app.web.policy_desk import Desk


def noise_address(base: str, category: str, circumstance: str) -> str:
    told = f"{base}/noise?category={category}"
    return f"{told}&circumstance={circumstance}" if circumstance else told


class NoiseQuestion(BaseModel):
    """Which line, and where on its curves; what is no number is no question. `of` is the line for
    which the place was typed: on another it means nothing."""

    category: Annotated[str, Field(max_length=100)] = ""
    circumstance: Annotated[str, Field(max_length=100)] = ""
    alarm: Annotated[str, Field(max_length=100)] = ""
    of: Annotated[str, Field(max_length=100)] = ""
    limit: Annotated[str, Field(max_length=20)] = ""
    delay: Annotated[str, Field(max_length=20)] = ""
    bound: Annotated[int, Field(ge=0, le=100)] = 0


@dataclass(frozen=True)
class LineShown:
    """One line of the policy, drawn and read where it was asked about."""

    line: LineEvidence
    at: Asked
    picture: NoisePicture
    reading: NoiseReading

    @property
    def label(self) -> str:
        return label_of_line(self.line.alarm)

    @property
    def unit(self) -> str:
        return alarm_of_line(self.line.alarm).shown

    @property
    def bound(self) -> SilentBeyond | None:
        return self.line.silence[self.at.bound] if self.line.silence else None

    @property
    def against(self) -> NoiseReading | None:
        """Where the line of the other revision stands on the curves."""
        found = place_of(self.line, self.line.against)
        return None if found is None else self._read(found)

    def _read(self, found: Asked) -> NoiseReading:
        return read_curves(self.line, Asked(found.limit, found.delay, self.at.bound))

    @property
    def rows(self) -> list[NoiseReading]:
        """At every limit, for the delay and the bound shown."""
        return [
            read_curves(self.line, Asked(place, self.at.delay, self.at.bound))
            for place in range(len(self.line.limits))
        ]

    @property
    def curves(self) -> str:
        """All that a script reads from while a limit is dragged: nothing is asked meanwhile."""
        line = self.line
        told = {
            "hours": line.hours,
            "limits": line.limits,
            "delays": line.delays,
            "counts": line.counts,
            "seconds": line.seconds,
            "alarmed": line.alarmed,
            "silence": [
                {"seconds": one.seconds, "episodes": one.episodes, "patients": one.patients}
                for one in line.silence
            ],
            "noiseTop": self.picture.noise_top,
            "silenceTop": self.picture.silence_top,
        }
        return json.dumps(told, separators=(",", ":"))


@dataclass(frozen=True)
class NoisePage:
    base: str
    asked: EvidenceAsked
    may_replay: bool
    shown: LineShown | None
    desk: Desk
    wanted: str = ""  # the circumstance that was asked for
    width: float = WIDTH
    noise_height: float = NOISE_HEIGHT
    silence_height: float = SILENCE_HEIGHT

    @property
    def revision(self) -> StoredRevision:
        return self.asked.revision

    @property
    def found(self) -> Evidence | None:
        return None if self.asked.answer is None else self.asked.answer.evidence

    @property
    def synthetic(self) -> list[str]:
        return [one.synthetic for one in self.asked.recordings if one.synthetic]

    def label(self, alarm: str) -> str:
        return label_of_line(alarm)

    def unit(self, alarm: str) -> str:
        return alarm_of_line(alarm).shown

    def number(self, value: float) -> str:
        return number_words(value)

    def rate(self, found: Measured) -> str:
        return f"{found.per_hour:.2f}"

    def change(self, line: LineEvidence) -> str:
        """Of alarms an hour, with its interval; empty where one of the two has no such line."""
        if line.revision is None or line.against is None:
            return ""
        change = line.revision.per_hour - line.against.per_hour
        if line.change_low is None or line.change_high is None:
            return f"{change:+.2f}"
        if change == line.change_low == line.change_high == 0:
            return "none"
        told = f"{change:+.2f} ({line.change_low:+.2f} to {line.change_high:+.2f})"
        return told.replace("-", "−")

    def address(self, alarm: str) -> str:
        return f"{self.address_of_limits}&alarm={alarm}#curve"

    @property
    def address_of_limits(self) -> str:
        return noise_address(self.base, self.asked.category.key, self.asked.in_circumstance)

    @property
    def limits(self) -> str:
        """Whose limits they are, in words."""
        label = self.asked.category.label
        known = self.asked.circumstance
        return label if known is None else f"{label}, {known.label}"

    @property
    def unknown(self) -> str:
        """The label of a circumstance that was asked for and that this category does not have."""
        if self.wanted in ("", self.asked.in_circumstance):
            return ""
        known = self.asked.profile.circumstances
        return next((one.label for one in known if one.key == self.wanted), self.wanted)

    @property
    def stands_at(self) -> str:
        """At which limits the curve shown stands."""
        if self.shown is None:
            return ""
        return settable_words(alarm_of_line(self.shown.line.alarm), self.asked.models)


def _number(typed: str) -> float | None:
    try:
        found = float(typed)
    except ValueError:
        return None
    return found if abs(found) < 1e6 else None


def line_shown(asked: EvidenceAsked, question: NoiseQuestion) -> LineShown | None:
    if asked.answer is None or not asked.answer.evidence.lines:
        return None
    found = asked.answer.evidence
    line = found.line(question.alarm) or _loudest(found)
    at = _place(line, question)
    return LineShown(line, at, noise_picture(line, at), read_curves(line, at))


def _place(line: LineEvidence, question: NoiseQuestion) -> Asked:
    if question.of not in ("", line.alarm):
        return asked_of(line, None, None, None)
    return asked_of(line, _number(question.limit), _number(question.delay), question.bound)


def _loudest(found: Evidence) -> LineEvidence:
    return max(found.lines, key=lambda one: one.revision.count if one.revision else -1)
