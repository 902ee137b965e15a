"""What can hurt, where it belongs: all cautions in a panel, one of them beside a number."""

from PySide6.QtWidgets import QWidget

from studio.desk.overlay import Overlay, told
from studio.desk.theme import Theme
from studio.engine.hazard.cautions import cautions
from studio.text import _


class CautionsPanel(Overlay):
    """All cautions, and that local codes and licensed people decide."""

    def __init__(self, parent: QWidget, theme: Theme) -> None:
        super().__init__(parent, theme)

    def open_all(self) -> None:
        """Show them."""
        self.empty()
        for caution in cautions():
            self.body.addSpacing(8)
            self.body.addWidget(told(caution.title, self.theme, weight=600))
            self.body.addWidget(told(caution.sentence, self.theme))
        self.body.addStretch(1)
        self.show_titled(_("Before anything is built"))


def caution_for(figure: str) -> tuple[str, ...]:
    """The sentences that stand beside a figure's explanation."""
    keys = _BESIDE.get(figure, ())
    return tuple(caution.sentence for caution in cautions() if caution.key in keys)


_BESIDE: dict[str, tuple[str, ...]] = {
    "stagnation_c": ("light", "oil"),
    "stagnation_peak_c": ("light", "oil"),
    "peak_flux_kw_m2": ("light", "eyes"),
    "oil_litres": ("oil", "pressure"),
    "rod_bars": ("wind",),
    "rod_length_m": ("wind",),
    "capital_cost": ("codes",),
}
