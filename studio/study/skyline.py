"""Stage: when the skyline hides the sun, at the hours of the year, the clear grid and the winter check."""

from dataclasses import dataclass

from studio.design.design import Design
from studio.engine.sky.horizon import hidden_share, is_hidden
from studio.study.assessment import Array
from studio.study.cache import Cache
from studio.study.sky import Sky
from studio.study.winter import WinterSuns


@dataclass(frozen=True)
class HiddenSun:
    """Shares of time in which the skyline hides the sun: of the sunlit hours (T,), of the moments of the clear grid (U,),

    of the moments of the winter check (S,)."""

    hours: Array
    grid: Array
    winter: Array


def hidden_sun_of(design: Design, sky: Sky, winter: WinterSuns, cache: Cache) -> HiddenSun | None:
    """When the skyline hides the sun; None where the horizon is level."""
    skyline, latitude = design.horizon.skyline, design.site.latitude_deg
    if not skyline:
        return None

    def look() -> HiddenSun:
        track, hour = sky.hours.track, sky.hour
        return HiddenSun(
            hours=hidden_share(
                skyline,
                track.declination_deg[hour],
                track.hour_angle_deg[hour],
                sky.hours.sunlit_h[hour],
                latitude_deg=latitude,
            ),
            grid=is_hidden(skyline, sky.grid.suns).astype(float),
            winter=is_hidden(skyline, winter.suns).astype(float),
        )

    return cache.get(("hidden sun", sky.key, winter.key, skyline), look)
