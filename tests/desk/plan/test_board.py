"""Drawing on the board: lettering has a halo of its ground all round, pens are the caller's own."""

import numpy as np
from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QColor, QImage, QPainter

from studio.desk.plan.board import Board
from studio.desk.plan.camera import Camera
from studio.desk.theme import Theme

GROUND = QColor("#00c000")


def painted(theme: Theme, text: str, ratio: float) -> np.ndarray:
    """Red, green, blue (h, w, 3) of a text on a green ground."""
    image = QImage(int(240 * ratio), int(60 * ratio), QImage.Format.Format_RGB32)
    image.setDevicePixelRatio(ratio)
    image.fill(GROUND)
    painter = QPainter(image)
    board = Board(painter, Camera(width=240, height=60), theme)
    board.text(QPointF(20, 40), text, size=12, role="ink")
    painter.end()
    flat = np.frombuffer(image.constBits(), np.uint8).reshape(image.height(), image.bytesPerLine())
    pixels = flat[:, : 4 * image.width()].reshape(image.height(), image.width(), 4)
    return pixels[..., 2::-1].astype(int)


def test_a_text_stands_clear_of_its_ground(theme: Theme) -> None:
    for ratio in (1.0, 2.0):
        pixels = painted(theme, "pitch 2.65 m, i.e. 8°", ratio)
        dark = pixels.max(axis=2) < 100
        assert dark.sum() > 50
        bare = np.abs(pixels - np.array([GROUND.red(), GROUND.green(), GROUND.blue()])).max(axis=2) < 40
        reach = int(1.5 * ratio)
        near = np.zeros_like(dark)
        for y in range(-reach, reach + 1):
            for x in range(-reach, reach + 1):
                if np.hypot(x, y) <= 1.5 * ratio:
                    near |= np.roll(dark, (y, x), (0, 1))
        assert not (near & bare).any(), "no ground shows within a pixel and a half of a letter"
        assert bare.sum() > 0.5 * bare.size, "and the halo goes no farther than it must"


def test_a_pen_may_be_changed_by_whoever_asked_for_it(theme: Theme) -> None:
    painter = QPainter(image := QImage(10, 10, QImage.Format.Format_RGB32))
    board = Board(painter, Camera(), theme)
    first = board.pen("ink", 2.0)
    first.setColor(QColor("red"))
    first.setCapStyle(Qt.PenCapStyle.SquareCap)
    again = board.pen("ink", 2.0)
    assert again.color() == theme.color("ink")
    assert again.capStyle() is Qt.PenCapStyle.RoundCap
    light = again.color()
    theme.set_wish("dark")
    assert board.pen("ink", 2.0).color() != light
    painter.end()
    assert not image.isNull()
