import pytest

from tests.cli.running import Shell


def sample(fleet: object, tolerate: str, confidence: str) -> list[str]:
    return ["sample", "--fleet", str(fleet), "--tolerate", tolerate, "--confidence", confidence]


def test_the_worked_example_as_json(shell: Shell) -> None:
    """40 devices, 4 off: 21 read, miss probability C(36,21)/C(40,21) = 0.0424."""
    ended = shell.run(*sample(40, "10%", "95%"), "--json")

    result = ended.json
    assert ended.code == 0
    assert list(result) == ["fleet", "tolerate", "confidence", "sample", "miss_probability"]
    assert (result["fleet"], result["tolerate"], result["confidence"]) == (40, 0.1, 0.95)
    assert result["sample"] == 21
    assert result["miss_probability"] == pytest.approx(0.0424, abs=5e-5)


def test_in_words(shell: Shell) -> None:
    assert shell.run(*sample(40, "10%", "95%")).out.startswith("Read 21 of 40 devices")


@pytest.mark.parametrize(
    ("fleet", "tolerate", "confidence", "column"),
    [
        (0, "10%", "95%", "--fleet"),
        (-1, "10%", "95%", "--fleet"),
        (40, "0%", "95%", "--tolerate"),
        (40, "101%", "95%", "--tolerate"),
        (40, "ten", "95%", "--tolerate"),
        (40, "", "95%", "--tolerate"),
        (40, "10%", "0%", "--confidence"),
        (40, "10%", "nan", "--confidence"),
    ],
)
def test_a_wrong_question_is_refused(
    shell: Shell, fleet: int, tolerate: str, confidence: str, column: str
) -> None:
    ended = shell.run(*sample(fleet, tolerate, confidence), "--json")

    assert ended.code == 2
    (error,) = ended.json["errors"]
    assert error["column"] == column
