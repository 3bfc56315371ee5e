"""What a device is known to hold after a reading of a few alarms only, as at a shift check.

It can take a good name away, and gives none: what was known of the other alarms stays known, and
stays as old as it is.
"""

from collections.abc import Callable, Collection, Mapping
from dataclasses import replace

from app.domain.comparison import Direction
from app.domain.device_reports import Reading
from app.domain.findings import Severity
from app.domain.fleet import Judgement, tally_of
from app.domain.known_devices import DeviceNow, PresetNow, Reported, StateNow, known_after


def known_after_brief(
    known: DeviceNow | None,
    report: Reported,
    judgement: Judgement,
    readings_of: Callable[[int], Mapping[str, Reading]],
    doubted: Collection[str] | None = None,
    standing: Collection[tuple[Direction, Severity]] = (),
) -> DeviceNow | None:
    """As `known_after`, which does it wherever this reading is astray or tells as much."""
    same = _same(known, report)
    if known is None or same is None or _tells(judgement, same, doubted):
        return known_after(known, report, judgement, readings_of, doubted, standing)
    if not (report.state_read.counts and judgement.counts) or same.read_at > report.read_at:
        return None
    waiting = len(doubted or ())
    missing = same.tally.missing - same.doubted + waiting
    state = same._replace(tally=replace(same.tally, missing=missing), doubted=waiting)
    states = {**known.presets[report.preset].states, report.state_read: state}
    return replace(known, presets={**known.presets, report.preset: PresetNow(states)})


def _same(known: DeviceNow | None, report: Reported) -> StateNow | None:
    preset = None if known is None else known.presets.get(report.preset)
    return None if preset is None else preset.states.get(report.state_read)


def _tells(judgement: Judgement, same: StateNow, doubted: Collection[str] | None) -> bool:
    """Something astray that is in no doubt, or as many of the critical alarms as were known."""
    firm = [found for alarm, found in judgement.verdicts.items() if alarm not in (doubted or ())]
    astray = tally_of(firm, missing=0).worst is not None
    return astray or (not doubted and judgement.missing <= same.tally.missing - same.doubted)
