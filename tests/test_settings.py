from pathlib import Path

import pytest
from pydantic import ValidationError

from app.domain.errors import Refused
from app.settings import Settings


def faults(**environ: str) -> dict[object, str]:
    with pytest.raises(Refused) as refused:
        Settings.from_environment({f"MARCHSTONE_{name}": value for name, value in environ.items()})
    return {fault.column: fault.reason for fault in refused.value.faults}


def test_everything_has_a_default() -> None:
    settings = Settings.from_environment({})

    assert settings.data_dir == Path("marchstone-data")
    assert (
        settings.database_url
        == f"sqlite:///{Path('marchstone-data/marchstone.sqlite3').absolute()}"
    )
    assert (settings.host, settings.port) == ("127.0.0.1", 8350)
    assert settings.address == "http://127.0.0.1:8350"


def test_the_database_follows_the_data_folder() -> None:
    settings = Settings.from_environment({"MARCHSTONE_DATA_DIR": "/srv/stones"})

    assert settings.database_url == "sqlite:////srv/stones/marchstone.sqlite3"


def test_values_are_read_from_text() -> None:
    settings = Settings.from_environment(
        {
            "MARCHSTONE_PORT": "9000",
            "MARCHSTONE_SECURE_COOKIES": "true",
            "MARCHSTONE_PUBLIC_URL": "https://stones.example.org/",
            "MARCHSTONE_DATABASE_URL": "postgresql+psycopg://m:secret@db/stones",
        }
    )

    assert settings.port == 9000
    assert settings.secure_cookies is True
    assert settings.address == "https://stones.example.org"
    assert settings.database_url == "postgresql+psycopg://m:secret@db/stones"


def test_an_empty_value_counts_as_not_set_and_other_programs_are_ignored() -> None:
    settings = Settings.from_environment({"MARCHSTONE_PORT": " ", "PORT": "1"})

    assert settings.port == 8350


def test_an_unknown_name_is_refused_and_the_known_ones_told() -> None:
    told = faults(PROT="9000")

    assert list(told) == ["MARCHSTONE_PROT"]
    assert "MARCHSTONE_PORT" in told["MARCHSTONE_PROT"]


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("PORT", "0"),
        ("PORT", "65536"),
        ("PORT", "http"),
        ("SECURE_COOKIES", "perhaps"),
        ("SESSION_HOURS", "0"),
        ("SESSION_HOURS", "169"),
        ("IDLE_MINUTES", "0"),
        ("THREADS", "0"),
        ("PUBLIC_URL", "stones.example.org"),
        ("DATABASE_URL", "mysql://db/stones"),
        ("DATABASE_URL", "postgresql://db/stones"),
        ("DATABASE_URL", "sqlite:///"),
    ],
)
def test_a_bad_value_is_refused_by_its_name(name: str, value: str) -> None:
    assert list(faults(**{name: value})) == [f"MARCHSTONE_{name}"]


def test_every_bad_value_is_told_at_once() -> None:
    assert set(faults(PORT="x", THREADS="y")) == {"MARCHSTONE_PORT", "MARCHSTONE_THREADS"}


def test_a_refused_database_address_is_not_repeated() -> None:
    told = faults(DATABASE_URL="mysql://m:secret@db/stones")

    assert "secret" not in str(told)


def test_settings_cannot_be_changed_afterwards() -> None:
    with pytest.raises(ValidationError):
        Settings().port = 1


@pytest.mark.parametrize("name", Settings.model_fields)
def test_every_setting_says_what_it_is_for(name: str) -> None:
    description = Settings.model_fields[name].description

    assert description is not None
    assert description.endswith(".")


@pytest.mark.parametrize(
    ("public_url", "secure"),
    [
        ("", False),
        ("http://marchstone.example.org", False),
        ("https://marchstone.example.org", True),
    ],
)
def test_cookies_are_secure_wherever_people_come_over_https(public_url: str, secure: bool) -> None:
    settings = Settings.from_environment({"MARCHSTONE_PUBLIC_URL": public_url})

    assert settings.secure_cookies is secure
