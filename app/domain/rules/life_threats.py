"""Alarms of immediate threat to life: on, and at high priority."""

from collections.abc import Iterator

from app.domain.alarm_conditions import ALARM_CONDITIONS
from app.domain.findings import Finding, Severity
from app.domain.profiles import Settings
from app.domain.rules.rule import COMMON_PRACTICE, Question, Rule
from app.domain.settings_of_alarms import NoPolicy, NotFitted, Off, On, Priority, Setting

ARRESTS = ("asystole", "ventricular-fibrillation", "ventricular-tachycardia")
APNOEAS = ("apnoea", "airway-apnoea")
_FIBRILLATIONS = ("ventricular-fibrillation", "ventricular-tachycardia")


def threats(settings: Settings) -> Iterator[tuple[tuple[str, ...], str]]:
    """(alarms, what is wrong). An alarm the settings do not mention is no threat here."""
    for key in ARRESTS:
        setting = settings.get(key)
        if _silent(setting):
            yield (key,), f"{_label(key)} is off"
        elif isinstance(setting, On) and setting.priority not in (None, Priority.HIGH):
            yield (key,), f"{_label(key)} is of {setting.priority} priority"
    stated = [settings[key] for key in APNOEAS if key in settings]
    silent = [setting for setting in stated if _silent(setting)]
    deaf = [s for s in stated if _silent(s) or isinstance(s, NotFitted)]
    if silent and len(deaf) == len(APNOEAS):
        yield APNOEAS, "no apnoea alarm is on"
    elif _silent(settings.get("airway-apnoea")) and _capnography_fitted(settings):
        yield ("airway-apnoea",), "airway apnoea is off although EtCO₂ is fitted"


def _capnography_fitted(settings: Settings) -> bool:
    return any(isinstance(settings.get(f"etco2-{side}"), On | Off) for side in ("low", "high"))


def _silent(setting: Setting | None) -> bool:
    return isinstance(setting, Off | NoPolicy)


def _label(key: str) -> str:
    return ALARM_CONDITIONS[key].label


def _ask(rule: Rule, question: Question) -> Iterator[Finding]:
    for alarms, wrong in threats(question.settings):
        if question.asks_about(*alarms):
            yield rule.finding(
                question,
                alarms,
                f"{wrong}: an arrest can pass unannounced.",
                beside=_sisters(alarms),
            )


def _sisters(alarms: tuple[str, ...]) -> tuple[str, ...]:
    """Those that may still sound in its place: off is graver where they are silent too."""
    families = (family for family in (_FIBRILLATIONS, APNOEAS) if set(family) & set(alarms))
    return tuple(key for family in families for key in family if key not in alarms)


LIFE_THREAT_OFF = Rule(
    "life-threat-off",
    "Asystole, ventricular fibrillation, ventricular tachycardia or apnoea is off, "
    "or below high priority.",
    Severity.UNSAFE,
    COMMON_PRACTICE,
    ask=_ask,
)
