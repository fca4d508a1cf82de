"""Pictures as PNG files."""

from __future__ import annotations

import io
import zlib
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from PIL import Image


def png_bytes(picture: Image.Image) -> bytes:
    """A picture as a PNG file's content; what `info` tells of it as text goes along."""
    from PIL.PngImagePlugin import PngInfo

    texts = PngInfo()
    for name, text in picture.info.items():
        if isinstance(name, str) and isinstance(text, str):
            texts.add_text(name, text)
    buffer = io.BytesIO()
    # Runs of one tone, and no search for longer likeness: as small as level 4 for these pictures, a third faster.
    picture.save(buffer, "PNG", compress_type=zlib.Z_RLE, pnginfo=texts)
    return buffer.getvalue()
