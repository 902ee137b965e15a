"""The cautions that stand beside numbers on paper and on screen, each said once.

They set no limit and call nothing safe; limits with their sources stand where they are computed. A quarter is what a
heavy mineral oil grows from 20 to 300 degC (897 to 715 kg/m3). That oil in porous insulation can take fire by itself,
and that water in a hot circuit throws the oil out, is process-heating practice.
"""

from dataclasses import dataclass

from studio.text import _


@dataclass(frozen=True)
class Caution:
    """What can hurt, in a word or two, and the sentence that says how and what to do."""

    key: str
    title: str
    sentence: str


def cautions() -> tuple[Caution, ...]:
    """All cautions in the language that is spoken now, most sudden first."""
    return (
        Caution(
            "light",
            _("Concentrated light"),
            _(
                "A film mirror burns skin and lights dry grass, straw or clothes within seconds, at its focus and "
                "wherever the focus wanders: keep mirrors covered or turned away until the receiver is in place, and "
                "clear the ground."
            ),
        ),
        Caution(
            "eyes",
            _("Eyes"),
            _(
                "Never look into a mirror from the side of its focus, not even for a moment; eye protection and "
                "training are for a competent person to set."
            ),
        ),
        Caution(
            "oil",
            _("Hot oil"),
            _(
                "Oil near 300 °C burns on touch, can take fire where it leaks into insulation, and throws itself out "
                "where it meets water: no water in the circuit, no bare flange within reach, a tray and an "
                "extinguisher for oil fires at hand."
            ),
        ),
        Caution(
            "pressure",
            _("Pressure"),
            _(
                "Oil grows by about a quarter on heating and bursts what is shut: no part of the circuit may be closed "
                "off without relief."
            ),
        ),
        Caution(
            "sprung",
            _("Sprung rods"),
            _(
                "A rod sprung to its curve stores that bending and whips straight when a clip lets go: clamp both ends "
                "before it is let go, keep the face out of its way, and wear eye protection, at taking apart too."
            ),
        ),
        Caution(
            "wind",
            _("Wind"),
            _(
                "Mirrors are sails: stands and footings in this list follow from geometry alone and have not been "
                "checked for wind, snow or soil."
            ),
        ),
        Caution(
            "lifting",
            _("Lifting"),
            _(
                "Pipes, bed material and oil drums are heavy: plan the lifts, and keep people out from under what hangs."
            ),
        ),
        Caution(
            "codes",
            _("Local codes and licensed practice"),
            _(
                "This list proves no strength. Structures, pressure systems, hot oil circuits and electrical work "
                "follow local codes and are checked by licensed people before anything is bought or built."
            ),
        ),
    )
