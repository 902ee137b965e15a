"""What differs between two designs, in a few words for a person."""

from studio.design.design import Design
from studio.design.paths import known_fields
from studio.text import _, plural

_NAMED = 3


def told_differences(one: Design, other: Design) -> str:
    """'Line 3, azimuth; Mirror, ribs and 4 more', or that nothing differs."""
    here = {field.path: field for field in known_fields(one)}
    there = {field.path: field for field in known_fields(other)}
    names: list[str] = []
    lines = len(other.lines) - len(one.lines)
    if lines:
        more = plural("{count} line more", "{count} lines more", lines)
        names.append(more if lines > 0 else plural("{count} line less", "{count} lines less", -lines))
    if one.plot.boundary != other.plot.boundary:
        names.append(_("the boundary"))
    if (one.header.hot, one.header.cold) != (other.header.hot, other.header.cold):
        names.append(_("the header's route"))
    names += [there[path].name for path in there if path in here and here[path].value != there[path].value]
    if not names:
        return _("nothing that shows")
    rest = len(names) - _NAMED
    shown = "; ".join(names[:_NAMED])
    return _("{names} and {count} more").format(names=shown, count=rest) if rest > 0 else shown
