"""Heat of a field kept apart by line, so that each line's share can be looked at."""

from dataclasses import dataclass

from studio.engine.heat.solve import Numbers
from studio.engine.heat.year import Conditions, HeaderHeat, LineHeat, LinesSum, field_year, lines_heat


@dataclass(frozen=True)
class HeatByLine:
    """Heat of H hours and L lines in W (mean over the hour), and its sums over all hours in kWh.

    (H, L): ``absorbed_w``, ``receiver_loss_w``, ``line_pipe_loss_w``, ``idle_loss_w``, ``flow_kg_s``; (H,): ``header_loss_w``,
    ``outlet_w``; ``delivering_h`` (L,).
    """

    absorbed_w: Numbers
    receiver_loss_w: Numbers
    line_pipe_loss_w: Numbers
    header_loss_w: Numbers
    idle_loss_w: Numbers
    outlet_w: Numbers
    flow_kg_s: Numbers
    delivering_h: Numbers
    warm_up_kwh: float
    step_h: float

    def kwh(self, power_w: Numbers) -> float:
        """A power summed over all hours and lines."""
        return float(power_w.sum()) * self.step_h / 1000.0

    @property
    def absorbed_kwh(self) -> float:
        return self.kwh(self.absorbed_w)

    @property
    def receiver_loss_kwh(self) -> float:
        return self.kwh(self.receiver_loss_w)

    @property
    def line_pipe_loss_kwh(self) -> float:
        return self.kwh(self.line_pipe_loss_w)

    @property
    def header_loss_kwh(self) -> float:
        return self.kwh(self.header_loss_w)

    @property
    def idle_loss_kwh(self) -> float:
        return self.kwh(self.idle_loss_w)

    @property
    def outlet_kwh(self) -> float:
        return self.kwh(self.outlet_w)


def heat_by_line(
    absorbed_w: Numbers, lines: tuple[LineHeat, ...], header: HeaderHeat, conditions: Conditions
) -> HeatByLine:
    """The lines' heat (``absorbed_w`` (H, L)) and what the headers leave of it, the way the program takes it but for the sum."""
    each = lines_heat(absorbed_w, lines, conditions, most_absorbed_w=float(absorbed_w.max(initial=0.0)))
    field = field_year(
        LinesSum(
            absorbed_w=each.absorbed_w.sum(axis=1),
            receiver_loss_w=each.receiver_loss_w.sum(axis=1),
            line_pipe_loss_w=each.line_pipe_loss_w.sum(axis=1),
            idle_loss_w=each.idle_loss_w.sum(axis=1),
            flow_kg_s=each.flow_kg_s.sum(axis=1),
            delivers=each.delivers.max(axis=1, initial=0.0),
            stored_w=float(each.stored_w.sum()),
        ),
        header,
        conditions,
    )
    return HeatByLine(
        absorbed_w=each.absorbed_w,
        receiver_loss_w=each.receiver_loss_w,
        line_pipe_loss_w=each.line_pipe_loss_w,
        header_loss_w=field.header_loss_w,
        idle_loss_w=each.idle_loss_w + field.turned_back[:, None] * conditions.rise_j_kg * each.flow_kg_s,
        outlet_w=field.outlet_w,
        flow_kg_s=each.flow_kg_s,
        delivering_h=each.delivers.sum(axis=0) * conditions.step_h,
        warm_up_kwh=field.warm_up_kwh,
        step_h=conditions.step_h,
    )
