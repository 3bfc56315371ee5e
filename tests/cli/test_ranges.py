"""`marchstone range` on Fleming's printed centiles.

6-9 months heart rate: 98 114 123 134 143 152 168; at birth 90 107 116 127 138 148 164 (Fleming
2011, Lancet 377:1011-8, Web Table 5).
"""

import pytest

from tests.cli.running import Shell

KEYS = ["vital_sign", "age_days", "source", "band", "centiles", "value", "centile"]


def test_the_result_has_the_published_shape(shell: Shell) -> None:
    ended = shell.run("range", "heart-rate", "--age", "7 mo", "--json")

    result = ended.json
    assert ended.code == 0
    assert [key for key in result if key != "extrapolated"] == KEYS
    assert (result["vital_sign"], result["band"]) == ("heart-rate", "6-9 mo")
    assert result["age_days"] == 213.0625  # 7/12 of 365.25
    assert result["centiles"] == {
        "1": 98,
        "10": 114,
        "25": 123,
        "50": 134,
        "75": 143,
        "90": 152,
        "99": 168,
    }
    assert (result["value"], result["centile"]) == (None, None)
    assert "Fleming 2011" in result["source"]


@pytest.mark.parametrize(
    ("value", "centile", "extrapolated"),
    [("134", 50, False), ("168", 99, False), ("98", 1, False), ("114.0", 10, False)],
)
def test_a_value_lies_at_its_centile(
    shell: Shell, value: str, centile: float, extrapolated: bool
) -> None:
    result = shell.run("range", "heart-rate", "--age", "7 mo", "--value", value, "--json").json

    assert result["value"] == float(value)
    assert result["centile"] == pytest.approx(centile)
    assert result["extrapolated"] is extrapolated


@pytest.mark.parametrize("value", ["97.9", "168.1", "0", "300", "-5"])
def test_beyond_the_printed_centiles_is_marked_extrapolated(shell: Shell, value: str) -> None:
    result = shell.run("range", "heart-rate", "--age", "7 mo", "--value", value, "--json").json
    told = shell.run("range", "heart-rate", "--age", "7 mo", "--value", value).out

    assert result["extrapolated"] is True
    assert 0 <= result["centile"] <= 100
    assert "(extrapolated)" in told


@pytest.mark.parametrize(("centile", "value"), [("50", 134), ("99", 168), ("1", 98), ("90", 152)])
def test_a_centile_has_its_value(shell: Shell, centile: str, value: float) -> None:
    result = shell.run("range", "heart-rate", "--age", "7 mo", "--centile", centile, "--json").json

    assert result["centile"] == float(centile)
    assert result["value"] == pytest.approx(value)


@pytest.mark.parametrize(("age", "band"), [("0 d", "Birth"), ("1 d", "0-3 mo"), ("3 mo", "3-6 mo")])
def test_birth_has_a_row_of_its_own(shell: Shell, age: str, band: str) -> None:
    result = shell.run("range", "heart-rate", "--age", age, "--json").json

    assert result["band"] == band
    assert result["centiles"]["50"] == {"Birth": 127, "0-3 mo": 143, "3-6 mo": 140}[band]


def test_a_pulse_rate_is_judged_as_a_heart_rate(shell: Shell) -> None:
    result = shell.run("range", "pulse-rate", "--age", "7 mo", "--json").json

    assert (result["vital_sign"], result["centiles"]["50"]) == ("pulse-rate", 134)


def test_an_own_table_speaks_for_what_it_holds(shell: Shell) -> None:
    table = shell.file("own.csv", "vital_sign,age_from,age_to,p2.5,p97.5\nspo2,0 d,,90,99.5\n")

    result = shell.run(
        "range", "spo2", "--age", "40 y", "--value", "90", "--reference", table, "--json"
    ).json

    assert (result["source"], result["band"]) == ("own.csv", "0 d - open")
    assert result["centiles"] == {"2.5": 90, "97.5": 99.5}
    assert result["centile"] == pytest.approx(2.5)


def test_in_words(shell: Shell) -> None:
    told = shell.run("range", "heart-rate", "--age", "7 mo", "--value", "160").out

    assert "Heart rate at 7 mo, band 6-9 mo, /min" in told
    assert "160 lies at centile 96" in told
    assert "no advice for a patient" in told


@pytest.mark.parametrize(
    ("arguments", "column", "value"),
    [
        (["heartrate", "--age", "7 mo"], "VITAL", "heartrate"),
        (["spo2", "--age", "7 mo"], "VITAL", "spo2"),
        (["heart-rate", "--age", "7"], "--age", "7"),
        (["heart-rate", "--age", "-1 d"], "--age", "-1 d"),
        (["heart-rate", "--age", ""], "--age", ""),
        (["heart-rate", "--age", "18 y"], "--age", "18 y"),
        (["heart-rate", "--age", "7 mo", "--value", "nan"], "--value", "nan"),
        (["heart-rate", "--age", "7 mo", "--value", "inf"], "--value", "inf"),
        (["heart-rate", "--age", "7 mo", "--value", "1e309"], "--value", "inf"),
        (["heart-rate", "--age", "7 mo", "--centile", "0"], "--centile", 0),
        (["heart-rate", "--age", "7 mo", "--centile", "100"], "--centile", 100),
        (["heart-rate", "--age", "7 mo", "--centile", "nan"], "--centile", "nan"),
    ],
)
def test_a_wrong_question_is_refused(
    shell: Shell, arguments: list[str], column: str, value: object
) -> None:
    ended = shell.run("range", *arguments, "--json")

    assert ended.code == 2
    (error,) = ended.json["errors"]
    assert (error["line"], error["column"], error["value"]) == (None, column, value)
    assert error["reason"]
