"""A mirror's spot under one sun: both ways agree, every loss adds up, and what is asked for wrongly is told so."""

import dataclasses
from typing import Any

import numpy as np
import pytest

from studio.design.design import Design
from studio.engine.mirror.flux import concentration_limit
from studio.engine.shade.gear_shade import own_gear_share
from studio.errors import BadInputError
from studio.files.examples import example_path
from studio.files.site import open_site
from studio.study.place import place_lines, row_of
from studio.study.shade import gear_of
from studio.study.spot import SpotAt, spot_of

DESIGN = open_site(example_path("workshop_plot")).design


def spot(design: Design = DESIGN, **asked: Any) -> SpotAt:
    return spot_of(design, rays=asked.pop("rays", 60_000), **(asked or {"at": "03-21T11:00"}))[0]


@pytest.mark.parametrize("at", ["12-21T10:30", "03-21T12:00", "06-21T14:30", "2026-09-01 09:45"])
def test_both_ways_agree_within_the_rays_own_error(at: str) -> None:
    found = spot(at=at)
    assert found.gaussian_serves
    assert float(found.cone.accepted[0]) == pytest.approx(
        found.rays.accepted, abs=0.003 + 3 * found.rays.accepted_error
    )


def test_losses_add_up_and_absorbed_light_is_what_is_left() -> None:
    steps = spot(at="12-21T10:30").losses_w()
    facing = steps.pop("facing")
    assert facing == pytest.approx(1000 * 1.25 * 1.44)
    assert sum(steps.values()) == pytest.approx(facing, abs=1e-6)
    assert all(watts >= -1e-9 for watts in steps.values())
    assert 0.2 * facing < steps["absorbed"] < 0.7 * facing


def test_a_receiver_moved_off_the_spot_takes_in_less() -> None:
    best = spot(at="03-21T12:00")
    moved = spot(at="03-21T12:00", slide_m=best.slide_m + 0.1)
    assert best.best
    assert not moved.best
    assert moved.roll_deg == best.roll_deg
    assert moved.rays.accepted < best.rays.accepted - 0.1
    assert moved.flux.centroid_m[0] == pytest.approx(best.flux.centroid_m[0] - 0.1, abs=0.01)


def test_gear_shades_as_the_live_way_says_it_does() -> None:
    """Share of pipe, receivers and frames at noon against the exact polygons of the live way."""

    found = spot(at="03-21T12:10", rays=200_000)
    line = place_lines(DESIGN)[0]
    live = own_gear_share(
        gear_of(DESIGN, line), row_of(line, DESIGN.mirror), (line.axes @ found.sun)[None, :],
        slide_m=np.array([found.slide_m]), roll_deg=np.array([found.roll_deg]),
    )  # fmt: skip
    shares = found.fates
    rays = shares.shaded_by_receiver + shares.shaded_by_pipe + shares.shaded_by_arm
    assert rays > 0.03
    assert float(live[0]) == pytest.approx(rays, abs=0.012)


def test_flux_grows_with_the_sun_and_stays_below_the_limit() -> None:
    strong, weak = spot(at="03-21T12:00"), spot(at="03-21T12:00", dni_w_m2=500.0)
    assert strong.on_window_kw == pytest.approx(2 * weak.on_window_kw)
    assert strong.flux.peak_kw_m2 > strong.window_mean_kw_m2
    assert strong.flux.peak_concentration < concentration_limit()


def test_the_same_seed_gives_the_same_rays_and_another_gives_others() -> None:
    assert spot(at="03-21T12:00").rays == spot(at="03-21T12:00").rays
    assert spot(at="03-21T12:00", seed=2).rays != spot(at="03-21T12:00").rays


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({"at": "13-01T10:00"}, "no moment of the year"),
        ({"at": "02-29T10:00"}, "no moment of the year"),
        ({"at": "noon"}, "no moment of the year"),
        ({"at": "12-21T23:00"}, "not up"),
        ({"sun_deg": (180.0, -5.0)}, "not up"),
        ({"sun_deg": (900.0, 5.0)}, "within ±360"),
        ({"sun_deg": (0.0, 5.0)}, "behind the mirrors"),
        ({"at": "03-21T12:00", "sun_deg": (180.0, 45.0)}, "Say either"),
        ({"at": "03-21T12:00", "line_id": 99}, "no Line 99"),
        ({"at": "03-21T12:00", "rays": 3}, "can be traced"),
        ({"at": "03-21T12:00", "dni_w_m2": 5000.0}, "1400"),
    ],
)
def test_what_is_asked_wrongly_is_told_in_one_sentence(asked: dict[str, Any], words: str) -> None:
    with pytest.raises(BadInputError, match=words):
        spot_of(DESIGN, **asked)


def test_without_a_line_there_is_no_spot() -> None:
    with pytest.raises(BadInputError, match="no line yet"):
        spot_of(dataclasses.replace(DESIGN, lines=()), at="03-21T12:00")


def test_away_from_its_best_plane_the_spot_is_wider_and_weaker() -> None:
    here, behind = spot(at="03-21T12:00"), spot(at="03-21T12:00", beyond_m=0.5)
    assert behind.flux.peak_kw_m2 < 0.5 * here.flux.peak_kw_m2
    assert behind.flux.rms_m[0] > 1.5 * here.flux.rms_m[0]
    # all of it still lands: the same light on another plane
    assert behind.flux.landed_kw == pytest.approx(here.flux.landed_kw, rel=1e-6)
    assert behind.rays == here.rays
    with pytest.raises(BadInputError, match="stands from the arm"):
        spot(at="03-21T12:00", beyond_m=-5.0)


def test_a_bright_sky_round_the_sun_takes_light_off_a_small_window() -> None:
    receiver = dataclasses.replace(DESIGN.receiver, window_width_m=0.05, window_height_m=0.05, fins=8)
    small = dataclasses.replace(DESIGN, receiver=receiver)
    clear, hazy = spot(small, at="03-21T12:00"), spot(small, at="03-21T12:00", circumsolar_share=0.4)
    limb = spot(small, at="03-21T12:00", sunshape="limb")
    assert hazy.rays.accepted < clear.rays.accepted - 4 * hazy.rays.accepted_error
    assert hazy.flux.rms_m[0] > clear.flux.rms_m[0]
    assert limb.rays.accepted == pytest.approx(clear.rays.accepted, abs=0.01)
