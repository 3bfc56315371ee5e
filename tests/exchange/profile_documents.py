"""Profile documents that hypothesis makes: every key may be there, null or left out."""

from typing import Any

from hypothesis import strategies as st

from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.domain.plain_text import misleading_in_words, unseen_in_name
from app.domain.settings_of_alarms import units_of

KEYS = st.from_regex(r"[a-z0-9]{1,6}(-[a-z0-9]{1,4})?", fullmatch=True)
HOSTILE = st.sampled_from(
    ["=1+1", "+1", "-1+1", "@x", "\t=1", "(none)", "(empty)", '"', "_x0041_", "yes", "37.5", " a "]
)
TEXT = st.one_of(HOSTILE, st.text(st.characters(exclude_categories=["Cs"]), max_size=30)).filter(
    lambda text: misleading_in_words(text) is None
)
LABELS = TEXT.filter(lambda text: bool(text.strip()) and unseen_in_name(text) is None)
LIMITS = st.one_of(
    st.integers(-300, 300),
    st.floats(allow_nan=False, allow_infinity=False).filter(lambda number: abs(number) < 2**53),
)
SECONDS = st.one_of(st.integers(0, 600), st.floats(0, 600))
PRIORITY = st.sampled_from(["high", "medium", "low", None])
WITH_THRESHOLD = sorted(key for key, one in ALARM_CONDITIONS.items() if one.has_threshold)
EVENTS = sorted(set(ALARM_CONDITIONS) - set(WITH_THRESHOLD))
EXPLAINED = {"reason": TEXT, "source": TEXT}


def _record(needed: dict[str, Any], may: dict[str, Any]) -> st.SearchStrategy[dict[str, Any]]:
    return st.fixed_dictionaries(needed, optional=may)


def _latitudes() -> st.SearchStrategy[dict[str, Any] | None]:
    off_by = {"off_by": st.sampled_from(["nobody", "crew", "medical-control"])}
    ends = st.tuples(LIMITS, LIMITS).map(sorted)
    closed = st.builds(
        lambda pair, more: {"from": pair[0], "to": pair[1], **more}, ends, _record({}, off_by)
    )
    nothing = {"from": st.none(), "to": st.none(), **off_by}
    return st.one_of(st.none(), closed, _record({}, nothing))


def _on(alarm: str) -> st.SearchStrategy[dict[str, Any]]:
    may = {
        "priority": PRIORITY,
        "delay_s": st.one_of(st.none(), SECONDS),
        "latching": st.sampled_from([True, False, None]),
        "latitude": _latitudes(),
        **EXPLAINED,
    }
    needed: dict[str, Any] = {"state": st.just("on")}
    if alarm not in WITH_THRESHOLD:
        return _record(needed, may | dict.fromkeys(("limit", "unit", "deep"), st.none()))
    unit = st.sampled_from([None, *units_of(ALARM_CONDITIONS[alarm])])
    line = {"unit": unit, "priority": PRIORITY, "delay_s": st.one_of(st.none(), SECONDS)}
    deep = st.one_of(st.none(), _record({"limit": LIMITS}, line))
    return _record(needed | {"limit": LIMITS}, may | {"unit": unit, "deep": deep})


def _settings() -> st.SearchStrategy[dict[str, Any]]:
    def one(alarm: str) -> st.SearchStrategy[tuple[str, dict[str, Any]]]:
        off = _record({"state": st.just("off")}, {"latitude": _latitudes(), **EXPLAINED})
        other = _record({"state": st.sampled_from(["not-fitted", "no-policy"])}, EXPLAINED)
        return st.tuples(st.just(alarm), st.one_of(_on(alarm), off, other))

    alarms = st.sampled_from([*WITH_THRESHOLD[:8], *EVENTS[:3]])
    return st.lists(alarms.flatmap(one), max_size=4).map(dict)


def _models(keys: list[str]) -> st.SearchStrategy[dict[str, Any]]:
    named = st.sampled_from(keys)
    serves = st.one_of(st.none(), st.lists(named, max_size=3))
    preset = _record({"carries": named}, {"serves": serves})
    reach = st.tuples(LIMITS, LIMITS).map(sorted)
    grid = st.builds(
        lambda pair, step, more: {"from": pair[0], "to": pair[1], "step": step, **more},
        reach,
        st.sampled_from([1, 0.1, 5]),
        _record({}, {"can_be_off": st.booleans()}),
    )
    held = {
        "presets": st.dictionaries(LABELS, preset, max_size=2),
        "grid": st.dictionaries(st.sampled_from(WITH_THRESHOLD), grid, max_size=2),
        "etco2_unit": st.sampled_from(["mm[Hg]", "kPa"]),
        "retention_min": st.one_of(st.none(), st.integers(0, 60)),
    }
    return st.dictionaries(KEYS, _record({}, held), max_size=2)


@st.composite
def documents(draw: st.DrawFn) -> dict[str, Any]:
    keys = draw(st.lists(KEYS, min_size=1, max_size=3, unique=True))
    ages = ["0 d", "28 d", "4.5 mo", "16 y"]
    circumstance = _record(
        {
            "applies_to": st.lists(st.sampled_from(keys), max_size=2),
            "settings": _settings(),
        },
        {"label": st.one_of(st.none(), LABELS)},
    )
    overlays = st.dictionaries(KEYS, circumstance, max_size=2).map(
        lambda found: [{"key": key, **one} for key, one in found.items()]
    )
    option = _record({"value": st.one_of(LIMITS, st.booleans(), TEXT)}, EXPLAINED)
    may = {
        "circumstances": overlays,
        "options": st.dictionaries(KEYS, option, max_size=3),
        "models": _models(keys),
    }
    return {
        "format": "marchstone-profile/1",
        "agency": draw(LABELS),
        "profile": draw(LABELS),
        "revision": draw(st.integers(1, 1_000_000)),
        "categories": [
            {
                "key": key,
                "label": draw(LABELS),
                "from": ages[at],
                "to": draw(st.sampled_from([ages[at + 1], None])),
            }
            for at, key in enumerate(keys)
        ],
        "settings": draw(st.fixed_dictionaries({}, optional=dict.fromkeys(keys, _settings()))),
        **draw(_record({}, may)),
    }
