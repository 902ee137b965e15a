"""A mirror's yearly table, poses searched: the cone way against the ray way at equal accuracy, in one run.

The ray way traces as many rays a sun as an intercept of one half needs for a standard error of 0.002 (62 500). It is not
made slower than it need be: it searches the pose with a twelfth of them, moved as rays, and weighs only the pose it found
with all.
"""

from dataclasses import replace
from time import process_time

import numpy as np
import pytest

from studio.engine.mirror.form import Floats
from studio.engine.mirror.rays import RayHits, ray_hits
from studio.engine.motion.pose import LineMotion, window_frames
from studio.engine.motion.table import OpticsTable
from studio.files.examples import example_path
from studio.files.site import open_site
from studio.study.assess import Assessor
from studio.study.cache import Cache
from studio.study.optics import optics_of, table_covering
from studio.study.place import place_lines
from studio.study.sky import sky_of

RAYS, FEW = 62_500, 5_000
ROUNDS = ((1.0, 11), (0.3, 7), (0.1, 5))
SUNS = 12


def caught(hits: RayHits, table: OpticsTable, slide_m: Floats, roll_deg: Floats) -> Floats:
    """Share of the rays that windows in each of the poses (K,) take in."""
    frames = window_frames(table.motion, slide_m, roll_deg)
    total = hits.weight.sum()
    shares = np.empty(len(slide_m))
    for place in range(len(slide_m)):
        forward, centre = frames.forward[place], frames.centre[place]
        against = hits.reflected @ forward
        off = hits.start - centre
        landed = off - ((off @ forward) / against)[:, None] * hits.reflected
        u, v = landed @ frames.along, landed @ np.cross(forward, frames.along)
        inside = (np.abs(u) < table.window.width_m / 2) & (np.abs(v) < table.window.height_m / 2)
        inside &= against > np.cos(np.radians(table.window.acceptance_deg))
        shares[place] = hits.weight[inside].sum() / total
    return shares


def by_rays(
    table: OpticsTable, sun: Floats, start: tuple[float, float], generator: np.random.Generator
) -> float:
    """Accepted share in the best pose that rays find, from a start near it."""
    motion: LineMotion = table.motion
    slide, roll = start
    frames = window_frames(motion, np.array([slide]), np.array([roll]))
    hits = ray_hits(
        table.form, table.errors, table.window, sun=sun, centre=frames.centre[0], along=frames.along,
        forward=frames.forward[0], rays=RAYS, generator=generator, sunshape="gaussian",
    )  # fmt: skip
    few = replace(
        hits,
        **{
            name: getattr(hits, name)[:FEW]
            for name in ("start", "weight", "reflected", "toward_sun", "facing")
        },
    )
    turn = np.degrees(table.window.height_m / motion.arm_m)
    for span, steps in ROUNDS:
        offsets = np.linspace(-span, span, steps)
        slides, rolls = np.meshgrid(
            np.clip(slide + offsets * table.window.width_m, *motion.slide_limits_m),
            np.clip(roll + offsets * turn, *motion.roll_limits_deg),
        )
        shares = caught(few, table, slides.ravel(), rolls.ravel())
        slide, roll = slides.ravel()[shares.argmax()], rolls.ravel()[shares.argmax()]
    return float(caught(hits, table, np.array([slide]), np.array([roll]))[0])


def test_a_yearly_table_by_cone_against_rays(capsys: pytest.CaptureFixture[str]) -> None:
    document = open_site(example_path("small_dryer"))
    design = document.design
    line = place_lines(design)[0]
    sky = sky_of(design.site, document.asset, Cache())
    optics_of(design, line, sky, Cache())  # modules are loaded here
    times = []
    for _round in range(3):
        start = process_time()
        cache = Cache()
        optics_of(design, line, sky, cache)
        times.append(process_time() - start)
    table = table_covering(design, line, sky.part_suns @ line.axes.T, cache)
    nodes = np.flatnonzero(table.known & (np.nan_to_num(table.accepted) > 0.05))
    generator = np.random.default_rng(5)
    chosen = generator.choice(nodes, SUNS, replace=False)
    start = process_time()
    found = [
        by_rays(
            table,
            table.grid.suns(chosen[[k]])[0],
            (float(table.slide_m[n]), float(table.roll_deg[n])),
            generator,
        )
        for k, n in enumerate(chosen)
    ]
    rays_s = (process_time() - start) / SUNS * len(nodes)
    apart = np.abs(np.array(found) - table.accepted[chosen])
    with capsys.disabled():
        print(
            f"\n{len(nodes)} suns: cone way {1e3 * min(times):.0f} ms, ray way {rays_s:.1f} s, ratio "
            f"{rays_s / min(times):.0f}; accepted shares apart by {apart.max():.4f} at most"
        )
    assert apart.max() < 0.012
    assert rays_s / min(times) >= 50


def test_a_number_of_ribs_in_the_hand(capsys: pytest.CaptureFixture[str]) -> None:
    """A change of ribs makes the whole optics anew, and with it shade, heat and cost."""
    document = open_site(example_path("small_dryer"))
    design = document.design
    assessor = Assessor()
    assessor.assess(document)
    times = []
    for ribs in (12, 13, 10, 9):
        changed = replace(design, mirror=replace(design.mirror, ribs=ribs))
        start = process_time()
        assessor.assess(document, changed, calendar=False, exact=False)
        times.append(process_time() - start)
    with capsys.disabled():
        print(f"\na number of ribs changed: {1 / min(times):.1f} whole assessments a second")
    assert min(times) < 1.0
