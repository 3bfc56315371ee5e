"""What a crew is asked at a shift check besides limits, and what a "no" means for the next
patient."""

from collections.abc import Mapping
from enum import StrEnum


class Question(StrEnum):
    ALARMS_ON = "alarms-on"
    VOLUME = "volume"
    NO_PAUSE = "no-pause"
    ETCO2 = "etco2"
    CLOCK = "clock"
    UNDAMAGED = "undamaged"

    @property
    def words(self) -> str:
        return _WORDS[self]

    @property
    def fault(self) -> str:
        """What a "no" says, consequence first."""
        return _FAULTS[self]

    @property
    def grave(self) -> bool:
        """A "no" keeps the device from the next patient."""
        return self in _GRAVE

    @property
    def may_be_missing(self) -> bool:
        return self in (Question.ETCO2, Question.CLOCK)

    @property
    def answers(self) -> tuple["Answer", ...]:
        missing = (Answer.NOT_FITTED,) if self.may_be_missing else ()
        return (Answer.YES, Answer.NO, *missing, Answer.COULD_NOT_TELL)


class Answer(StrEnum):
    YES = "yes"
    NO = "no"
    NOT_FITTED = "not-fitted"
    COULD_NOT_TELL = "could-not-tell"

    @property
    def words(self) -> str:
        return self.value.replace("-", " ")


Answers = Mapping[Question, Answer]
_WORDS = {
    Question.ALARMS_ON: "Are all alarms on?",
    Question.VOLUME: "Was an alarm heard at your seat, at the least volume or more?",
    Question.NO_PAUSE: "Is it free of any pause or silence?",
    Question.ETCO2: "Are the EtCO₂ alarms on?",
    Question.CLOCK: "Are date and time right, to a minute or two?",
    Question.UNDAMAGED: "Is it whole: case, screen, cables, sensors?",
}
_FAULTS = {
    Question.ALARMS_ON: "a patient is connected and nothing sounds: its alarms are off",
    Question.VOLUME: "an alarm is seen only by somebody who looks: it was not heard at the seat",
    Question.NO_PAUSE: "the next danger passes in silence: a pause is active",
    Question.ETCO2: "a tube that slips out raises no alarm: the EtCO₂ alarms are off",
    Question.CLOCK: "what it records carries a wrong time: its clock is wrong",
    Question.UNDAMAGED: "it may fail in use: it is damaged",
}
_GRAVE = frozenset({Question.ALARMS_ON, Question.VOLUME, Question.NO_PAUSE, Question.ETCO2})
START_UP_FAULT = "limits of another age hold from the start: it starts up as {shown}, not {signed}"
QUESTIONS = tuple(Question)
