"""What the checks notice: each finding is declared once, with its sentence, its place and what would mend it."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, Literal

Severity = Literal["stop", "caution", "note"]
ORDER: tuple[Severity, ...] = ("stop", "caution", "note")


@dataclass(frozen=True)
class Mend:
    """What would mend a finding, as data: the edit's key, its arguments, and what a button says."""

    label: str
    edit: str
    arguments: Mapping[str, Any]


@dataclass(frozen=True)
class Finding:
    """One thing the checks noticed.

    ``number`` is the same in the list and on the drawing. ``place`` is in the site frame, None where it has none.
    ``forbids`` marks what must not be built as it stands. ``detail`` is the second line.
    """

    key: str
    severity: Severity
    sentence: str
    detail: str = ""
    value: float | None = None
    unit: str = ""
    place: tuple[float, float] | None = None
    line_id: int | None = None
    mirror: int | None = None
    mend: Mend | None = None
    number: int = 0

    @property
    def forbids(self) -> bool:
        """Whether this finding forbids building."""
        return self.severity == "stop"


def numbered(findings: list[Finding]) -> tuple[Finding, ...]:
    """Findings in order of severity, then as found, numbered from 1."""
    ordered = sorted(findings, key=lambda finding: ORDER.index(finding.severity))
    return tuple(replace(finding, number=place) for place, finding in enumerate(ordered, start=1))
