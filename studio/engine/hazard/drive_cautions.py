"""The cautions that stand beside a drive table: what moves, what it stores, and what the light does when it stops."""

from studio.engine.hazard.cautions import Caution
from studio.text import _


def drive_cautions() -> tuple[Caution, ...]:
    """All of them in the language that is spoken now, most sudden first."""
    return (
        Caution(
            "stop",
            _("Concentrated light when the drive stops"),
            _(
                "The sun goes on when the drive does not: within minutes the spot leaves the window and burns the "
                "receiver's edge, pipe, insulation, frames or whoever stands there. A stopped drive must bring the "
                "receivers to rest, or the mirrors must be covered, without mains power."
            ),
        ),
        Caution(
            "hand",
            _("Motions set by hand"),
            _(
                "What is set by hand stays where it is at night, at a stop and in a defocus; only the other motion can "
                "take the spot away. Set it with the mirrors covered or before sunrise, never with the spot on."
            ),
        ),
        Caution(
            "pinching",
            _("Pinching"),
            _(
                "Pipe, rollers and frames move without warning and with the force of the whole line: guard what can be "
                "reached, fit a stop within reach, and lock the drive out before touching anything."
            ),
        ),
        Caution(
            "stored",
            _("Stored energy"),
            _(
                "Receivers and pipe hang off the roll axis and a long pipe is wound up like a spring: with brake or "
                "drive off they swing and slide by themselves. Prop or balance them before the drive is loosened."
            ),
        ),
        Caution(
            "oil",
            _("Hot oil"),
            _(
                "The moving pipe carries oil near 300 °C through flexible ends: a drive that runs past its stroke "
                "tears them. Hard end stops and end switches come before any table of positions."
            ),
        ),
        Caution(
            "codes",
            _("Local codes and licensed practice"),
            _(
                "This table says where the receivers belong, not that a machine is safe. Guards, stops, brakes, electrics "
                "and pressure parts follow local codes and are checked by licensed people before anything moves."
            ),
        ),
    )
