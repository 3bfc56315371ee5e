"""What a crew is told of its shift check, in plain words: first what to do, then why.

No value is told: that is for the report, and for whoever may have to look again.
"""

from dataclasses import dataclass

from app.domain.shift_checks import Result
from app.lookups.shift_checks import CheckBrought


@dataclass(frozen=True)
class Told:
    headline: str
    lines: tuple[str, ...]
    grave: bool = False


def told_of(brought: CheckBrought) -> Told:
    check, result = brought.check, brought.result
    lines = [*_to_do(brought), *(f"{check.device}: {one.words}." for one in check.found)]
    if check.unread:
        lines.append(f"{check.unread} could not be read or told; it counts as not known.")
    return Told(_HEADLINE[result], tuple(lines), result is Result.UNSAFE)


def _to_do(brought: CheckBrought) -> list[str]:
    device, result = brought.check.device, brought.result
    lines = []
    if result is Result.UNSAFE:
        lines.append(
            f"Swap {device} for another device now and tell {brought.tell}. Mark it, and put "
            "nothing right on it. If there is no other, the patient comes first: use it, set its "
            "limits by hand from the card, and watch the patient closely."
        )
    if brought.look_again:
        lines.append(
            f"Look again at {brought.look_again} limits: a single look is often a slip of eye or "
            "finger. Some matched and some did not, and nobody is told which."
        )
    lines += [_MORE[result].format(device=device, tell=brought.tell)] if result in _MORE else []
    return lines


_HEADLINE = {
    Result.UNSAFE: "Unsafe: keep it from the next patient",
    Result.LOOK_AGAIN: "Taken. Please look again",
    Result.DIFFERS: "Taken. It does not hold the policy",
    Result.AMISS: "Taken. Something must be put right",
    Result.IN_USE: "Taken. It says how the device was used",
    Result.SEEN: "Taken. It proves nothing: the values were seen before",
    Result.PARTLY: "Taken. Not everything could be told",
    Result.HOLDS: "Taken. What you read holds the policy",
}
_MORE = {
    Result.DIFFERS: "A finding is open. Set the limits of {device} by hand from the card.",
    Result.AMISS: "Tell {tell}; it stands on their list.",
    Result.IN_USE: (
        "What it holds for the next patient shows only after it was off for longer than its model "
        "remembers what was set by hand."
    ),
    Result.SEEN: (
        "What {device} holds had been opened on this phone within the hour before. It counts as a "
        "check of this shift; only a blind one bears out what a device holds."
    ),
    Result.HOLDS: "A shift check reads a few alarms. It says nothing of the others.",
}
