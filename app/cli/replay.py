"""`marchstone replay`: recorded trends against one category's limits."""

from argparse import Namespace
from dataclasses import replace
from typing import Any

from app.cli.check import load_profile
from app.cli.output import FINE, opened, print_json, rows
from app.domain.errors import Refused
from app.domain.profiles import Profile, Settings
from app.domain.reference_ranges import PUBLISHED
from app.domain.replay import replay_all
from app.domain.replay_lines import Habits, lines_to_replay, nibp_interval_s, with_habits
from app.domain.synthetic_cohort import Assumed, synthetic_cohort
from app.domain.trends import Trends
from app.domain.vital_signs import VITAL_SIGNS
from app.exchange.replay_json import replay_json
from app.exchange.trends_files import read_trends_file


def run(arguments: Namespace) -> int:
    profile = load_profile(arguments.profile)
    if profile.category(arguments.category) is None:
        known = ", ".join(category.key for category in profile.categories)
        raise Refused.because(
            f"must be one of {known}", column="--category", value=arguments.category
        )
    recordings, invented = _recordings(arguments, profile)
    recorded = frozenset(name for trends in recordings for name in trends.values)
    settings = _settings(arguments, profile)
    lines, not_replayed = lines_to_replay(settings, recorded)
    lines = with_habits(lines, settings, _habits(arguments))
    found = replay_all(recordings, lines, nibp_interval_s(profile))
    result = replay_json(
        found, not_replayed, synthetic=invented, circumstance=arguments.circumstance or ""
    )
    if arguments.json:
        print_json(result)
    else:
        print(_told(result))
    return FINE


def _settings(arguments: Namespace, profile: Profile) -> Settings:
    asked = arguments.circumstance
    if asked is None:
        return profile.of_category(arguments.category)
    offered = [one for one in profile.circumstances if arguments.category in one.applies_to]
    for one in offered:
        if one.key == asked:
            return profile.overlaid(arguments.category, one)
    known = ", ".join(one.key for one in offered)
    reason = f"must be one of {known}" if known else "this category has no circumstance"
    raise Refused.because(reason, column="--circumstance", value=asked)


def _recordings(arguments: Namespace, profile: Profile) -> tuple[list[Trends], str]:
    """(recordings, how they were invented); real and invented ones are never mixed."""
    if bool(arguments.trends) == (arguments.synthetic is not None):
        raise Refused.because("give files of trends, or --synthetic N", column="command line")
    category = profile.category(arguments.category)
    if category is not None and arguments.synthetic is not None:
        assumed = Assumed(patients=arguments.synthetic)
        cohort = synthetic_cohort(category.span, PUBLISHED, assumed)
        return [cohort.trends], cohort.words
    return [_read(name, several=len(arguments.trends) > 1) for name in arguments.trends], ""


def _read(name: str, *, several: bool) -> Trends:
    try:
        with opened(name) as file:
            return read_trends_file(file, frozenset(VITAL_SIGNS))[0]
    except Refused as refused:
        if several:
            told = [replace(one, reason=f"{name}: {one.reason}") for one in refused.faults]
            raise Refused(told) from None
        raise


def _habits(arguments: Namespace) -> Habits:
    after = arguments.acknowledged_after
    for name, value in (("--averaging", arguments.averaging), ("--acknowledged-after", after)):
        if value is not None and not 0 <= value <= 3600:
            raise Refused.because("must be 0 to 3600 s", column=name, value=value)
    if not 0 <= arguments.hysteresis <= 100:
        raise Refused.because(
            "must be 0 to 100 steps", column="--hysteresis", value=arguments.hysteresis
        )
    return Habits(arguments.averaging, arguments.hysteresis, after or 0.0)


def _told(result: dict[str, Any]) -> str:
    head = ["alarm", "count", "per patient-hour", "seconds in alarm", "patients"]
    everything = {"alarm": "all", **result["all"]}
    body = [
        [
            load["alarm"],
            load["count"],
            f"{load['per_patient_hour']:.2f}",
            f"{load['seconds_in_alarm']:g}",
            f"{load['patients_with_alarm']} of {result['patients']}",
        ]
        for load in [*result["alarms"], everything]
    ]
    lines = [result["synthetic"], ""] if "synthetic" in result else []
    lines += [f"under {result['circumstance']}"] if "circumstance" in result else []
    lines += [f"{result['patient_hours']:.2f} patient-hours of {result['patients']} patients", ""]
    lines.append(rows([head, *body]))
    if result["not_replayed"]:
        lines.append(f"\nnot replayed: {', '.join(result['not_replayed'])}")
    return "\n".join(lines)
