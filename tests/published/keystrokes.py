"""How long a form takes, by the keystroke-level model.

Card SK, Moran TP, Newell A. The keystroke-level model for user performance time with interactive
systems. Communications of the ACM 1980;23(7):396-410. The operator times are from memory and not
looked up again. The paper knows keyboards and pointing by mouse; a finger on glass is taken for its
slower cases: every digit as a key of random letters, every choice as pointing and a key.
"""

from dataclasses import dataclass

KEY_S = 0.50  # typing random letters
POINT_S = 1.10  # pointing at a target
PRESS_S = 0.28  # a key of somebody who is no typist
MENTAL_S = 1.35  # preparing the next unit of a task

LOOK_S = 2.5
"""To turn to the monitor, find one value and turn back: a judgement, nobody has measured it."""


@dataclass(frozen=True)
class Work:
    """`keys` on the keypad; `choices` are pointed at; `units` are prepared; `looks` go to the
    device."""

    keys: int
    choices: int
    units: int
    looks: int

    @property
    def seconds(self) -> float:
        by_hand = self.keys * KEY_S + self.choices * (POINT_S + PRESS_S)
        return by_hand + self.units * MENTAL_S + self.looks * LOOK_S


def shift_check(values: list[str], questions: int, *, who: bool = False) -> Work:
    """From the tap on "Shift check" to the lock; `values` as they are typed, or the word "off".
    Each digit is a key, and one more goes on, which "off" does by itself. `who`: without signal,
    whoever checks says so."""
    keys = sum(1 if value == "off" else len(value) + 1 for value in values)
    asked = questions + 2  # the category that it shows, and how it was
    return Work(
        keys=keys,
        choices=1 + asked + 1 + int(who) + 1,  # begin, each answer, the first field, lock
        units=len(values) + asked + int(who) + 1,
        looks=len(values) + asked,
    )
