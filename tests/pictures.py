"""Compare pictures; what fails leaves actual, expected and difference on disk, to be looked at.

In:    two pictures of one size, (H, W, 3), 0 to 255; a name for the files.
Out:   nothing where they are alike enough.
Fails: AssertionError that tells where the three files lie, under `tests/_failed/`, which git ignores.
"""

from pathlib import Path

import numpy as np
from PIL import Image

FAILED = Path(__file__).with_name("_failed")


def difference(one, other):
    """Share of all ink (all that is not white) that the two do not have in common; 0 when both are white."""
    one, other = np.asarray(one, dtype=float), np.asarray(other, dtype=float)
    ink = max((255 - one).sum(), (255 - other).sum())
    return float(np.abs(one - other).sum() / ink) if ink else 0.0


def assert_alike(name, actual, expected, most=0.0, folder=FAILED):
    """Fail where more than that share of the ink differs."""
    actual, expected = np.asarray(actual), np.asarray(expected)
    same_size = actual.shape == expected.shape
    differs = difference(actual, expected) if same_size else np.inf
    if differs <= most:
        return
    folder.mkdir(exist_ok=True)
    shown = {"actual": actual, "expected": expected}
    if same_size:
        shown["difference"] = 255 - np.abs(actual.astype(float) - expected.astype(float))
    for what, pixels in shown.items():
        Image.fromarray(np.clip(pixels, 0, 255).astype(np.uint8)).save(folder / f"{name}-{what}.png")
    raise AssertionError(f"{name}: {differs:.2%} of the ink differs, {most:.2%} may; see {folder}")
