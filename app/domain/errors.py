"""Refusals that reach people: what is wrong, where, and with what status."""

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Fault:
    """One thing wrong with an input; line and column are None where the input has none."""

    reason: str
    line: int | None = None
    column: int | str | None = None
    value: object = None

    def __str__(self) -> str:
        if self.line is None:
            return self.reason if self.column is None else f"{self.column}: {self.reason}"
        column = f"column {self.column}" if isinstance(self.column, int) else self.column
        where = f"line {self.line}" if column is None else f"line {self.line}, {column}"
        return f"{where}: {self.reason}"


class MarchstoneError(Exception):
    """Base of every expected refusal; `status` is what a browser or program is answered with."""

    status = 400
    title = "This could not be done"

    def __init__(self, message: str) -> None:
        super().__init__(message)
        self.message = message


class Refused(MarchstoneError):
    """The input cannot be taken; every fault is told, nothing was stored."""

    status = 422
    title = "The input was refused"

    def __init__(self, faults: Sequence[Fault]) -> None:
        super().__init__("; ".join(str(fault) for fault in faults))
        self.faults = tuple(faults)

    @classmethod
    def because(cls, reason: str, *, column: str | None = None, value: object = None) -> "Refused":
        return cls([Fault(reason, column=column, value=value)])


class NotFound(MarchstoneError):
    status = 404
    title = "Not found"


class NotSignedIn(MarchstoneError):
    status = 401
    title = "Please sign in"


class NotAllowed(MarchstoneError):
    status = 403
    title = "Not allowed"


class NotNow(MarchstoneError):
    """The thing exists and the person may, but its state does not allow it."""

    status = 409
    title = "Not possible in this state"


class Conflict(MarchstoneError):
    """Somebody else changed the thing first; `theirs` and `yours` let nothing be lost.

    `version` is the newest one, on which yours could be saved again.
    """

    status = 409
    title = "Somebody changed this first"

    def __init__(
        self,
        message: str,
        *,
        theirs: object = None,
        yours: object = None,
        version: int | None = None,
    ) -> None:
        super().__init__(message)
        self.theirs = theirs
        self.yours = yours
        self.version = version


class TooMany(MarchstoneError):
    """`seconds`: how long to wait, where that is known."""

    status = 429
    title = "Too many attempts"

    def __init__(self, message: str, *, seconds: int | None = None) -> None:
        super().__init__(message)
        self.seconds = seconds
