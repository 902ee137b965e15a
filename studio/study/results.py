"""Stage: what each line brings, put together from the worked stages."""

from __future__ import annotations

from operator import is_
from typing import TYPE_CHECKING

from studio.study.assessment import LineResult
from studio.study.heat import line_pipe_m
from studio.study.lay import lay_of

if TYPE_CHECKING:
    from studio.study.assess import Worked

_Held = tuple[tuple[object, ...], tuple[float, ...], LineResult]


class LineResults:
    """The lines' results; that of a line that nothing touched is the very object it was, so that nobody need compare it."""

    def __init__(self) -> None:
        self._held: dict[int, _Held] = {}

    def of(self, work: Worked, through: float) -> tuple[LineResult, ...]:
        """What each line brings: outlet heat is its own flow's enthalpy less its share of the header's loss, the share
        ``through`` of it that comes to the outlet."""
        unlike = {line.make: line for line in work.placed}
        pipes = {make: line_pipe_m(work.design, line) for make, line in unlike.items()}
        heats = (work.heat.delivered_kwh * through).tolist()
        found: dict[int, _Held] = {}
        for place, line in enumerate(work.placed):
            around = work.around[place]
            # where a line stands is another object with another line, mirror or ground
            reads = (
                line, work.lights[place], work.winter[place], work.winter_with_all[place],
                around.hidden, around.obstacles, work.design.marks,
            )  # fmt: skip
            sums = heats[place], pipes[line.make]
            held = self._held.get(line.id)
            if held is None or held[1] != sums or not all(map(is_, held[0], reads)):
                held = reads, sums, _result(work, place, *sums)
            found[line.id] = held
        self._held = found
        return tuple(result for _reads, _sums, result in found.values())


def _result(work: Worked, place: int, heat_kwh: float, pipe_m: float) -> LineResult:
    line, light, winter = work.placed[place], work.lights[place], work.winter[place]
    lay = lay_of(work.design, line)
    absorbed, shade, horizon, obstacles = light.shade_shares
    return LineResult(
        id=line.id,
        mirrors=line.mirrors,
        annual_heat_kwh=heat_kwh,
        absorbed_kwh=absorbed,
        shade_loss_year=shade,
        winter_mean=winter.mean,
        winter_largest=winter.largest,
        winter_largest_hour=winter.largest_hour,
        winter_largest_mirror=winter.largest_mirror,
        winter_with_gear=winter.with_gear,
        winter_by=winter.by,
        passes=winter.mean <= work.design.marks.winter_limit,
        pipe_m=pipe_m,
        horizon_loss_year=horizon,
        obstacle_loss_year=obstacles,
        obstacles_by=work.around[place].alone,
        winter_with_all=work.winter_with_all[place],
        grade_percent=lay.grade_percent,
        post_shortest_m=lay.post_ends_m[0],
        post_longest_m=lay.post_ends_m[1],
        cut_m3=lay.earth.cut_m3,
        fill_m3=lay.earth.fill_m3,
    )
