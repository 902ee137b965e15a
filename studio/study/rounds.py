"""What a glance looks at: while a hand drags, heat and shade are worked out each time, and of the rest one part in turn."""

from typing import Literal

Glance = Literal["heat", "room", "shopping", "headers", "findings"]
"""What is worked out besides heat, its cost and shade. ``heat``: nothing; ``room``: how the header runs, and what is in the
way of what; ``shopping``: the material list; ``headers``: how they warm up, what is pumped, the hot spot and the working
hours; ``findings``."""
ROUND: tuple[Glance, ...] = tuple(
    each for part in ("room", "shopping", "headers", "findings") for each in ("heat", "heat", part, "heat")
)
"""Glances one after the other: none takes much longer than another, so that figures neither stumble nor keep the hand
waiting."""
