"""From metres on the land to pixels on the screen, y up, and back. One scale for both axes."""

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from studio.design.site import Point
from studio.text import NARROW_SPACE, number

Array = NDArray[np.float64]
MOST_PX_PER_M = 2000.0
LEAST_PX_PER_M = 0.05
_BORDER = 0.12


@dataclass(frozen=True)
class Camera:
    """What the canvas shows: ``x_m``, ``y_m`` stand in the middle of ``width`` by ``height`` logical pixels."""

    x_m: float = 0.0
    y_m: float = 0.0
    px_per_m: float = 10.0
    width: float = 800.0
    height: float = 600.0

    def to_px(self, points: Any) -> Array:
        """Points (..., 2 or 3) in metres as pixels (..., 2)."""
        return np.asarray(np.asarray(points, dtype=float)[..., :2] * self._scale + self._offset)

    @cached_property
    def _scale(self) -> Array:
        return np.array([self.px_per_m, -self.px_per_m])

    @cached_property
    def _offset(self) -> Array:
        return np.array(
            [self.width / 2 - self.x_m * self.px_per_m, self.height / 2 + self.y_m * self.px_per_m]
        )

    def pixel(self, x_m: float, y_m: float) -> tuple[float, float]:
        """One point in metres as a pixel."""
        scale = self.px_per_m
        return self.width / 2 + (x_m - self.x_m) * scale, self.height / 2 - (y_m - self.y_m) * scale

    def to_m(self, x: float, y: float) -> Point:
        """A pixel as a point in metres."""
        return (
            self.x_m + (x - self.width / 2) / self.px_per_m,
            self.y_m - (y - self.height / 2) / self.px_per_m,
        )

    def panned(self, dx: float, dy: float) -> "Camera":
        """The land moved by pixels."""
        return replace(self, x_m=self.x_m - dx / self.px_per_m, y_m=self.y_m + dy / self.px_per_m)

    def brought(self, point: Point) -> "Camera":
        """A place in sight: as it is where it stands well within, else with the place in the middle."""
        x0, y0, x1, y1 = self.bounds
        room = _BORDER * (x1 - x0)
        if x0 + room < point[0] < x1 - room and y0 + room < point[1] < y1 - room:
            return self
        return replace(self, x_m=point[0], y_m=point[1])

    def zoomed(self, factor: float, x: float, y: float) -> "Camera":
        """Nearer by a factor; what lies under the pixel stays under it."""
        scale = min(MOST_PX_PER_M, max(LEAST_PX_PER_M, self.px_per_m * factor))
        under = self.to_m(x, y)
        near = replace(self, px_per_m=scale)
        now = near.to_m(x, y)
        return replace(near, x_m=near.x_m + under[0] - now[0], y_m=near.y_m + under[1] - now[1])

    def fitted(
        self,
        bounds: tuple[float, float, float, float],
        *,
        sides: float = 56.0,
        top: float = 64.0,
        foot: float = 64.0,
    ) -> "Camera":
        """All of ``bounds`` (x0, y0, x1, y1) in sight, with room in pixels left free around it."""
        x0, y0, x1, y1 = bounds
        wide = max(self.width - 2 * sides, 40.0) / max(x1 - x0, 1.0)
        high = max(self.height - top - foot, 40.0) / max(y1 - y0, 1.0)
        scale = min(MOST_PX_PER_M, max(LEAST_PX_PER_M, min(wide, high)))
        lower = (foot - top) / 2 / scale
        return replace(self, x_m=(x0 + x1) / 2, y_m=(y0 + y1) / 2 - lower, px_per_m=scale)

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """The land in sight: x0, y0, x1, y1 in metres."""
        x0, y1 = self.to_m(0.0, 0.0)
        x1, y0 = self.to_m(self.width, self.height)
        return x0, y0, x1, y1


def scale_words(camera: Camera, dots_per_inch: int) -> str:
    """The scale of what is in sight on a screen of so many dots per inch: '1 : 170'."""
    ratio = dots_per_inch / 0.0254 / camera.px_per_m
    text = number(ratio, figures=2, digits=0 if ratio >= 10 else 1)
    if ratio >= 100:
        magnitude = 10 ** (len(str(int(ratio))) - 2)
        text = number(round(ratio / magnitude) * magnitude, digits=0)
    return f"1{NARROW_SPACE}:{NARROW_SPACE}{text}"
