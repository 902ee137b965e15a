"""A line, receiver by receiver: the exact march along the pipe that the fast form (`fast`) is held against."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from studio.engine.heat import flow, pipe
from studio.engine.heat.oil import OilTable
from studio.engine.heat.pipe import PipeRun
from studio.engine.heat.receiver import ReceiverBuild
from studio.engine.heat.solve import Numbers
from studio.errors import ComputationError
from studio.text import _

_OUTLET_TOLERANCE_K = 1e-4
_MOST_ROUNDS = 60
_PLENTY = 4.0
_PIPE_ROUNDS = 3
_RECEIVER_ROUNDS = 4


@dataclass(frozen=True)
class LineMarch:
    """What the oil meets along a line of n receivers; leading axes are those of the absorbed light (hours).

    ``absorber_c`` and ``receiver_loss_w`` (..., n) by receiver, ``pipe_loss_w`` (..., n + 1) by piece of pipe;
    ``outlet_c`` and ``flow_kg_s`` (...). ``heat_w`` (...): the oil's enthalpy flow at the outlet less that at the inlet.
    """

    flow_kg_s: Numbers
    absorber_c: Numbers
    receiver_loss_w: Numbers
    pipe_loss_w: Numbers
    outlet_c: Numbers
    heat_w: Numbers


def march_line(
    *,
    absorbed_w: Numbers,
    flow_kg_s: ArrayLike,
    inlet_c: float,
    air_c: ArrayLike,
    wind_m_s: ArrayLike,
    oil: OilTable,
    receiver: ReceiverBuild,
    run: PipeRun,
    pieces_m: Numbers,
) -> LineMarch:
    """March along a line: a piece of insulated pipe, a receiver, a piece, and so on, and a last piece.

    ``absorbed_w`` (..., n) is each receiver's absorbed light in W; flow, air and wind broadcast with its leading axes;
    ``pieces_m`` (n + 1) the lengths of pipe before, between and behind the receivers. Each piece and receiver sees the oil
    at the mean of its two ends, found by repeating; its heat goes through the oil's enthalpy.
    """
    shape, count = absorbed_w.shape[:-1], absorbed_w.shape[-1]
    kg_s, air, wind = (
        np.broadcast_to(np.asarray(x, dtype=np.float64), shape) for x in (flow_kg_s, air_c, wind_m_s)
    )
    absorber_c, receiver_w, pipe_w = (
        np.zeros(absorbed_w.shape),
        np.zeros(absorbed_w.shape),
        np.zeros((*shape, count + 1)),
    )
    entering = np.full(shape, float(inlet_c))
    start = enthalpy = oil.enthalpy_j_kg(entering)
    for place in range(count + 1):
        mean = entering
        for _round in range(_PIPE_ROUNDS):
            film = flow.inside_film_w_m2k(oil, mean, kg_s, bore_m=run.size.bore_m)
            lost = pieces_m[place] * pipe.insulated_loss_w_m(mean, air, wind, run=run, inside_w_m2k=film)
            leaving = oil.temperature_at(enthalpy - lost / kg_s)
            mean = 0.5 * (entering + leaving)
        pipe_w[..., place] = lost
        enthalpy = enthalpy - lost / kg_s
        entering = mean = leaving
        if place == count:
            break
        light = absorbed_w[..., place]
        for _round in range(_RECEIVER_ROUNDS):
            absorber = receiver.absorber_c(light, mean, air, wind, receiver.film_w_m2k(oil, mean, kg_s))
            loss = receiver.loss_w(absorber, air, wind)
            leaving = oil.temperature_at(enthalpy + (light - loss) / kg_s)
            mean = 0.5 * (entering + leaving)
        absorber_c[..., place], receiver_w[..., place] = absorber, loss
        enthalpy = enthalpy + (light - loss) / kg_s
        entering = leaving
    return LineMarch(kg_s, absorber_c, receiver_w, pipe_w, entering, kg_s * (enthalpy - start))


def march_to_outlet(
    *,
    absorbed_w: Numbers,
    inlet_c: float,
    outlet_c: float,
    air_c: ArrayLike,
    wind_m_s: ArrayLike,
    oil: OilTable,
    receiver: ReceiverBuild,
    run: PipeRun,
    pieces_m: Numbers,
) -> LineMarch:
    """The march with the flow at which the oil leaves at ``outlet_c``; arguments as in ``march_line``.

    The net heat hardly depends on the flow, so that flow times reached over wanted rise of enthalpy soon stands
    still. ``ComputationError`` when it does not: then the line cannot hold the outlet with that light.
    """
    wanted = float(oil.enthalpy_j_kg(outlet_c) - oil.enthalpy_j_kg(inlet_c))
    # so much at first that all of the line lies near the inlet's temperature
    kg_s = _PLENTY * absorbed_w.sum(axis=-1) / wanted
    for _round in range(_MOST_ROUNDS):
        march = march_line(
            absorbed_w=absorbed_w,
            flow_kg_s=kg_s,
            inlet_c=inlet_c,
            air_c=air_c,
            wind_m_s=wind_m_s,
            oil=oil,
            receiver=receiver,
            run=run,
            pieces_m=pieces_m,
        )
        if bool(np.all(np.abs(march.outlet_c - outlet_c) < _OUTLET_TOLERANCE_K)):
            return march
        if not bool(np.all(march.heat_w > 0.0)):
            break
        kg_s = np.clip(march.heat_w / wanted, 0.5 * kg_s, 5.0 * kg_s)
    raise ComputationError(
        _(
            "A line with that light cannot hold its outlet at {outlet:g} °C: its losses are too near to it."
        ).format(outlet=outlet_c)
    )
