"""What the drives of a field have to move, and what every restriction of their motion costs, for the terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from studio.engine.hazard.cautions import Caution
from studio.papers.terminal import broken, table_of, terminal
from studio.study.one_drive import MOST_MIRRORS, TWIST_LOSS, OneDrive
from studio.study.restrictions import Restriction
from studio.text import _, number, percent

if TYPE_CHECKING:
    from collections.abc import Sequence


def print_drives(
    drives: Sequence[OneDrive],
    restrictions: Sequence[Restriction],
    cautions: Sequence[Caution] = (),
) -> None:
    """Two tables and the cautions; the restrictions are those of the first line."""
    console = terminal()
    table = table_of(
        _("What one drive moves, hot"), _("line"), _("mirrors"), "kg", _("slide, N"), _("roll, N m"), _("sag, mm"),
        _("twist, °"), _("costs, %"), _("carries"),
    )  # fmt: skip
    for one in drives:
        its = one.statics
        most = (
            _("over {most}").format(most=MOST_MIRRORS - 1)
            if one.most_mirrors >= MOST_MIRRORS
            else str(one.most_mirrors)
        )
        table.add_row(
            str(its.line_id), str(its.mirrors), number(its.mass_kg, digits=0), number(its.force_n, digits=0),
            number(its.torque_nm), number(1000 * its.sag.deepest_m, digits=1), number(its.off_roll_deg, digits=2),
            percent(one.twist_loss, digits=2), most,
        )  # fmt: skip
    console.print(table)
    told = _(
        "Slide and roll at the worst roll, by friction, weight and grade; twist: receivers rolled off their spots at most, "
        "what that costs of the year's light, and how many mirrors one drive carries before it costs {share} %."
    ).format(share=percent(TWIST_LOSS, digits=0))
    console.print(broken(told))
    first = drives[0]
    off = _(
        "Line {number}, receivers off their spots: the hot pipe's growth costs {growth} %, the mirrors' aim {aim} %."
    )
    console.print(
        broken(
            off.format(
                number=first.statics.line_id, growth=percent(first.growth_loss, digits=2),
                aim=percent(first.aim_loss, digits=2),
            )
        )
    )  # fmt: skip
    table = table_of(_("What holding it back costs"), _("against following freely"), _("% of the light"))
    for row in restrictions:
        table.add_row(row.label, percent(row.loss, digits=1))
    console.print(table)
    for caution in cautions:
        console.print("\n" + broken(f"{caution.title}: {caution.sentence}"))
