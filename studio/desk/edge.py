"""The hair between the panels of the window."""

from PySide6.QtWidgets import QWidget

from studio.desk.theme import Theme


class Edge(QWidget):
    """A hair between panels."""

    def __init__(self, theme: Theme) -> None:
        super().__init__()
        self.setFixedWidth(1)
        self.setAutoFillBackground(True)
        self._theme = theme
        theme.changed.connect(self._color)
        self._color()

    def _color(self) -> None:
        palette = self.palette()
        palette.setColor(self.backgroundRole(), self._theme.color("hair"))
        self.setPalette(palette)
