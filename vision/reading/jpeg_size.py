"""What a JPEG takes to decode, and how its decoder makes it small; without any large library.

In:    a picture that Pillow has opened and not decoded.
Out:   bytes; halvings that are left to do.
Fails: never.
"""

from __future__ import annotations

import math

from PIL import Image


def coefficient_bytes(picture: Image.Image) -> float:
    """What all coefficients of a JPEG take in memory, two bytes each; 0 for anything else."""
    layers = getattr(picture, "layer", None)
    if not layers:
        return 0.0
    samples: list[int] = [across * down for _, across, down, _ in layers]  # ITU-T T.81, section A.1.1
    return 2.0 * picture.width * picture.height * sum(samples) / max(samples)


def held_bytes(picture: Image.Image) -> float:
    """Those of a progressive JPEG, of which all are in memory before the first pixel is; 0 for anything else."""
    return coefficient_bytes(picture) if picture.info.get("progressive") else 0.0


def drafted(picture: Image.Image, halvings: int) -> int:
    """Have the decoder halve a JPEG as often as it can, which costs nothing; how many halvings are left. Only before
    it is decoded."""
    full_width = picture.width
    picture.draft("RGB", (picture.width >> halvings, picture.height >> halvings))
    return halvings - round(math.log2(full_width / picture.width))
