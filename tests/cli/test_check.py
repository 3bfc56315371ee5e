import json

import pytest
from jsonschema import Draft202012Validator

from tests.cli.running import Shell
from tests.domain.rules.questions import NO_POLICY, OFF
from tests.domain.rules.test_statements import EVERYTHING
from tests.worked_profiles import document, five_categories, on, one_wide_band

KEYS = ["rule", "severity", "category", "alarms", "ages", "measured", "message", "source"]


def test_the_result_has_the_published_shape(shell: Shell) -> None:
    ended = shell.run("check", shell.file("profile.json", one_wide_band()), "--json")

    result = ended.json
    assert ended.code == 1
    assert list(result) == ["fingerprint", "bounds", "findings", "counts"]
    assert len(result["fingerprint"]) == 64
    assert result["bounds"] == "default, not adopted"
    assert all(list(finding) == KEYS for finding in result["findings"])
    assert result["counts"] == {"unsafe": 8, "off-protocol": 0, "note": 1}


def test_the_worked_example_as_json(shell: Shell) -> None:
    """1-5 years, high 185: danger begins above 180 (AHA PALS)."""
    settings = {**EVERYTHING, "heart-rate-high": on(185)}
    profile = document({"all": ("0 d", "1 y", EVERYTHING), "child": ("1 y", "5 y", settings)})

    findings = shell.run("check", shell.file("p.json", profile), "--json").json["findings"]

    (gap,) = [
        f
        for f in findings
        if f["rule"] == "silent-gap"
        and "heart-rate-high" in f["alarms"]
        and f["category"] == "child"
    ]
    assert (gap["severity"], gap["ages"]) == ("unsafe", ["1 y", "5 y"])
    assert (gap["measured"]["silent_from"], gap["measured"]["silent_to"]) == (181, 185)


@pytest.mark.parametrize(
    ("settings", "code"),
    [
        ({**EVERYTHING, "heart-rate-low": on(40)}, 1),  # no-policy on other dangers is unsafe
        ({"etco2-high": on(60)}, 0),  # a note: most alarms are unstated
        ({"etco2-high": on(151)}, 1),  # off-protocol: implausible
        ({"asystole": OFF}, 1),
        ({"etco2-high": NO_POLICY}, 0),
    ],
)
def test_the_exit_code_says_whether_something_is_wrong(
    shell: Shell, settings: dict[str, object], code: int
) -> None:
    profile = shell.file("profile.json", document({"adult": ("0 d", None, settings)}))

    assert shell.run("check", profile).code == code


def test_in_words_it_says_who_what_and_what_it_is_not(shell: Shell) -> None:
    told = shell.run("check", shell.file("profile.json", five_categories()))

    assert "Skerry Isles Ambulance · Ground and air · revision 1" in told.out
    assert "NIBP systolic can fall to 65 mmHg unannounced at age 28 d to 1 y" in told.out
    assert "1 unsafe · 0 off-protocol · 14 note" in told.out
    assert "no advice for a patient" in told.out
    assert told.out.index("UNSAFE") < told.out.index("NOTE")


def test_own_bounds_and_an_own_reference_are_named(shell: Shell) -> None:
    bounds = shell.file(
        "our-bounds.csv",
        "vital_sign,age_from,age_to,when,side,bound,grade,source,status\n"
        "spo2,0 d,,,low,93,danger,our board,J\n",
    )
    reference = shell.file("our-table.csv", "vital_sign,age_from,age_to,p01,p99\nspo2,0 d,,80,90\n")
    profile = shell.file("p.json", document({"adult": ("0 d", None, {"spo2-low": on(92)})}))

    result = shell.run(
        "check", profile, "--bounds", bounds, "--reference", reference, "--json"
    ).json

    assert result["bounds"] == "our-bounds.csv"
    told = {finding["rule"]: finding["source"] for finding in result["findings"]}
    assert told["silent-gap"] == "our board"
    assert told["arrival-alarm"] == "our-table.csv"


@pytest.mark.parametrize(
    ("option", "content", "line", "column"),
    [
        (
            "--bounds",
            "vital_sign,age_from,age_to,when,side,bound,grade,source,status\n"
            "spo2,0 d,,,low,x,danger,our board,J\n",
            2,
            "bound",
        ),
        ("--reference", "vital_sign,age_from,age_to,p01,p99\nspo2,0 d,,90,80\n", 2, "p99"),
    ],
)
def test_a_wrong_table_is_refused_by_line_and_column(
    shell: Shell, option: str, content: str, line: int, column: str
) -> None:
    profile = shell.file("profile.json", five_categories())

    ended = shell.run("check", profile, option, shell.file("t.csv", content), "--json")

    assert ended.code == 2
    assert [(e["line"], e["column"]) for e in ended.json["errors"]] == [(line, column)]


@pytest.mark.parametrize("profile", [five_categories(), one_wide_band()])
def test_the_result_is_as_its_own_schema_says(shell: Shell, profile: dict[str, object]) -> None:
    schema = shell.run("schema", "check").json
    result = shell.run("check", shell.file("profile.json", profile), "--json").json

    Draft202012Validator.check_schema(schema)
    Draft202012Validator(schema).validate(result)


def test_the_profile_is_as_its_own_schema_says(shell: Shell) -> None:
    schema = shell.run("schema", "profile").json
    validator = Draft202012Validator(schema)

    Draft202012Validator.check_schema(schema)
    assert validator.is_valid(json.loads(json.dumps(five_categories())))
    assert not validator.is_valid({**five_categories(), "patient": "x"})
    assert not validator.is_valid({**five_categories(), "revision": "1"})
