"""Open a picture file as people's phones and scanners leave it.

In:    a path to a JPEG, PNG, HEIC, WebP or TIFF.
Out:   a `Photo`: (H, W, 3) uint8 RGB, its EXIF orientation applied.
Fails: `PhotoFileError` (exit code 4) when the file is the trouble.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageOps

RgbImage = NDArray[np.uint8]


@dataclass(frozen=True, slots=True)
class Photo:
    """One opened picture; `pixels` is (H, W, 3) uint8 RGB as a viewer shows it."""

    name: str
    pixels: RgbImage


def open_photo(path: Path) -> Photo:
    """Open and straighten one picture file."""
    with Image.open(path) as picture:
        upright = ImageOps.exif_transpose(picture)
        return Photo(path.name, np.asarray(upright.convert("RGB")))
