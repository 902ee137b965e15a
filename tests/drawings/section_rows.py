"""Long rows that a section is looked at with; invented."""

from studio.design.design import Design
from studio.design.field import Line, Store
from studio.design.site import Site
from studio.drawings.section import CrossedLine, SectionDrawing, section_drawing
from studio.drawings.section_cut import Cut

SITE = Site(latitude_deg=36.0, longitude_deg=-5.0, altitude_m=300.0)
WIDTH = Design().mirror.width_m
PITCH = 2.4


def rows(pitch: float, *, count: int = 121, lines: int = 3, spacing: float = WIDTH) -> Design:
    """Long rows without gaps between mirrors, invented; the middle mirror of each stands at x = 0."""
    start = -spacing * (count // 2)
    return Design(
        site=SITE,
        lines=tuple(
            Line(id=n + 1, x_m=start, y_m=pitch * n, spacing_m=spacing, count=count) for n in range(lines)
        ),
        store=Store(x_m=500.0, y_m=500.0),
    )


def across(lines: int = 3, pitch: float = PITCH) -> Cut:
    return Cut((0.0, -6.0), (0.0, pitch * lines + 6.0))


def at(design: Design, cut: Cut, *, day: int = 355, clock_h: float = 10.5) -> SectionDrawing:
    return section_drawing(design, cut, day_of_year=day, clock_h=clock_h)


def line(drawing: SectionDrawing, line_id: int) -> CrossedLine:
    found = drawing.crossed(line_id)
    assert found is not None
    return found
