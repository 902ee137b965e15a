"""Nodes of the sun: blending a share that is known everywhere gives it back, at any latitude."""

import numpy as np
import pytest

from studio.engine.sky.sun import direction_from_equatorial
from studio.study.nodes import SunNodes, sun_nodes

LATITUDES = [-80.0, -66.6, -35.0, 0.0, 23.5, 52.0, 68.0, 90.0]


def year(latitude_deg: float) -> tuple[SunNodes, np.ndarray]:
    """Nodes of suns spread over the year and the day, and where those suns stand; those above the horizon."""
    declination, hour_angle = (
        part.ravel()
        for part in np.meshgrid(23.44 * np.sin(np.linspace(0, 2 * np.pi, 40)), np.linspace(-180.0, 180.0, 91))
    )
    suns = direction_from_equatorial(declination, hour_angle, latitude_deg=latitude_deg)
    up = suns[:, 2] > np.sin(np.radians(5.0))
    (nodes,) = sun_nodes((declination[up], hour_angle[up]), latitude_deg=latitude_deg)
    return nodes, suns[up]


@pytest.mark.parametrize("latitude_deg", LATITUDES)
def test_a_smooth_share_comes_back(latitude_deg: float) -> None:
    nodes, suns = year(latitude_deg)
    way = np.array([0.3, 0.5, -0.4])
    found = nodes.blend(0.5 + 0.4 * nodes.suns @ way)
    apart = np.abs(found - (0.5 + 0.4 * suns @ way))
    # beyond the polar circles courses change shape where the sun begins not to rise or set
    assert apart.max() < (0.005 if abs(latitude_deg) < 67 else 0.04)
    assert apart.mean() < 0.005


@pytest.mark.parametrize("latitude_deg", LATITUDES)
def test_shares_stay_shares_and_nodes_stand_above_the_horizon(latitude_deg: float) -> None:
    nodes, _suns = year(latitude_deg)
    assert nodes.weights.sum(axis=1) == pytest.approx(1.0)
    found = nodes.blend((np.arange(len(nodes.suns)) % 3 == 0).astype(float))
    assert found.min() >= 0.0
    assert found.max() <= 1.0
    assert nodes.suns[:, 2].min() > 0.0
    assert np.linalg.norm(nodes.suns, axis=1) == pytest.approx(1.0)


def test_what_is_gathered_is_what_is_blended() -> None:
    nodes, suns = year(35.0)
    share, light = np.full(len(nodes.suns), 0.25), np.maximum(suns[:, 2], 0.0)
    assert nodes.gather(light) @ share == pytest.approx(light @ nodes.blend(share))
    assert (nodes.leaning(light) >= np.abs(nodes.gather(light)) - 1e-12).all()
