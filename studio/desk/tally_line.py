"""What the tally shows of one selected line."""

from studio.study.assessment import LineResult
from studio.text import _, number, percent

LEVEL_ROWS = 4
"""Rows of a line that lies over a plane; over uneven ground its posts and the earth of grading follow."""
_LEAST_GRADE_PERCENT = 0.05


def rows_of_line(line: LineResult) -> tuple[tuple[str, str, str, str], ...]:
    """Label, value, unit and what stands aside, row by row."""
    caster = _("by Line {id}").format(id=line.winter_by[0][0]) if line.winter_by else ""
    hour, minute = divmod(round(60 * line.winter_largest_hour), 60)
    when = _("{hour}:{minute:02d} solar").format(hour=hour, minute=minute)
    largest = _("Largest, mirror {number}").format(number=line.winter_largest_mirror)
    pipe = _("Pipe")
    if abs(line.grade_percent) >= _LEAST_GRADE_PERCENT:
        pipe = _("Pipe, grade {grade} %").format(grade=number(line.grade_percent, digits=1))
    least, most = (number(post, digits=2) for post in (line.post_shortest_m, line.post_longest_m))
    posts = _("{least} to {most}").format(least=least, most=most)
    cut, fill = (number(earth, digits=0) for earth in (line.cut_m3, line.fill_m3))
    earth = _("{cut} and {fill}").format(cut=cut, fill=fill)
    return (
        (_("Outlet heat"), number(line.annual_heat_kwh / 1000), "MWh", ""),
        (_("Winter shade"), percent(line.winter_mean), "%", caster),
        (largest, percent(line.winter_largest), "%", when if line.winter_largest > 0 else ""),
        (pipe, number(line.pipe_m), "m", ""),
        (_("Posts"), posts, "m", ""),
        (_("Or graded, cut and fill"), earth, "m3", ""),
    )
