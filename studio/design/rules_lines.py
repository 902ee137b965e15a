"""Faults of lines: two of one number, mirrors left out that the line does not have, or too many of them."""

from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise
from typing import Any

from studio.errors import Fault
from studio.text import _


def lines_faults(tree: Mapping[str, Any]) -> Iterator[Fault]:
    """Faults of the lines in the plain tree of a design; silent about values of the wrong kind."""
    lines = tree.get("lines")
    seen: set[int] = set()
    for place, line in enumerate(lines if isinstance(lines, Sequence) and not isinstance(lines, str) else ()):
        if not isinstance(line, Mapping):
            continue
        path, number = f"$.design.lines[{place}]", line.get("id")
        if type(number) is int:
            if number in seen:
                yield Fault(
                    f"{path}.id",
                    _("Line {number}").format(number=number),
                    _("a second line with this number"),
                    _("give each line a number of its own"),
                )
            seen.add(number)
        yield from _left_out(f"{path}.left_out", number if type(number) is int else place + 1, line)


def _left_out(path: str, number: int, line: Mapping[str, Any]) -> Iterator[Fault]:
    out, first, count = line.get("left_out", ()), line.get("first_number"), line.get("count")
    if not isinstance(out, Sequence) or isinstance(out, str) or not out:
        return
    if type(first) is not int or type(count) is not int or any(type(one) is not int for one in out):
        return
    name, last = _("Line {number}, left out").format(number=number), first + count - 1
    found = ", ".join(str(one) for one in out[:12])
    if any(later <= earlier for earlier, later in pairwise(out)):
        yield Fault(path, name, found, _("let the numbers rise, each named once"))
    elif out[0] < first or out[-1] > last:
        wanted = _("numbers of its own mirrors, {first} to {last}").format(first=first, last=last)
        yield Fault(path, name, found, wanted)
    elif out[0] == first or out[-1] == last:
        yield Fault(path, name, found, _("a line ends with a mirror at either end; shorten the line instead"))
