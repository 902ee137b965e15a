"""What the section says in words: above the drawing, at its foot, and for those who hear it."""

from math import atan2, degrees

from studio.desk.section.land import beside_words
from studio.drawings.section import SectionDrawing
from studio.drawings.section_cut import Cut
from studio.edits.geometry import compass_word
from studio.text import _, number, percent, plural

_LEAST = 5e-4
_STRETCHED = 1.005
_MOST_TOLD = 8


def cut_words(cut: Cut) -> str:
    """'cut A–B, looking west'."""
    return _("cut A–B, looking {way}").format(way=compass_word(cut.looks_deg))


def sun_words(drawing: SectionDrawing) -> str:
    """What the sun does in the cut, or why it does nothing."""
    sun = drawing.sun
    if sun.state == "down" or sun.profile_deg is None:
        return _("the sun is below the horizon")
    if sun.state == "behind the skyline":
        return _("the skyline hides the sun")
    if drawing.lines and not any(one.gear.lit for one in drawing.lines):
        return _("the sun stands behind the mirrors")
    if _oblique(drawing):
        one = drawing.lines[0].line
        light = one.placed.axes @ sun.sun.direction @ one.seen.see
        angle = degrees(atan2(float(light[1]), abs(float(light[0]))))
        return _("sun {deg}° high in this cut, seen along the lines").format(deg=number(angle, digits=1))
    side = compass_word(drawing.cut.azimuth_deg + (0.0 if sun.from_right else 180.0))
    return _("sun from {side}, {deg}° high in this cut").format(
        deg=number(sun.profile_deg, digits=1), side=side
    )


def _oblique(drawing: SectionDrawing) -> bool:
    return max((one.line.stretch for one in drawing.lines), default=1.0) > _STRETCHED


def no_light(drawing: SectionDrawing) -> bool:
    """Whether there is no light to show."""
    return drawing.sun.state != "shines" or bool(
        drawing.lines and not any(one.gear.lit for one in drawing.lines)
    )


def foot_words(drawing: SectionDrawing) -> list[str]:
    """What stands at the foot, the weightiest first."""
    words = [sun_words(drawing)]
    if _oblique(drawing):
        stretch = max(one.line.stretch for one in drawing.lines)
        words.append(_("oblique cut, lengths × {times}").format(times=number(stretch, digits=2)))
    fall = drawing.ground.fall_percent()
    if abs(fall) >= 0.05:
        way = drawing.cut.azimuth_deg + (0.0 if fall > 0 else 180.0)
        words.append(
            _("ground falls {percent} % to the {way}").format(
                percent=number(abs(fall), digits=1), way=compass_word(way)
            )
        )
    return [*words, _("heights and lengths at one scale")]


def nearest_words(drawing: SectionDrawing, line_id: int) -> str:
    """Which mirror of a line is shown: 'Line 3, mirror 13, in the cut'."""
    one = drawing.crossed(line_id)
    if one is None:
        return ""
    name = _("Line {line}, mirror {mirror}").format(line=line_id, mirror=one.line.number)
    if one.line.off_m < 0.005:
        return name
    return _("{name}, {m} m off the cut").format(name=name, m=number(one.line.off_m, digits=2))


def told(drawing: SectionDrawing) -> str:
    """The whole section in words."""
    lines = plural("{count} line crossed", "{count} lines crossed", len(drawing.lines))
    parts = [cut_words(drawing.cut), lines, sun_words(drawing)]
    parts += [_("along Line {number}").format(number=row.line.id) for row in drawing.along]
    parts += _shades_told(drawing)
    words = _("Lines {left} and {right}: pitch {m} m, gap {gap} m")
    parts += [
        words.format(
            left=pitch.left,
            right=pitch.right,
            m=number(pitch.square_m, digits=2),
            gap=number(pitch.gap_m, digits=2),
        )
        for pitch in drawing.pitches[:_MOST_TOLD]
    ]
    parts += [
        one.name if one.off_m == 0.0 else beside_words(one.name, one.off_m)
        for one in drawing.ground.obstacles[:_MOST_TOLD]
    ]
    return "; ".join(parts)


def _shades_told(drawing: SectionDrawing) -> list[str]:
    words = _("Line {by} shades Line {on} by {share} %")
    parts = [
        words.format(by=shade.by, on=shade.on, share=percent(shade.share))
        for shade in drawing.shades[:_MOST_TOLD]
    ]
    if drawing.lines and not drawing.shades and not no_light(drawing):
        parts.append(_("no line shades another"))
    words = _("obstacles shade Line {number} by {share} %")
    return parts + [
        words.format(number=one.line.id, share=percent(one.light.by_obstacles))
        for one in drawing.lines
        if one.light.by_obstacles > _LEAST
    ]
