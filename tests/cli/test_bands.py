"""`marchstone bands` on Fleming's centiles and the default bounds."""

import json

import pytest
from jsonschema import Draft202012Validator

from tests.cli.running import Shell

PROFILE = "tests/examples/ground-and-air.json"


def test_the_result_holds_to_its_schema(shell: Shell) -> None:
    schema = shell.run("schema", "bands").json

    ended = shell.run("bands", "heart-rate", "--profile", PROFILE, "--json")

    assert ended.code == 0
    Draft202012Validator(schema).validate(ended.json)
    assert len(ended.json["best"]) == 8
    assert ended.json["today"]["danger"] == 5  # 181 to 185 at 1 to 5 years


def test_without_a_profile_there_is_no_today(shell: Shell) -> None:
    told = shell.run("bands", "respiratory-rate", "--most", "2", "--aim", "mean", "--json").json

    assert told["today"] is None
    assert [len(plan["bands"]) for plan in told["best"]] == [1, 2]


def test_people_are_told_each_band_in_words(shell: Shell) -> None:
    told = shell.run("bands", "heart-rate", "--profile", PROFILE).out

    assert "0 d to 1 y: alarm below 80 · above 180 /min" in told
    assert "another band buys nothing" in told
    assert "no advice for a patient" in told


def test_an_own_table_and_own_bounds_are_weighed(shell: Shell) -> None:
    table = shell.file(
        "ours.csv",
        "vital_sign,age_from,age_to,p01,p50,p99\n"
        "nibp-systolic,0 d,1 y,60,80,100\nnibp-systolic,1 y,18 y,80,100,120\n",
    )
    bounds = shell.file(
        "bounds.csv",
        "vital_sign,age_from,age_to,when,side,bound,grade,source,status\n"
        "nibp-systolic,0 d,1 y,,low,55,danger,ours,J\n"
        "nibp-systolic,1 y,,,low,75,danger,ours,J\n",
    )

    told = shell.run(
        "bands", "nibp-systolic", "--reference", table, "--bounds", bounds, "--json"
    ).json

    assert told["not_advised"] == ["high"]
    assert [(band["low"], band["high"]) for band in told["best"][1]["bands"]] == [
        (55, None),
        (75, None),
    ]


@pytest.mark.parametrize(
    "arguments",
    [
        ["spo2"],
        ["heart-rate", "--until", "18"],
        ["heart-rate", "--until", "19 y"],
        ["heart-rate", "--most", "9"],
        ["heart-rate", "--danger", "-1"],
        ["heart-rate", "--caution", "nan"],
        ["heart-rate", "--aim", "best"],
    ],
)
def test_what_cannot_be_weighed_is_refused(shell: Shell, arguments: list[str]) -> None:
    ended = shell.run("bands", *arguments, "--json")

    assert ended.code == 2
    assert json.loads(ended.out)["errors"][0]["reason"]
