"""What the Mirror view lets be worked out apart: its day, its error budget, its spot by rays, curves of its heat."""

from dataclasses import replace

from studio.design.design import Design
from studio.engine.sky.clear import clear_dni, daily_turbidity, monthly_turbidity
from studio.engine.sky.sun import clock_suns
from studio.study.budget import Sum, year_sum
from studio.study.curves import Curve, curve
from studio.study.errands import Bench
from studio.study.mirror_day import MirrorDay, mirror_day, mirror_line
from studio.study.sky import sky_of
from studio.study.spot import SpotAt, spot_at

Ids = tuple[int, ...]


def day_errand(bench: Bench, design: Design, ids: Ids, day: int) -> MirrorDay:
    """The mirror through four days; ``ids`` are the selected lines."""
    return mirror_day(design, mirror_line(design, ids), day=day, cache=bench.cache)


def year_errand(bench: Bench, design: Design, ids: Ids, switch: str) -> Sum:
    """The mirror's year with one error switched off, or with all on for ""."""
    sky = sky_of(design.site, bench.document.asset, bench.cache)
    return year_sum(design, mirror_line(design, ids), sky, switch=switch, watch=bench.go_on)


def spot_errand(
    bench: Bench, design: Design, ids: Ids, day: int, clock_h: float, pose: tuple[float, float], rays: int
) -> SpotAt | None:
    """The spot of a moment under a clear sky, in a pose (slide in m, roll in degrees); None while there is no sun on it."""
    site = design.site
    place = {
        "latitude_deg": site.latitude_deg,
        "longitude_deg": site.longitude_deg,
        "altitude_m": site.altitude_m,
        "utc_offset_h": site.utc_offset_h,
    }
    track = clock_suns([day], [clock_h], **place)
    line = mirror_line(design, ids)
    if track.elevation_deg[0] <= 0.0 or float(line.axes[2] @ track.direction[0]) <= 1e-3:
        return None
    turbidity = bench.cache.get(
        ("turbidity", site.latitude_deg, site.longitude_deg),
        lambda: monthly_turbidity(site.latitude_deg, site.longitude_deg),
    )
    dni = clear_dni(
        track.elevation_deg,
        [day],
        altitude_m=site.altitude_m,
        turbidity=daily_turbidity(turbidity)[[day - 1]],
    )
    if float(dni[0]) < 1.0:
        return None
    return spot_at(
        design, line, track.direction[0], slide_m=pose[0], roll_deg=pose[1], dni_w_m2=float(dni[0]), rays=rays
    )


def curve_errand(bench: Bench, design: Design, path: str, values: tuple[float, ...]) -> Curve:
    """The field's yearly heat over the values of one of its fields."""
    document = replace(bench.document, design=design)

    def watch(stage: str, share: float) -> bool:
        return not bench.overtaken()

    return curve(document, path, values, assessor=bench.assessor, watch=watch)
