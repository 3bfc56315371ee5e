"""The profile file: what is good is read exactly, what is bad is told by line and column."""

from decimal import Decimal

import pytest

from app.domain.ages import AgeSpan, days, years
from app.domain.device_models import Grid, Preset
from app.domain.errors import Refused
from app.domain.settings_of_alarms import (
    DeepLine,
    Latitude,
    NoPolicy,
    NotFitted,
    Off,
    On,
    Priority,
)
from app.exchange.profile_json import (
    MOST_FAULTS,
    parse_profile,
    profile_from_document,
    read_profile,
)
from app.exchange.stored_profiles import stored_profile
from tests.exchange.refusals import refused
from tests.worked_profiles import document, on

GOOD = """{"format": "marchstone-profile/1",
 "agency": "Skerry Isles Ambulance",
 "profile": "Ground and air",
 "revision": 3,
 "categories": [
  {"key": "infant", "label": "Infant", "from": "28 d", "to": "1 y"}],
 "settings": {"infant": {
  "heart-rate-low": {"state": "on", "limit": 90, "priority": "medium", "delay_s": 5,
   "latching": false, "deep": {"limit": 60, "priority": "high", "delay_s": 0},
   "latitude": {"from": 80, "to": 100, "off_by": "nobody"}, "reason": "r", "source": "s"},
  "asystole": {"state": "on", "limit": null, "priority": "high", "delay_s": 0, "latching": true},
  "temperature-high": {"state": "off", "reason": "r"},
  "etco2-low": {"state": "not-fitted"},
  "nibp-mean-low": {"state": "no-policy"}}},
 "circumstances": [
  {"key": "on-oxygen", "applies_to": ["infant"],
   "settings": {"spo2-high": {"state": "on", "limit": 95.5}}}],
 "options": {"longest-pause-s": {"value": 120, "reason": "r"}},
 "models": {"dunlin": {
  "presets": {"CHILD": {"carries": "infant", "serves": ["infant"]}},
  "grid": {"heart-rate-low": {"from": 30, "to": 200, "step": 5, "can_be_off": true}},
  "etco2_unit": "kPa", "retention_min": 2}}}
"""


def changed(old: str, new: str) -> bytes:
    assert GOOD.count(old) >= 1
    return GOOD.replace(old, new, 1).encode()


# --- good


def test_everything_that_is_written_is_read() -> None:
    profile = read_profile(GOOD.encode())

    assert (profile.agency, profile.name, profile.revision) == (
        "Skerry Isles Ambulance",
        "Ground and air",
        3,
    )
    (category,) = profile.categories
    assert (category.key, category.label) == ("infant", "Infant")
    assert category.span == AgeSpan(days(28), years(1))
    assert profile.of_category("infant") == {
        "heart-rate-low": On(
            Decimal(90),
            Priority.MEDIUM,
            Decimal(5),
            latching=False,
            deep=DeepLine(Decimal(60), Priority.HIGH, Decimal(0)),
            latitude=Latitude(Decimal(80), Decimal(100), "nobody"),
            reason="r",
            source="s",
        ),
        "asystole": On(None, Priority.HIGH, Decimal(0), latching=True),
        "temperature-high": Off("r"),
        "etco2-low": NotFitted(),
        "nibp-mean-low": NoPolicy(),
    }
    (circumstance,) = profile.circumstances
    assert circumstance.settings == {"spo2-high": On(Decimal("95.5"))}
    assert profile.number_option("longest-pause-s") == 120
    dunlin = profile.models["dunlin"]
    assert dunlin.presets == (Preset("CHILD", "infant", ("infant",)),)
    assert dunlin.grid == {"heart-rate-low": Grid(Decimal(30), Decimal(200), Decimal(5))}
    assert (dunlin.etco2_unit, dunlin.retention_min) == ("kPa", Decimal(2))


@pytest.mark.parametrize(
    "raw",
    [
        b"\xef\xbb\xbf" + GOOD.encode(),
        GOOD.replace("\n", "\r\n").encode(),
        GOOD.replace("Skerry", "\\u0053kerry").encode(),
    ],
    ids=["byte-order mark", "carriage returns", "escapes"],
)
def test_how_a_text_is_stored_changes_nothing(raw: bytes) -> None:
    assert read_profile(raw).fingerprint == read_profile(GOOD.encode()).fingerprint


def test_what_may_be_absent_may_be_absent() -> None:
    profile = profile_from_document(document({"adult": ("0 d", None, {})}))

    assert (profile.circumstances, profile.options, profile.models) == ((), {}, {})
    assert profile.categories[0].span == AgeSpan(days(0), None)


def test_a_limit_is_kept_as_written() -> None:
    document_ = document({"adult": ("0 d", None, {"etco2-high": on(8.0, unit="kPa")})})

    setting = profile_from_document(document_).of_category("adult")["etco2-high"]

    assert isinstance(setting, On)
    assert (setting.limit, setting.unit) == (Decimal("8.0"), "kPa")


# --- bad values, each with the place where it stands

AT = "settings / infant / heart-rate-low"


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        # numbers
        ('"limit": 90', '"limit": "90"', (8, 46, "90", f"{AT} / limit: must be a number")),
        ('"limit": 90', '"limit": true', (8, 46, True, f"{AT} / limit: must be a number")),
        ('"limit": 90', '"limit": [90]', (8, 46, None, f"{AT} / limit: must be a number")),
        ('"limit": 90', '"limit": NaN', (8, 46, None, "expected a value")),
        ('"limit": 90', '"limit": -Infinity', (8, 46, None, "expected a value")),
        ('"limit": 90', '"limit": 1e309', (8, 46, "1e309", "1e309 is too large a number")),
        (
            '"limit": 90',
            '"limit": 9007199254740992',
            (8, 46, "9007199254740992", "9007199254740992 is too large a number"),
        ),
        ('"limit": 90', '"limit": 090', (8, 47, None, "expected '}'")),
        ('"limit": 90', '"limit": .5', (8, 46, None, "expected a value")),
        ('"limit": 90', '"limit": +90', (8, 46, None, "expected a value")),
        ('"limit": 90', '"limit": ', (8, 46, None, "expected a value")),
        ('"limit": 90, ', "", (8, 21, None, f"{AT} / limit: is missing")),
        # ranges
        (
            '"delay_s": 5',
            '"delay_s": -1',
            (8, 83, -1, f"{AT} / delay_s: should be greater than or equal to 0"),
        ),
        (
            '"delay_s": 5',
            '"delay_s": 601',
            (8, 83, 601, f"{AT} / delay_s: should be less than or equal to 600"),
        ),
        ('"revision": 3', '"revision": 3.5', (4, 14, 3.5, "revision: must be a whole number")),
        ('"revision": 3', '"revision": "3"', (4, 14, "3", "revision: must be a whole number")),
        ('"revision": 3', '"revision": true', (4, 14, True, "revision: must be a whole number")),
        (
            '"revision": 3',
            '"revision": 0',
            (4, 14, 0, "revision: should be greater than or equal to 1"),
        ),
        # keys
        (
            '"limit": 90',
            '"limit": 90, "limit": 91',
            (8, 50, "limit", "the key 'limit' stands twice"),
        ),
        ('"limit": 90', '"limit": 90, "limits": 9', (8, 60, 9, f"{AT} / limits: unknown key")),
        (
            '"not-fitted"',
            '"not-fitted", "limit": 3',
            (13, 49, 3, "settings / infant / etco2-low / limit: unknown key"),
        ),
        ('"agency": "Skerry Isles Ambulance",', "", (1, 1, None, "agency: is missing")),
        (
            "marchstone-profile/1",
            "marchstone-profile/2",
            (1, 12, "marchstone-profile/2", "format: should be 'marchstone-profile/1'"),
        ),
        # states
        (
            '"state": "on"',
            '"state": "maybe"',
            (8, 31, "maybe", f"{AT} / state: must be on, off, not-fitted or no-policy"),
        ),
        (
            '"state": "on", ',
            "",
            (8, 21, None, f"{AT}: needs a state: on, off, not-fitted or no-policy"),
        ),
        (
            '"medium"',
            '"urgent"',
            (8, 62, "urgent", f"{AT} / priority: should be 'high', 'medium' or 'low'"),
        ),
        (
            '"latching": false',
            '"latching": 0',
            (9, 16, 0, f"{AT} / latching: must be true or false"),
        ),
        (
            '"value": 120',
            '"value": null',
            (
                18,
                43,
                None,
                "options / longest-pause-s / value: must be a number or true or false or text",
            ),
        ),
        # ages
        (
            '"28 d"',
            '"28 days"',
            (
                6,
                48,
                "28 days",
                "categories / 0 / from: '28 days' is no age: write a number, a space and d, mo or "
                "y, such as '7 mo'",
            ),
        ),
        ('"28 d"', "28", (6, 48, 28, "categories / 0 / from: must be text")),
        ('"1 y"', '"28 d"', (6, 62, "28 d", "categories / 0 / to: must be older than from")),
        ('"1 y"', '"27 d"', (6, 62, "27 d", "categories / 0 / to: must be older than from")),
        (
            '"1 y"',
            '"131 y"',
            (6, 62, "131 y", "categories / 0 / to: '131 y' is older than 130 years"),
        ),
        # alarms and what belongs to them
        (
            '"heart-rate-low": {"state"',
            '"heart-rate": {"state"',
            (8, 17, "heart-rate", "settings / infant / heart-rate: is no alarm condition"),
        ),
        (
            '"limit": null',
            '"limit": 3',
            (11, 40, 3, "settings / infant / asystole / limit: this alarm has no threshold"),
        ),
        (
            '"limit": null',
            '"limit": null, "unit": "s"',
            (11, 54, "s", "settings / infant / asystole / unit: this alarm has no threshold"),
        ),
        (
            '"limit": 95.5',
            '"limit": 95.5, "unit": "kPa"',
            (17, 69, "kPa", "circumstances / 0 / settings / spo2-high / unit: must be one of %"),
        ),
        (
            '"deep": {"limit": 60',
            '"deep": {"limit": 60, "unit": "Cel"',
            (9, 53, "Cel", f"{AT} / deep / unit: must be one of /min"),
        ),
        (
            '"from": 80, "to": 100',
            '"from": 80',
            (10, 16, None, f"{AT} / latitude: needs both from and to, or neither"),
        ),
        (
            '"from": 80',
            '"from": 101',
            (10, 36, 100, f"{AT} / latitude / to: must not be below from"),
        ),
        # names of categories
        (
            '"settings": {"infant"',
            '"settings": {"child"',
            (7, 24, "child", "settings / child: is no category of this profile"),
        ),
        (
            '"applies_to": ["infant"]',
            '"applies_to": ["child"]',
            (
                16,
                39,
                "child",
                "circumstances / 0 / applies_to / 0: is no category of this profile",
            ),
        ),
        (
            '"carries": "infant"',
            '"carries": "child"',
            (
                20,
                36,
                "child",
                "models / dunlin / presets / CHILD / carries: is no category of this profile",
            ),
        ),
        (
            '"serves": ["infant"]',
            '"serves": ["child"]',
            (
                20,
                57,
                "child",
                "models / dunlin / presets / CHILD / serves / 0: is no category of this profile",
            ),
        ),
        # what a model can be set to
        (
            '"heart-rate-low": {"from": 30',
            '"heart-rate": {"from": 30',
            (21, 26, "heart-rate", "models / dunlin / grid / heart-rate: is no alarm condition"),
        ),
        (
            '"to": 200',
            '"to": 29',
            (21, 49, 29, "models / dunlin / grid / heart-rate-low / to: must not be below from"),
        ),
        # text
        ('"Skerry', '"\\ud800Skerry', (2, 42, None, "half of a surrogate pair is no text")),
        ('"Skerry', '"\tSkerry', (2, 13, None, "invalid control character")),
        ('"Skerry', '"\\xSkerry', (2, 13, None, "invalid \\escape")),
    ],
)
def test_what_is_wrong_is_told_by_line_and_column(
    old: str, new: str, told: tuple[int, int, object, str]
) -> None:
    assert refused(lambda: read_profile(changed(old, new))) == [told]


@pytest.mark.parametrize("step", ["0", "-5", "1e-30"])
def test_a_step_that_no_device_has_is_refused(step: str) -> None:
    ((line, column, _, reason),) = refused(
        lambda: read_profile(changed('"step": 5', f'"step": {step}'))
    )

    assert (line, column) == (21, 62)
    assert "step" in reason


def test_a_category_that_stands_twice_is_refused() -> None:
    twice = changed(
        '"categories": [\n',
        '"categories": [\n  {"key": "infant", "label": "x", "from": "0 d", "to": "28 d"},\n',
    )

    assert refused(lambda: read_profile(twice)) == [
        (7, 11, "infant", "categories / 1 / key: stands twice")
    ]


# --- texts that would not be read as they are stored


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ('"Infant"', '"Inf\\u0000ant"', (6, 30, "categories / 0 / label", "U+0000 at 4")),
        ('"Infant"', '"Inf\u200dant"', (6, 30, "categories / 0 / label", "U+200D at 4")),
        ('"Infant"', '"\u3164"', (6, 30, "categories / 0 / label", "U+3164 at 1")),
        ('"Ground and air"', '"Ground\\nand air"', (3, 13, "profile", "U+000A at 7")),
        (
            '"CHILD"',
            '"CHI\u00adLD"',
            (20, 25, "models / dunlin / presets / CHI\u00adLD", "U+00AD at 4"),
        ),
        (
            '"reason": "r", "source": "s"}',
            '"reason": "\u202er", "source": "s"}',
            (10, 71, "settings / infant / heart-rate-low / reason", "U+202E at 1"),
        ),
        (
            '"value": 120, "reason": "r"',
            '"value": 120, "reason": "\\u0007"',
            (18, 58, "options / longest-pause-s / reason", "U+0007 at 1"),
        ),
    ],
)
def test_a_character_that_nobody_sees_is_told_by_its_place(
    old: str, new: str, told: tuple[int, int, str, str]
) -> None:
    line, column, where, which = told

    ((found_line, found_column, _, reason),) = refused(lambda: read_profile(changed(old, new)))

    assert (found_line, found_column) == (line, column)
    assert reason == f"{where}: holds a character that cannot be seen, {which}"


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('"Infant"', '"Säugling – 1 y"'),
        ('"Infant"', '"乳児"'),
        ('"reason": "r", "source": "s"}', '"reason": "one\\ntwo\\tthree \u200d", "source": "s"}'),
        ('"agency": "Skerry', '"agency": "Sk\u200cerry'),  # the service writes it, not the author
    ],
)
def test_what_people_write_is_taken(old: str, new: str) -> None:
    read_profile(changed(old, new))


@pytest.mark.parametrize(
    ("label", "reason"),
    [
        ("", "must not be empty"),
        ("  ", "holds nothing but spaces"),
        ("x" * 121, "must have at most 120 characters"),
    ],
)
def test_a_label_has_its_bounds(label: str, reason: str) -> None:
    raw = changed('"label": "Infant"', f'"label": "{label}"')

    ((line, column, _, told),) = refused(lambda: read_profile(raw))

    assert (line, column, told) == (6, 30, f"categories / 0 / label: {reason}")


def test_a_policy_that_is_stored_already_is_read_whatever_its_texts() -> None:
    raw = changed('"Infant"', '"Inf\\u200bant"').decode()

    assert stored_profile(raw).categories[0].label == "Inf\u200bant"


# --- bad texts


@pytest.mark.parametrize(
    ("raw", "told"),
    [
        (b"", (1, 1, None, "it ends here")),
        (b"\n\n  ", (3, 3, None, "it ends here")),
        (b"{", (1, 2, None, "expected a key in double quotes")),
        (b'{"a"', (1, 5, None, "expected ':' before the end")),
        (b'{"a" 1}', (1, 6, None, "expected ':'")),
        (b'{"a": 1', (1, 8, None, "expected '}' before the end")),
        (b'{"a": "b', (1, 7, None, "unterminated string")),
        (b'{"a": 1,}', (1, 9, None, "expected a key in double quotes")),
        (b"{'a': 1}", (1, 2, None, "expected a key in double quotes")),
        (b"[1,]", (1, 4, None, "expected a value")),
        (b"[1 2]", (1, 4, None, "expected ']'")),
        (b"tru", (1, 1, None, "expected a value")),
        (b"-", (1, 1, None, "expected a value")),
        (b"{} {}", (1, 4, None, "there is more text after the end of the document")),
        (b"[1,2]", (1, 1, None, "must be an object")),
        (b"null", (1, 1, None, "must be an object")),
        (b'"x"', (1, 1, "x", "must be an object")),
        (b'{"a": {"b": 1, "b": 2}}', (1, 16, "b", "the key 'b' stands twice")),
        (b"[" * 50, (1, 42, None, "nested too deeply")),
        (b'{"a":' * 100_000, (1, 206, None, "nested too deeply")),
        (GOOD[:100].encode(), (3, 29, None, "expected '}' before the end")),
        # not UTF-8: the line is told
        (b"\xff{}", (1, "file", None, "this is not UTF-8 text")),
        (b'{"a":\n"\xe9"}', (2, "file", None, "this is not UTF-8 text")),
        (GOOD.encode("utf-16"), (1, "file", None, "this is not UTF-8 text")),
    ],
)
def test_a_text_that_is_no_json_is_told_by_place(raw: bytes, told: tuple[object, ...]) -> None:
    assert refused(lambda: read_profile(raw)) == [told]


@pytest.mark.parametrize("cut", range(0, len(GOOD) - 3, 97))
def test_a_file_that_was_cut_off_is_refused_wherever(cut: int) -> None:
    with pytest.raises(Refused):
        read_profile(GOOD[:cut].encode())


def test_a_byte_order_mark_does_not_shift_the_column() -> None:
    raw = b"\xef\xbb\xbf" + changed('{"format": "', '{"format": 1, "x": "')

    assert refused(lambda: read_profile(raw))[0][:2] == (1, 12)


def test_a_file_over_eight_mebibytes_is_refused_unread() -> None:
    raw = b" " * (8 * 1024 * 1024 + 1)

    assert refused(lambda: read_profile(raw)) == [
        (None, None, None, "the file is larger than 8 MiB")
    ]


def test_everything_wrong_is_told_at_once() -> None:
    raw = changed('"limit": 90', '"limit": "90"').replace(b'"revision": 3', b'"revision": "3"')

    assert [told[0] for told in refused(lambda: read_profile(raw))] == [4, 8]


def test_beyond_a_hundred_faults_only_their_number_is_told() -> None:
    settings = ",".join(f'"alarm-{n}": {{"state": "off"}}' for n in range(MOST_FAULTS + 5))

    told = refused(
        lambda: parse_profile(
            GOOD.replace('"temperature-high": {', settings + ',"temperature-high": {')
        )
    )

    assert len(told) == MOST_FAULTS + 1
    assert told[-1] == (None, None, None, "and 5 more")


def test_a_document_without_text_is_refused_by_path() -> None:
    """What comes from a form or a program has no lines."""
    wrong = document({"adult": ("0 d", None, {"heart-rate-low": on(90, priority="urgent")})})

    ((line, column, value, reason),) = refused(lambda: profile_from_document(wrong))

    assert (line, column, value) == (None, "settings / adult / heart-rate-low / priority", "urgent")
    assert reason == "should be 'high', 'medium' or 'low'"
