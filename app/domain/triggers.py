"""Why a device is read: one of a few, so that readings can be told apart by it later."""

from enum import StrEnum


class Trigger(StrEnum):
    """`asked_for`: somebody wanted this device read; the others people do by themselves."""

    MONTHLY = "monthly check"
    CENSUS = "reading of all"
    SAMPLE = "sample"
    REVISION = "after a new revision"
    SERVICE = "after service"
    FINDING = "after a correction"
    INCIDENT = "after an incident"
    LOAN = "new or loaned device"
    HANDOVER = "handover"
    SHIFT = "shift check"

    @property
    def asked_for(self) -> bool:
        return self not in (Trigger.MONTHLY, Trigger.HANDOVER, Trigger.LOAN, Trigger.SHIFT)

    @property
    def is_brief(self) -> bool:
        """So little is read that it can find something, and never clears anything."""
        return self is Trigger.SHIFT

    @property
    def wants_whole(self) -> bool:
        """Whoever had the device open may have changed anything in it."""
        return self in (Trigger.SERVICE, Trigger.LOAN)
