"""Light and dark. Contrast by WCAG 2.2 (W3C Recommendation, 2023): text 4.5:1 (1.4.3), parts of controls 3:1 (1.4.11)."""

import numpy as np
import pytest
from PySide6.QtGui import QColor
from pytestqt.qtbot import QtBot

from studio.desk.theme import Theme


def luminance(color: QColor) -> float:
    """Relative luminance as WCAG 2.2 defines it."""
    parts = [color.redF(), color.greenF(), color.blueF()]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: QColor, other: QColor) -> float:
    """Contrast ratio of WCAG 2.2."""
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_contrast_of_black_and_white_is_21() -> None:
    assert contrast(QColor("#000000"), QColor("#ffffff")) == pytest.approx(21.0, abs=0.01)


@pytest.mark.parametrize("wish", ["light", "dark"])
@pytest.mark.parametrize("role", ["ink", "ink2", "ink3", "accent", "better", "worse", "stop", "note"])
def test_text_reads_on_its_panel(theme: Theme, wish: str, role: str) -> None:
    theme.set_wish("dark" if wish == "dark" else "light")
    assert contrast(theme.color(role), theme.color("panel")) >= 4.5


@pytest.mark.parametrize("wish", ["light", "dark"])
def test_borders_of_fields_are_seen(theme: Theme, wish: str) -> None:
    theme.set_wish("dark" if wish == "dark" else "light")
    assert contrast(theme.color("edge"), theme.color("panel")) >= 3.0


@pytest.mark.parametrize("wish", ["light", "dark"])
@pytest.mark.parametrize("name", ["heat", "shade"])
def test_maps_run_one_way_in_lightness(theme: Theme, wish: str, name: str) -> None:
    theme.set_wish("dark" if wish == "dark" else "light")
    rgb = (theme.heat if name == "heat" else theme.shade)(np.linspace(0, 1, 33)).astype(float) / 255
    linear = np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)
    light = linear @ [0.2126, 0.7152, 0.0722]
    steps = np.diff(light)
    assert np.all(steps > 0) if wish == "dark" else np.all(steps < 0)


def test_maps_take_any_shape_and_hold_their_ends(theme: Theme) -> None:
    assert theme.heat(np.zeros((2, 3, 4))).shape == (2, 3, 4, 3)
    assert theme.heat(-5.0).tolist() == [0xF5, 0xF0, 0xE1]
    assert theme.heat(7.0).tolist() == [0x55, 0x0B, 0x13]
    assert theme.heat(float("nan")).tolist() == theme.heat(0.0).tolist()


def test_a_switch_is_told_once(theme: Theme, qtbot: QtBot) -> None:
    told: list[bool] = []
    theme.changed.connect(lambda: told.append(theme.dark))
    theme.set_wish("dark")
    theme.set_wish("dark")
    assert told == [True]


def test_unknown_role_is_refused(theme: Theme) -> None:
    with pytest.raises(KeyError):
        theme.color("pink")
