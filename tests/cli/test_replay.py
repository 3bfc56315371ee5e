import pytest
from jsonschema import Draft202012Validator

from tests import recorded
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


def over(shell: Shell, *arguments: str) -> Ended:
    bands = {"child": ("1 y", "13 y", SETTINGS), "adult": ("18 y", None, SETTINGS)}
    profile = shell.file("profile.json", document(bands))
    return shell.run("replay", profile, *arguments)


def test_several_files_of_both_kinds_add_up(shell: Shell) -> None:
    """The invented recording sounds once for saturation; each file holds two patients."""
    files = [
        shell.file("a.csv", recorded.as_csv()),
        shell.file("b.parquet", recorded.as_parquet()),
        shell.file("c.csv", TRENDS),
    ]

    result = over(shell, *files, "--category", "child", "--json").json

    assert result["patients"] == 6
    assert result["patient_hours"] == pytest.approx((114 + 114 + 7) / 3600)
    loads = {one["alarm"]: one for one in result["alarms"]}
    assert loads["spo2-low"]["count"] == 2
    assert loads["spo2-low"]["patients_with_alarm"] == 2
    # The third file holds no saturation, so its hours are none of this alarm's.
    assert loads["spo2-low"]["per_patient_hour"] == pytest.approx(2 / (228 / 3600))
    assert loads["heart-rate-low"]["count"] == 1


def test_a_file_alone_tells_the_same_as_parquet_and_as_csv(shell: Shell) -> None:
    told = [
        over(shell, shell.file(name, content), "--category", "child", "--json").json
        for name, content in (("a.csv", recorded.as_csv()), ("a.parquet", recorded.as_parquet()))
    ]

    assert told[0] == told[1]


def test_a_fault_names_the_file_where_there_are_several(shell: Shell) -> None:
    good = shell.file("a.csv", recorded.as_csv())
    bad = shell.file("b.csv", "patient,second,surname\na,0,x\n")

    ended = over(shell, good, bad, "--category", "child", "--json")

    assert ended.code == 2
    (error,) = ended.json["errors"]
    assert error["column"] == "surname"
    assert error["reason"] == f"{bad}: this looks like a name: take the column out"


def test_invented_patients_are_marked_in_words_and_in_json(shell: Shell) -> None:
    asked = ("--synthetic", "3", "--category", "child")

    result = over(shell, *asked, "--json").json
    words = over(shell, *asked).out

    assert next(iter(result)) == "synthetic"
    assert result["synthetic"].startswith("SYNTHETIC: 3 invented patients of 1 h, aged 1 y to 13 y")
    assert result["patients"] == 3
    assert words.startswith(result["synthetic"])
    Draft202012Validator(shell.run("schema", "replay").json).validate(result)


@pytest.mark.parametrize(
    ("arguments", "column"),
    [
        ((), "command line"),
        (("trends.csv", "--synthetic", "3"), "command line"),
        (("--synthetic", "1"), "patients"),
        (("--synthetic", "3", "--averaging", "-1"), "--averaging"),
        (("--synthetic", "3", "--averaging", "nan"), "--averaging"),
        (("--synthetic", "3", "--hysteresis", "101"), "--hysteresis"),
        (("--synthetic", "3", "--acknowledged-after", "3601"), "--acknowledged-after"),
    ],
)
def test_a_question_that_cannot_be_asked_is_refused(
    shell: Shell, arguments: tuple[str, ...], column: str
) -> None:
    ended = over(shell, *arguments, "--category", "child", "--json")

    assert ended.code == 2
    assert ended.json["errors"][0]["column"] == column


def test_a_circumstance_is_laid_over_the_category(shell: Shell) -> None:
    over_oxygen = {
        "key": "hypercapnia-risk",
        "applies_to": ["adult"],
        "settings": {"spo2-low": on(86)},
    }
    file = shell.file("f.csv", "patient,second,heart-rate,spo2\na,0,140,89\na,1,160,87\n")
    written = document({"adult": ("0 d", None, SETTINGS)}) | {"circumstances": [over_oxygen]}
    profile = shell.file("p.json", written)

    def counts(*more: str) -> Ended:
        return shell.run("replay", profile, file, "--category", "adult", *more)

    ordinary = counts("--json").json
    under = counts("--json", "--circumstance", "hypercapnia-risk").json
    unknown = counts("--json", "--circumstance", "paced")
    assert "circumstance" not in ordinary
    assert under["circumstance"] == "hypercapnia-risk"
    assert [(a["alarm"], a["count"]) for a in ordinary["alarms"] if a["count"]] == [
        ("heart-rate-high", 1),
        ("spo2-low", 1),
    ]
    assert [a["alarm"] for a in under["alarms"] if a["count"]] == ["heart-rate-high"]
    assert "under hypercapnia-risk" in counts("--circumstance", "hypercapnia-risk").out
    assert unknown.code == 2
    assert unknown.json["errors"][0]["reason"] == "must be one of hypercapnia-risk"
    Draft202012Validator(shell.run("schema", "replay").json).validate(under)


def test_a_mark_of_a_missing_value_is_refused(shell: Shell) -> None:
    ended = replay(shell, "--json", trends="patient,second,spo2\na,0,97\na,1,-1\n")

    assert ended.code == 2
    (error,) = ended.json["errors"]
    assert (error["column"], error["value"]) == ("spo2", -1)


def test_no_cohort_is_drawn_where_nothing_is_published(shell: Shell) -> None:
    ended = over(shell, "--synthetic", "3", "--category", "adult", "--json")

    assert ended.code == 2
    assert "no centiles are published" in ended.json["errors"][0]["reason"]


def test_what_a_monitor_does_besides_changes_the_load_only_if_asked_for(shell: Shell) -> None:
    flutter = "".join(f"a,{at},{60 if at % 2 else 59}\n" for at in range(20))
    file = shell.file("f.csv", f"patient,second,heart-rate\n{flutter}")
    low = on(60, latching=True)
    profile = shell.file("p.json", document({"all": ("0 d", None, {"heart-rate-low": low})}))

    def load(*habits: str) -> tuple[int, float]:
        ended = shell.run("replay", profile, file, "--category", "all", "--json", *habits)
        (one,) = ended.json["alarms"]
        return one["count"], one["seconds_in_alarm"]

    assert load() == (10, 10)
    assert load("--hysteresis", "1") == (1, 20)
    assert load("--averaging", "2") == (1, 1)
    assert load("--acknowledged-after", "6") == (4, 20)
