"""A field's heat from that of one much like it, while a hand drags."""

from dataclasses import replace

import numpy as np

from studio.engine.heat.year import Conditions, FieldYear, LinesSum


def carried_year(lines: LinesSum, before: FieldYear, conditions: Conditions) -> FieldYear:
    """The field's heat near that of ``before``: headers let through the same share of every hour's heat, lose as much of it
    where there is so much, and take as much to warm up. Every hour's sum stays closed."""
    gathered = conditions.rise_j_kg * lines.flow_kg_s
    turned = before.turned_back * gathered
    loss = np.minimum(before.header_loss_w, gathered - turned)
    return replace(
        before,
        absorbed_w=lines.absorbed_w,
        receiver_loss_w=lines.receiver_loss_w,
        line_pipe_loss_w=lines.line_pipe_loss_w,
        header_loss_w=loss,
        idle_loss_w=lines.idle_loss_w + turned,
        outlet_w=gathered - turned - loss,
        flow_kg_s=lines.flow_kg_s,
    )
