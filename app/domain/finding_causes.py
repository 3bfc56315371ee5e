"""Why a setting had strayed, as far as somebody found out; a finding is not closed without it."""

from enum import StrEnum


class CauseCode(StrEnum):
    HUMAN_SET = "human-set"
    REVERTED = "reverted-at-power-off"
    SOFTWARE = "software-update"
    SERVICE = "repair-or-service"
    LOANER = "loaner"
    MISSED = "missed-in-changeover"
    NOT_SETTABLE = "not-settable-on-this-model"
    READING_ERROR = "reading-error"
    UNKNOWN = "unknown"

    @property
    def words(self) -> str:
        return _WORDS[self]


_WORDS = {
    CauseCode.HUMAN_SET: "somebody set it",
    CauseCode.REVERTED: "reverted at power-off",
    CauseCode.SOFTWARE: "software update",
    CauseCode.SERVICE: "repair or service",
    CauseCode.LOANER: "came so with a loaned device",
    CauseCode.MISSED: "missed in a changeover",
    CauseCode.NOT_SETTABLE: "policy cannot be set on this model",
    CauseCode.READING_ERROR: "reading error",
    CauseCode.UNKNOWN: "unknown",
}
