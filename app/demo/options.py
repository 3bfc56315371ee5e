"""What the invented policy says besides alarms."""

from app.domain.profiles import Document

VALUES: tuple[tuple[str, int | bool | str, str], ...] = (
    ("all-alarms-on-at-start", True, "What somebody silenced for one patient ends with that one"),
    ("start-up-category", "adult", "Every model starts so; the crew then chooses the category"),
    ("audio-volume", 80, "Heard beside an engine; the crew may turn it up"),
    ("longest-pause-s", 120, "Long enough to move a patient"),
    ("reminder-s", 120, "A silenced alarm is called to mind while its cause stands"),
    ("nibp-interval-min", 5, "A pressure alarm is no fresher than the last measurement"),
    ("spo2-averaging-s", 8, "Longer hides short dips"),
    ("pacing-detection", True, "Spikes must not be counted as beats"),
    ("etco2-unit", "mm[Hg]", "As our sheets; the turnstone shows kPa only, so it is converted"),
    ("default-lead", "II", "The clearest P wave in most patients"),
    ("trend-interval-s", 60, "One line a minute is enough for the handover"),
)

OPTIONS: Document = {
    key: {"value": value, "reason": reason, "source": "common practice"}
    for key, value, reason in VALUES
}
