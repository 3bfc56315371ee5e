"""`marchstone replay`: recorded trends against one category's limits."""

from argparse import Namespace
from typing import Any

from app.cli.check import load_profile
from app.cli.output import FINE, opened, print_json, rows
from app.domain.errors import Refused
from app.domain.replay import replay
from app.domain.replay_lines import lines_to_replay, nibp_interval_s
from app.domain.vital_signs import VITAL_SIGNS
from app.exchange.replay_json import replay_json
from app.exchange.trends_csv import read_trends


def run(arguments: Namespace) -> int:
    profile = load_profile(arguments.profile)
    if profile.category(arguments.category) is None:
        known = ", ".join(category.key for category in profile.categories)
        raise Refused.because(
            f"must be one of {known}", column="--category", value=arguments.category
        )
    with opened(arguments.trends) as file:
        trends = read_trends(file, frozenset(VITAL_SIGNS))
    settings = profile.of_category(arguments.category)
    lines, not_replayed = lines_to_replay(settings, frozenset(trends.values))
    result = replay_json(replay(trends, lines, nibp_interval_s(profile)), not_replayed)
    if arguments.json:
        print_json(result)
    else:
        print(_told(result))
    return FINE


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
    lines = [f"{result['patient_hours']:.2f} patient-hours of {result['patients']} patients", ""]
    lines.append(rows([head, *body]))
    if result["not_replayed"]:
        lines.append(f"\nnot replayed: {', '.join(result['not_replayed'])}")
    return "\n".join(lines)
