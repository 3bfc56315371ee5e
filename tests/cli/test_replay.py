import pytest
from jsonschema import Draft202012Validator

from tests.cli.running import Ended, Shell
from tests.worked_profiles import document, on

SETTINGS = {
    "heart-rate-low": on(60, delay_s=2, deep={"limit": 40, "delay_s": 0}),
    "heart-rate-high": on(150),
    "spo2-low": on(90),
    "asystole": on(None),
    "etco2-high": {"state": "off", "reason": "x"},
}
TRENDS = "patient,second,heart-rate\na,0,80\na,1,55\na,2,55\na,3,55\na,4,35\na,5,80\nb,0,160\n"


def replay(shell: Shell, *more: str, trends: str = TRENDS, category: str = "adult") -> Ended:
    profile = shell.file("profile.json", document({"adult": ("0 d", None, SETTINGS)}))
    file = shell.file("trends.csv", trends)
    return shell.run("replay", profile, file, "--category", category, *more)


def test_the_result_counts_alarms_and_says_what_was_left_out(shell: Shell) -> None:
    """Below 60 from second 1, raised at 3, to 4; deep at 4; above 150 for one sample of b."""
    ended = replay(shell, "--json")

    result = ended.json
    assert ended.code == 0
    assert list(result) == ["patient_hours", "patients", "alarms", "all", "not_replayed"]
    assert result["patient_hours"] == pytest.approx(7 / 3600)
    assert result["patients"] == 2
    counted = {
        a["alarm"]: (a["count"], a["seconds_in_alarm"], a["patients_with_alarm"])
        for a in result["alarms"]
    }
    assert counted == {
        "heart-rate-low": (1, 2, 1),
        "heart-rate-low.deep": (1, 1, 1),
        "heart-rate-high": (1, 1, 1),
    }
    everything = result["all"]
    assert (everything["count"], everything["seconds_in_alarm"]) == (3, 3)
    assert everything["patients_with_alarm"] == 2
    assert everything["per_patient_hour"] == pytest.approx(3 / (7 / 3600))
    assert set(result["not_replayed"]) == {"spo2-low", "asystole"}


def test_the_result_is_as_its_own_schema_says(shell: Shell) -> None:
    schema = shell.run("schema", "replay").json

    Draft202012Validator.check_schema(schema)
    Draft202012Validator(schema).validate(replay(shell, "--json").json)


def test_in_words(shell: Shell) -> None:
    told = replay(shell).out

    assert "heart-rate-low.deep" in told
    assert "not replayed: " in told


@pytest.mark.parametrize(
    ("category", "trends", "line", "column"),
    [
        ("toddler", TRENDS, None, "--category"),
        ("adult", "patient,second,weight\na,0,80\n", 1, "weight"),
        ("adult", "patient,second,heart-rate\na,0,80\na,0,81\n", 3, "second"),
        ("adult", "patient,second,heart-rate\na,0,eighty\n", 2, "heart-rate"),
        ("adult", "patient,second,heart-rate\na,0,NaN\n", 2, "heart-rate"),
        ("adult", "patient,second,heart-rate\na,0\n", 2, "row"),
    ],
)
def test_a_wrong_question_or_file_is_refused(
    shell: Shell, category: str, trends: str, line: int | None, column: str
) -> None:
    ended = replay(shell, "--json", trends=trends, category=category)

    assert ended.code == 2
    error = ended.json["errors"][0]
    assert (error["line"], error["column"]) == (line, column)
