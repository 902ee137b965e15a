"""The year's beam by both ways of the optics: accepted light of a mirror without shade, within 0.1 %.

Suns are drawn from the year's hours by the light they bring, so that each counts alike; rays are seeded. A tenth of the
suns by default, all with ``STILLFIELD_FULL=1``.
"""

import os

import numpy as np
import pytest

from studio.engine.mirror.cone import cone_shares
from studio.engine.mirror.points import surface_points
from studio.engine.mirror.rays import ray_hits
from studio.engine.motion.pose import best_poses, window_frames
from studio.files.examples import example_path
from studio.files.site import open_site
from studio.study.cache import Cache
from studio.study.optics import errors_of, motion_of, window_of
from studio.study.place import form_of, place_lines
from studio.study.sky import sky_of

FULL = os.environ.get("STILLFIELD_FULL") == "1"
SUNS = 2000 if FULL else 250
RAYS = 20_000


@pytest.mark.parametrize("name", ["small_dryer", "large_field"])
def test_a_years_light_by_both_ways(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    document = open_site(example_path(name))
    design = document.design
    line = place_lines(design)[0]
    sky = sky_of(design.site, document.asset, Cache())
    suns = sky.suns @ line.axes.T
    light = sky.dni * np.maximum(suns[:, 2], 0.0)
    generator = np.random.default_rng(12)
    # evenly spaced through the running sum of light: every sun drawn stands for as much of it
    at = (np.arange(SUNS) + generator.random(SUNS)) / SUNS * light.sum()
    drawn = suns[np.searchsorted(np.cumsum(light), at)]
    form, errors, window = form_of(design.mirror), errors_of(design), window_of(design)
    motion = motion_of(design.motion, line.axes @ line.along)
    poses = best_poses(form, errors, window, motion, drawn)
    frames = window_frames(motion, poses.slide_m, poses.roll_deg)
    cone = float(cone_shares(surface_points(form, errors), errors, window, drawn, frames).accepted.mean())
    taken = np.empty(SUNS)
    for place, sun in enumerate(drawn):
        hits = ray_hits(
            form, errors, window, sun=sun, centre=frames.centre[place], along=frames.along,
            forward=frames.forward[place], rays=RAYS, generator=generator,
        )  # fmt: skip
        taken[place] = hits.weight[hits.accepted].sum() / hits.weight.sum()
    rays = float(taken.mean())
    error = float(np.sqrt(np.sum(taken * (1 - taken) / RAYS))) / SUNS
    with capsys.disabled():
        print(
            f"\n{name}: cone way {cone:.5f}, ray way {rays:.5f} ± {error:.5f}, {100 * (cone / rays - 1):+.3f} %"
        )
    assert abs(cone / rays - 1) < 0.001 + 3 * error / rays * (0 if FULL else 1)
