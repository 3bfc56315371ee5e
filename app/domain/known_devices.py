"""What each device is known to hold: the latest of its reports that count, by preset and state."""

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from enum import StrEnum
from typing import NamedTuple, Protocol

from app.domain.comparison import Direction
from app.domain.device_reports import NotRead, Reading, StateRead
from app.domain.devices import Device
from app.domain.findings import Severity
from app.domain.fleet import Column, Judgement, Tally, Verdicts, tally_of
from app.domain.option_judgement import ANY_PRESET


class DeviceStatus(StrEnum):
    HOLDS = "holds"
    DIFFERS = "differs"
    UNSAFE = "unsafe"
    NOT_JUDGED = "not-judged"

    @property
    def words(self) -> str:
        return self.value.replace("-", " ")


_NOTHING = Tally()


class StateNow(NamedTuple):
    """The latest report of one preset in one state, in short.

    `waits`: it is a first look, and what it found is not settled yet. `doubted`: of the missing
    alarms, those that a later reading of a few put in doubt.
    """

    report: int
    read_at: datetime
    tally: Tally
    waits: bool = False
    doubted: int = 0


@dataclass(frozen=True)
class PresetNow:
    """One preset by the state it was read in, which are judged apart.

    What a device holds after choosing a category says nothing of what it holds at power-on, so a
    good reading of one state never hides a bad one of the other.
    """

    states: Mapping[StateRead, StateNow]

    @property
    def telling(self) -> StateNow:
        """The worst of them; among equals the latest."""
        if len(self.states) == 1:
            return next(iter(self.states.values()))
        return max(self.states.values(), key=lambda state: (-_weight(state.tally), state.read_at))

    @property
    def report(self) -> int:
        return self.telling.report

    @property
    def tally(self) -> Tally:
        return self.telling.tally

    @property
    def read_at(self) -> datetime:
        """Of the latest."""
        if len(self.states) == 1:
            return next(iter(self.states.values())).read_at
        return max([state.read_at for state in self.states.values()])


@dataclass(frozen=True)
class DeviceNow:
    """What a device is known to hold; `offered`: how many presets its model has, 0 if unknown.
    Beside these its options are kept, as one preset more.

    `readings` are those of the telling report of each preset.
    `revision` is the number that its latest report was judged by.
    """

    presets: Mapping[str, PresetNow]
    readings: Mapping[Column, Reading]
    offered: int
    revision: int | None

    @property
    def tally(self) -> Tally:
        found = [tally for preset in self.presets.values() if (tally := preset.tally) != _NOTHING]
        return found[0] if len(found) == 1 else sum(found, _NOTHING)

    @property
    def presets_read(self) -> int:
        return len(self._of_alarms)

    @property
    def oldest_read_at(self) -> datetime:
        """Of options only where nothing else was read."""
        read = self._of_alarms or self.presets
        return min([preset.read_at for preset in read.values()])

    @property
    def _of_alarms(self) -> Mapping[str, PresetNow]:
        if ANY_PRESET not in self.presets:
            return self.presets
        return {name: one for name, one in self.presets.items() if name != ANY_PRESET}

    @property
    def latest_read_at(self) -> datetime:
        return max([preset.read_at for preset in self.presets.values()])

    def mark(self, device: Device, *, unsafe_finding: bool = False) -> "Mark":
        return Mark(
            device,
            self.tally,
            self.presets_read,
            self.offered,
            self.oldest_read_at,
            self.latest_read_at,
            self.revision,
            unsafe_finding,
        )


@dataclass(frozen=True)
class Mark:
    """A device on the wall; nothing but the device is known before its first report.

    `unsafe_finding`: there is one of what it holds that nobody has verified.
    """

    device: Device
    tally: Tally | None = None
    presets_read: int = 0
    presets_offered: int = 0
    oldest_read_at: datetime | None = None
    latest_read_at: datetime | None = None
    revision: int | None = None
    unsafe_finding: bool = False

    def status(self, *, overdue_before: datetime) -> DeviceStatus:
        """What differed differs until a newer reading, what was found unsafe is so until somebody
        has verified it; what held does not hold for ever."""
        if self.unsafe_finding:
            return DeviceStatus.UNSAFE
        if self.tally is None or self.oldest_read_at is None:
            return DeviceStatus.NOT_JUDGED
        if self.tally.worst is Severity.UNSAFE:
            return DeviceStatus.UNSAFE
        if self.tally.worst is not None:
            return DeviceStatus.DIFFERS
        everything = self.presets_read >= self.presets_offered and not self.tally.missing
        if self.revision is None or not everything or self.oldest_read_at < overdue_before:
            return DeviceStatus.NOT_JUDGED
        return DeviceStatus.HOLDS


class Reported(Protocol):
    """What of a stored report tells what its device holds."""

    @property
    def id(self) -> int: ...

    @property
    def preset(self) -> str: ...

    @property
    def state_read(self) -> StateRead: ...

    @property
    def read_at(self) -> datetime: ...

    @property
    def revision(self) -> int | None: ...

    @property
    def readings(self) -> Mapping[str, Reading]: ...


def known_after(
    known: DeviceNow | None,
    report: Reported,
    judgement: Judgement,
    readings_of: Callable[[int], Mapping[str, Reading]],
    doubted: Collection[str] | None = None,
    standing: Collection[tuple[Direction, Severity]] = (),
) -> DeviceNow | None:
    """None if the report tells nothing new: it does not count, or a later one is known.

    `readings_of` an earlier report, asked for where that one is still the worse.
    `doubted` (None: nothing waits for another look): these alarms count as not read until it is
    settled what they hold, and what was known before stays known, unless something is unsafe.
    `standing`: what was found astray before and this report did not look at, so it still is.
    """
    presets = {} if known is None else dict(known.presets)
    before = presets[report.preset].states if report.preset in presets else {}
    same = before.get(report.state_read)
    told = report.state_read.counts and judgement.counts
    if not told or (same and same.read_at > report.read_at):
        return None
    state = _state_after(same, report, judgement, doubted, standing)
    preset = PresetNow({**before, report.state_read: state})
    presets[report.preset] = preset
    telling = report.readings if preset.report == report.id else readings_of(preset.report)
    if doubted and preset.report == report.id:
        telling = {**telling, **dict.fromkeys(doubted, NotRead())}
    readings = {(report.preset, alarm): reading for alarm, reading in telling.items()}
    if known is not None:
        others = _of_others(known, report.preset) if before else known.readings
        readings = {**others, **readings}
    if known is not None and report.read_at < known.latest_read_at:
        return DeviceNow(presets, readings, known.offered, known.revision)
    return DeviceNow(presets, readings, len(judgement.offered), report.revision)


def known_first(told: Sequence[tuple[Reported, Judgement]]) -> DeviceNow | None:
    """Of a device of which nothing was known: what `known_after` comes to report by report, in the
    order in which they were read. None: not all of them count, or some are of
    the same preset, so they are to be taken one after the other."""
    presets: dict[str, PresetNow] = {}
    readings: dict[Column, Reading] = {}
    for report, judgement in told:
        if report.preset in presets or not report.state_read.counts or not judgement.counts:
            return None
        state = StateNow(report.id, report.read_at, judgement.tally)
        presets[report.preset] = PresetNow({report.state_read: state})
        for alarm, reading in report.readings.items():
            readings[report.preset, alarm] = reading
    last, judgement = told[-1]
    return DeviceNow(presets, readings, len(judgement.offered), last.revision)


def is_late(known: DeviceNow | None, report: Reported, judgement: Judgement) -> bool:
    """It says what the device holds, but a later one of the same preset and state is known."""
    if known is None or report.preset not in known.presets:
        return False
    same = known.presets[report.preset].states.get(report.state_read)
    counts = report.state_read.counts and judgement.counts
    return counts and same is not None and same.read_at > report.read_at


def known_anew(
    known: DeviceNow,
    preset: str,
    state: StateRead,
    *,
    verdicts: Verdicts,
    standing: Collection[tuple[Direction, Severity]],
    readings_of: Callable[[int], Mapping[str, Reading]],
) -> DeviceNow:
    """After a report that came late: `verdicts` of the latest one, and what still stands of those
    before it."""
    before = known.presets[preset]
    same = before.states[state]
    firm = [v for v in verdicts.values() if not same.waits or v[1] is not Severity.OFF_PROTOCOL]
    tally = tally_of([*firm, *standing], missing=same.tally.missing)
    now = PresetNow({**before.states, state: same._replace(tally=tally)})
    readings = dict(known.readings)
    if now.report != before.report:
        told = {(preset, alarm): reading for alarm, reading in readings_of(now.report).items()}
        readings = _of_others(known, preset) | told
    return replace(known, presets={**known.presets, preset: now}, readings=readings)


def _of_others(known: DeviceNow, preset: str) -> dict[Column, Reading]:
    return {column: reading for column, reading in known.readings.items() if column[0] != preset}


def _state_after(
    same: StateNow | None,
    report: Reported,
    judgement: Judgement,
    doubted: Collection[str] | None,
    standing: Collection[tuple[Direction, Severity]],
) -> StateNow:
    if doubted is None:
        return StateNow(report.id, report.read_at, _with(judgement.tally, standing))
    firm = [verdict for alarm, verdict in judgement.verdicts.items() if alarm not in doubted]
    tally = tally_of(firm, missing=judgement.missing + len(doubted))
    if same is None or tally.worst is Severity.UNSAFE:
        return StateNow(report.id, report.read_at, _with(tally, standing), waits=True)
    more = replace(same.tally, missing=same.tally.missing + len(doubted))
    return same._replace(tally=more)


def _with(tally: Tally, standing: Collection[tuple[Direction, Severity]]) -> Tally:
    return tally + tally_of(standing, missing=0) if standing else tally


def _weight(tally: Tally) -> int:
    return len(Severity) if tally.worst is None else tally.worst.weight
