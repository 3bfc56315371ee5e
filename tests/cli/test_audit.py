from typing import Any

import pytest
from jsonschema import Draft202012Validator

from tests.cli.running import Shell
from tests.worked_profiles import document, on

HEADER = "device,read_at,state_read,preset,alarm,reading"
AT = "2026-03-01T08:00:00Z"
SETTINGS = {"heart-rate-low": on(90), "heart-rate-high": on(170)}


def policy(shell: Shell, **more: Any) -> str:
    bands = {"child": ("1 y", "5 y", SETTINGS)}
    return shell.file("profile.json", document(bands, **more))


def readings(shell: Shell, *rows: str) -> str:
    return shell.file("readings.csv", "\n".join([HEADER, *rows]) + "\n")


def row(alarm: str, reading: object, device: str = "boat-3", state: str = "power-on") -> str:
    return f"{device},{AT},{state},child,{alarm},{reading}"


def test_the_worked_example_as_json(shell: Shell) -> None:
    """Signed 170, found 200 at power-on: looser by 30, unsafe."""
    file = readings(shell, row("heart-rate-high", 200), row("heart-rate-low", 90))

    ended = shell.run("audit", policy(shell), file, "--fleet", "4", "--json")

    result = ended.json
    assert ended.code == 1
    assert list(result) == ["fingerprint", "readings", "deviations", "conformity"]
    assert result["readings"] == 2
    assert result["deviations"] == [
        {
            "device": "boat-3",
            "preset": "child",
            "alarm": "heart-rate-high",
            "signed": 170,
            "found": 200,
            "direction": "looser",
            "severity": "unsafe",
            "hint": None,
            "read_at": AT,
        }
    ]
    conformity = result["conformity"]
    assert list(conformity) == ["holds", "differs", "not_judged", "fleet", "low", "high", "method"]
    assert [conformity[key] for key in ("holds", "differs", "not_judged", "fleet")] == [0, 1, 0, 4]
    assert conformity["method"] == "hypergeometric"


@pytest.mark.parametrize(
    ("rows", "code"),
    [
        ([], 0),
        ([row("heart-rate-high", 170)], 0),
        ([row("heart-rate-high", "could-not-read: glare")], 0),  # a note
        ([row("heart-rate-high", 169)], 1),
        ([row("heart-rate-high", 200)], 1),
        ([row("heart-rate-high", "two")], 2),
    ],
)
def test_the_exit_code_says_whether_something_deviates(
    shell: Shell, rows: list[str], code: int
) -> None:
    assert shell.run("audit", policy(shell), readings(shell, *rows)).code == code


def test_in_words_the_consequence_comes_first(shell: Shell) -> None:
    file = readings(
        shell,
        row("heart-rate-low", 70),
        row("heart-rate-high", 170),
        row("heart-rate-low", 90, "b"),
    )

    told = shell.run("audit", policy(shell), file, "--fleet", "12").out

    said = "boat-3, power-on, child: Heart rate can fall from 90 to 70 /min unannounced."
    assert said in told
    assert told.index(said) < told.index("looser")
    assert "0 hold · 1 differ · 1 not judged" in told
    assert "b: 0 of 1 presets read" in told
    assert "of 12 devices deviate" in told


def test_what_conforms_says_so(shell: Shell) -> None:
    file = readings(shell, row("heart-rate-low", 90), row("heart-rate-high", 170))

    told = shell.run("audit", policy(shell), file)

    assert told.code == 0
    assert "Nothing deviates from what was signed." in told.out
    assert "1 hold · 0 differ · 0 not judged" in told.out


@pytest.mark.parametrize("fleet", ["0", "1", "-3"])
def test_a_fleet_smaller_than_the_devices_read_is_refused(shell: Shell, fleet: str) -> None:
    file = readings(shell, row("heart-rate-low", 90, "a"), row("heart-rate-low", 90, "b"))

    ended = shell.run("audit", policy(shell), file, "--fleet", fleet, "--json")

    assert ended.code == 2
    assert ended.json["errors"] == [
        {
            "line": None,
            "column": "--fleet",
            "value": int(fleet),
            "reason": "the file holds readings of 2 devices",
        }
    ]


def test_every_wrong_row_is_refused_by_line_and_column_and_nothing_is_judged(shell: Shell) -> None:
    file = readings(
        shell,
        row("heart-rate-low", 90),
        row("heart-rate-low", "x"),
        row("heart-rate", 90),
        row("heart-rate-high", 170).replace("Z", ""),
    )

    ended = shell.run("audit", policy(shell), file, "--json")

    assert ended.code == 2
    told = [(e["line"], e["column"], e["value"]) for e in ended.json["errors"]]
    assert told == [
        (3, "reading", "x"),
        (4, "alarm", "heart-rate"),
        (5, "read_at", "2026-03-01T08:00:00"),
    ]


def test_the_result_is_as_its_own_schema_says_whatever_deviates(shell: Shell) -> None:
    schema = shell.run("schema", "audit").json
    options = {"longest-pause-s": {"value": 120}, "all-alarms-on-at-start": {"value": True}}
    file = readings(
        shell,
        row("heart-rate-low", 70, "a"),
        row("heart-rate-low", "off", "b"),
        row("heart-rate-low", "could-not-read: glare", "c"),
        row("heart-rate-low", 75.5, "d", "in-use"),
        f"a,{AT},power-on,*,longest-pause-s,180",
        f"a,{AT},power-on,*,all-alarms-on-at-start,off",
    )

    result = shell.run("audit", policy(shell, options=options), file, "--json").json

    assert [found["device"] for found in result["deviations"]] == ["a", "a", "a", "b", "c", "d"]
    Draft202012Validator.check_schema(schema)
    Draft202012Validator(schema).validate(result)


def test_a_row_of_the_file_is_as_its_own_schema_says(shell: Shell) -> None:
    validator = Draft202012Validator(shell.run("schema", "report").json)
    cells = dict(zip(HEADER.split(","), row("heart-rate-low", "90").split(","), strict=True))

    assert validator.is_valid(cells)
    assert validator.is_valid({**cells, "priority": "", "latching": "true"})
    assert not validator.is_valid({**cells, "state_read": "asleep"})
    assert not validator.is_valid({**cells, "patient": "x"})
    assert not validator.is_valid({key: cells[key] for key in cells if key != "reading"})


def test_a_pause_that_was_too_short_is_said_in_words(shell: Shell) -> None:
    models = {"dunlin": {"presets": {"child": {"carries": "child"}}, "retention_min": 2}}
    told = [
        row("heart-rate-low", 90, "air-1") + ",dunlin,2",
        row("heart-rate-low", 90, "boat-3") + ",dunlin,",
    ]
    file = shell.file("readings.csv", "\n".join([HEADER + ",model,minutes_off", *told]) + "\n")

    ended = shell.run("audit", policy(shell, models=models), file)

    assert (
        "  air-1, power-on: off for only 2 min, and this model keeps what a crew changed "
        "for 2 min: it does not count\n"
    ) in ended.out
    assert "  boat-3, power-on: minutes off not recorded\n" in ended.out
