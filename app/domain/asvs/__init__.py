"""Every requirement of levels 1 and 2 of the OWASP Application Security Verification Standard 5.0.0
(May 2025), and how it stands here.

Identifiers, levels and the names of chapters and sections are the standard's (OWASP, CC BY-SA 4.0);
the sentences are ours. A requirement that is met names the tests that show it.
"""

from app.domain.asvs.chapters_1_to_5 import ROWS as _FIRST
from app.domain.asvs.chapters_6_to_10 import ROWS as _SECOND
from app.domain.asvs.chapters_11_to_17 import ROWS as _THIRD
from app.domain.asvs.requirements import Requirement, Section, Standing, sections

SECTIONS: tuple[Section, ...] = sections([*_FIRST, *_SECOND, *_THIRD])

__all__ = ["SECTIONS", "Requirement", "Section", "Standing"]
