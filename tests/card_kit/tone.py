"""From light to picture levels and back."""

from __future__ import annotations

import numpy as np

from tests.card_kit.outlines import Plane

STEPS = 4096  # of light: exact to a tenth of a level where it matters


def tone_curve(contrast: float = 0.0) -> Plane:
    """(STEPS,) levels, 0 to 255, of light from 0 to 1: sRGB encoding (IEC 61966-2-1), then a gentle S-curve as phones
    add one."""
    x = np.linspace(0, 1, STEPS)
    c = np.where(x <= 0.0031308, 12.92 * x, 1.055 * np.maximum(x, 1e-9) ** (1 / 2.4) - 0.055)
    bent = c * c * (3 - 2 * c)
    return np.asarray((c + contrast * (bent - c)) * 255, np.float32)


def light_of(levels: Plane) -> Plane:
    """Picture levels, 0 to 255, to light from 0 to 1, sRGB (IEC 61966-2-1:1999)."""
    c = levels / np.float32(255)
    return np.asarray(np.where(c <= 0.04045, c / 12.92, ((c + 0.055) / 1.055) ** 2.4))
