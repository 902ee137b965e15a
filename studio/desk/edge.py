"""The hair between panels and under heads."""

from PySide6.QtWidgets import QWidget

from studio.desk.theme import Theme


class Edge(QWidget):
    """A hair between panels, or ``lying`` between what stands over each other."""

    def __init__(self, theme: Theme, *, lying: bool = False) -> None:
        super().__init__()
        if lying:
            self.setFixedHeight(1)
        else:
            self.setFixedWidth(1)
        self.setAutoFillBackground(True)
        self._theme = theme
        theme.changed.connect(self._color)
        self._color()

    def _color(self) -> None:
        palette = self.palette()
        palette.setColor(self.backgroundRole(), self._theme.color("hair"))
        self.setPalette(palette)
