"""Pictures as PNG files, also such as prove by themselves that this program made them and nobody changed them since.

The proof is a text just before the picture's end that holds the SHA-256 of all bytes before it (chunks: W3C PNG
specification, third edition, section 5.3). For pictures that lie in a folder without a record.
"""

from __future__ import annotations

import hashlib
import io
import zlib
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from PIL import Image

_KEYWORD = b"Pencilamp\0"
_END = b"\0\0\0\0IEND\xaeB`\x82"
_LARGEST_BYTES = 100_000_000  # chosen: several times the largest picture of ours


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


def own_png(png: bytes) -> bytes:
    """The same picture with its proof."""
    before = png.removesuffix(_END)
    return before + _proof(before) + _END


def is_own_png(path: Path) -> bool:
    """Whether a file is such a picture, unchanged."""
    try:
        if not path.is_file() or path.stat().st_size > _LARGEST_BYTES:
            return False
        data = path.read_bytes()
    except OSError:
        return False
    proof = len(_proof(b""))
    before, after = data[: -proof - len(_END)], data[-proof - len(_END) :]
    return bool(before) and after == _proof(before) + _END


def _proof(before: bytes) -> bytes:
    body = b"tEXt" + _KEYWORD + hashlib.sha256(before).hexdigest().encode()
    return (len(body) - 4).to_bytes(4) + body + zlib.crc32(body).to_bytes(4)
