"""The circumstances that the trade knows; an agency may add its own.

Outer bounds and look-ups know a circumstance by its key, so a known one keeps this key.
"""

KNOWN_CIRCUMSTANCES: dict[str, str] = {
    "preterm": "Preterm",
    "newborns-first-ten-minutes": "Newborn’s first ten minutes",
    "on-oxygen": "On oxygen",
    "hypercapnia-risk": "Hypercapnia risk",
    "cyanotic-heart": "Cyanotic heart",
    "above-2500-m": "Above 2500 m",
    "cardiac-arrest": "Cardiac arrest",
    "brain-injury": "Brain injury",
    "paced": "Paced",
}
