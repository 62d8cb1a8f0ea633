"""Colours: the transform, and that ramps read without colour and for colour-blind people."""

import numpy as np
import pytest

from levelbook.drawing import colour

RAMPS = {"level": colour.LEVEL, "apart": colour.APART, "error": colour.ERROR}

# Machado, Oliveira & Fernandes, "A Physiologically-based Model for Simulation of Color Vision
# Deficiency" (IEEE TVCG 15(6), 2009), severity 1.0, linear RGB; from memory.
DICHROMATS = {
    "protan": [
        [0.152286, 1.052583, -0.204868],
        [0.114503, 0.786281, 0.099216],
        [-0.003882, -0.048116, 1.051998],
    ],
    "deutan": [
        [0.367322, 0.860646, -0.227968],
        [0.280085, 0.672501, 0.047413],
        [-0.011820, 0.042940, 0.968881],
    ],
    "tritan": [
        [1.255528, -0.076749, -0.178779],
        [-0.078411, 0.930809, 0.147602],
        [0.004733, 0.691367, 0.303900],
    ],
}


def seen(colours: tuple[str, ...], matrix: list[list[float]] | None = None) -> np.ndarray:
    """Return colours (n, 3) in OKLab as someone sees them."""
    rgb = np.array([[int(c[i : i + 2], 16) for i in (1, 3, 5)] for c in colours]) / 255
    linear = np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)
    if matrix is not None:
        linear = np.clip(linear @ np.array(matrix).T, 0, 1)
    return np.array([colour.to_oklab(row) for row in linear])


# Ottosson (2020): white is (1, 0, 0) by construction. Others: sRGB primaries in OKLab as
# commonly published (CSS Color 4 tests); from memory, recomputed here.
@pytest.mark.parametrize(
    ("code", "lab"),
    [
        ("#ffffff", (1.0, 0.0, 0.0)),
        ("#000000", (0.0, 0.0, 0.0)),
        ("#ff0000", (0.62796, 0.22486, 0.12585)),
        ("#00ff00", (0.86644, -0.23389, 0.17950)),
        ("#0000ff", (0.45201, -0.03246, -0.31153)),
    ],
)
def test_known_colours(code, lab):
    """White, black and the primaries lie where OKLab puts them."""
    assert seen((code,))[0] == pytest.approx(lab, abs=2e-4)


def test_ends_of_a_ramp_are_its_stops():
    """The transform back to sRGB and forth again returns the stops."""
    for stops in RAMPS.values():
        ends = seen(colour.ramp(stops, (0.0, 1.0)))
        assert ends[:, 0] == pytest.approx([stops[0][0], stops[-1][0]], abs=0.004)


@pytest.mark.parametrize("name", RAMPS)
def test_ramps_read_without_colour(name):
    """Lightness goes one way only, by a step that the eye can tell, over nine bands."""
    light = np.array([colour.lightness(c) for c in colour.ramp(RAMPS[name], np.linspace(0, 1, 9))])
    steps = np.diff(light)
    assert (steps > 0.012).all() or (steps < -0.012).all()


@pytest.mark.parametrize("who", [None, *DICHROMATS])
@pytest.mark.parametrize("name", RAMPS)
def test_bands_can_be_told_apart_by_everyone(name, who):
    """Neighbouring bands differ for common and for colour-blind eyes."""
    matrix = DICHROMATS[who] if who else None
    lab = seen(colour.ramp(RAMPS[name], np.linspace(0, 1, 9)), matrix)
    assert np.linalg.norm(np.diff(lab, axis=0), axis=1).min() > 0.012


@pytest.mark.parametrize("name", RAMPS)
def test_steps_are_even_between_stops(name):
    """Equal steps of a value are equal steps for the eye, between one stop and the next."""
    stops = RAMPS[name]
    for k in range(len(stops) - 1):
        at = np.linspace(k, k + 1, 5) / (len(stops) - 1)
        lab = seen(colour.ramp(stops, at))
        steps = np.linalg.norm(np.diff(lab, axis=0), axis=1)
        assert steps.max() < 1.25 * steps.min()


def test_an_own_zero_has_colours_of_its_own():
    """No band of a floor with its own zero looks like a band of the common floor."""
    common = seen(colour.ramp(colour.LEVEL, np.linspace(0, 1, 9)))
    apart = seen(colour.ramp(colour.APART, np.linspace(0, 1, 9)))
    gap = np.linalg.norm(common[:, None, :] - apart[None, :, :], axis=2)
    assert gap.min() > 0.02


def test_text_on_every_band_has_contrast():
    """Ink on any band has a contrast of 4.5 or more (WCAG 2.2, 1.4.3)."""
    ink = luminance("#1d2a35")
    for stops in RAMPS.values():
        for code in colour.ramp(stops, np.linspace(0, 1, 9)):
            assert (luminance(code) + 0.05) / (ink + 0.05) >= 4.5


def luminance(code: str) -> float:
    """Return the relative luminance of WCAG 2.2."""
    rgb = np.array([int(code[i : i + 2], 16) for i in (1, 3, 5)]) / 255
    linear = np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)
    return float(linear @ [0.2126, 0.7152, 0.0722])
