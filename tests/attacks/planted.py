"""Hide a secret in a photo, in hundreds of places, and look whether it comes through `take-out`.

    python -m tests.attacks.planted --count 300

A secret is looked for in every byte of what comes out, in all that is squeezed in there, and in the
pixels' own values.
"""

from __future__ import annotations

import argparse
import contextlib
import io
import random
import struct
import zlib
from collections.abc import Callable, Iterator, Mapping

import numpy as np
import pillow_heif
from PIL import Image, ImageCms, PngImagePlugin

from cli.archive.privacy import CantStripError, strip_photo

pillow_heif.register_heif_opener()
Plant = Callable[[bytes], bytes]  # from the secret to a photo that holds it


def picture(size: tuple[int, int] = (70, 50), seed: int = 3) -> Image.Image:
    rng = np.random.default_rng(seed)
    smooth = Image.fromarray(rng.integers(0, 255, (9, 9, 3), dtype=np.uint8))
    return smooth.resize(size, Image.Resampling.BICUBIC)


def saved(kind: str, image: Image.Image | None = None, **how: object) -> bytes:
    buffer = io.BytesIO()
    (image or picture()).save(buffer, kind, **how)
    return buffer.getvalue()


def exif_with(secret: bytes) -> bytes:
    text = secret.decode("latin-1")
    value = Image.Exif()
    value[0x010E], value[0x010F], value[0x0112] = text, text, 6
    value.get_ifd(0x8769)[0xA434], value.get_ifd(0x8769)[0x927C] = text, secret
    value.get_ifd(0x8825)[0x1D] = text
    return value.tobytes()


def profile_with(secret: bytes) -> bytes:
    profile = bytearray(ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes())
    return bytes(profile[:4] + secret[:4] + profile[8:48] + secret[4:8] + profile[52:]) + secret


def segment(marker: int, body: bytes) -> bytes:
    return bytes((0xFF, marker)) + (len(body) + 2).to_bytes(2) + body


def _into_jpeg(what: Callable[[bytes], bytes], **how: object) -> Plant:
    """A segment right behind the start."""

    def plant(secret: bytes) -> bytes:
        data = saved("JPEG", **how)
        return data[:2] + what(secret) + data[2:]

    return plant


def _before_last_marker(secret: bytes, **how: object) -> bytes:
    """Behind the last block of the picture, before the end mark."""
    data = saved("JPEG", **how)
    return data[:-2] + secret + data[-2:]


def _before_each(mark: Callable[[int], bool], secret: bytes, **how: object) -> bytes:
    data, out, at = saved("JPEG", **how), b"", 0
    start = data.index(b"\xff\xda")
    for index in range(start + 2, len(data) - 1):
        if data[index] == 0xFF and mark(data[index + 1]):
            out += data[at:index] + secret
            at = index
    return out + data[at:]


JPEG: Mapping[str, Plant] = {
    "exif": lambda s: saved("JPEG", exif=exif_with(s)),
    "comment": lambda s: saved("JPEG", comment=s),
    "colour profile": lambda s: saved("JPEG", icc_profile=profile_with(s)),
    **{
        f"segment {marker:#x}": _into_jpeg(lambda s, m=marker: segment(m, s))
        for marker in (*range(0xE0, 0xF0), 0xF0, 0xF7, 0xFD, 0xFE)
    },
    "xmp": _into_jpeg(lambda s: segment(0xE1, b"http://ns.adobe.com/xap/1.0/\0<x>" + s + b"</x>")),
    "jfif thumbnail": _into_jpeg(
        lambda s: segment(0xE0, b"JFIF\0\1\1\0\0\1\0\1\1" + bytes((len(s) // 3,)) + s)
    ),
    "adobe segment": _into_jpeg(lambda s: segment(0xEE, b"Adobe\0\x64\0\0\0\0\1" + s)),
    "unused huffman table": _into_jpeg(
        lambda s: segment(0xC4, b"\x13" + bytes([0] * 7 + [len(s)] + [0] * 8) + s)
    ),
    "unused quantisation table": _into_jpeg(lambda s: segment(0xDB, b"\x03" + (s * 64)[:64])),
    "fill bytes": _into_jpeg(lambda s: b"\xff" * 9 + segment(0xFE, s)[1:]),
    "behind the end": lambda s: saved("JPEG") + s,
    "second picture": lambda s: saved("JPEG") + saved("JPEG", comment=s),
    "second picture, told of": lambda s: saved(
        "MPO", save_all=True, append_images=[picture(seed=4)], exif=exif_with(s)
    ),
    "behind the last block": _before_last_marker,
    "behind the last block, progressive": lambda s: _before_last_marker(s, progressive=True),
    "behind the last block, grey": lambda s: _before_last_marker(s, image=picture().convert("L")),
    "behind each scan": lambda s: _before_each(lambda m: m in (0xC4, 0xDA), s, progressive=True),
    "behind each restart": lambda s: _before_each(lambda m: 0xD0 <= m <= 0xD7, s, restart_marker_blocks=2),
}


def chunk(kind: bytes, body: bytes) -> bytes:
    return len(body).to_bytes(4) + kind + body + zlib.crc32(kind + body).to_bytes(4)


def _into_png(at: int, what: Callable[[bytes], bytes]) -> Plant:
    def plant(secret: bytes) -> bytes:
        data = saved("PNG")
        cut = 33 if at == 0 else len(data) - 12
        return data[:cut] + what(secret) + data[cut:]

    return plant


def _in_idat(secret: bytes, squeezed: bool) -> bytes:
    data = saved("PNG")
    at = data.index(b"IDAT") - 4
    size = int.from_bytes(data[at : at + 4])
    body = data[at + 8 : at + 8 + size]
    body = zlib.compress(zlib.decompress(body) + secret) if squeezed else body + secret
    return data[:at] + chunk(b"IDAT", body) + data[at + 12 + size :]


def _text_png(zipped: bool) -> Plant:
    def plant(secret: bytes) -> bytes:
        texts = PngImagePlugin.PngInfo()
        texts.add_text("Location", secret.decode("latin-1"), zip=zipped)
        texts.add_itxt("XML:com.adobe.xmp", secret.decode("latin-1"), zip=zipped)
        return saved("PNG", pnginfo=texts)

    return plant


def _unseen(kind: str) -> Plant:
    """In the colours of pixels that are wholly transparent."""

    def plant(secret: bytes) -> bytes:
        pixels = np.dstack([np.asarray(picture()), np.full((50, 70), 255, np.uint8)])
        words = np.frombuffer((secret * 70)[: 70 * 3], np.uint8).reshape(70, 3)
        pixels[7] = np.column_stack([words, np.zeros(70, np.uint8)])
        return saved(
            kind, Image.fromarray(pixels), **({"lossless": True, "exact": True} if kind == "WEBP" else {})
        )

    return plant


def _unused_colours(secret: bytes) -> bytes:
    image = picture().convert("P", palette=Image.Palette.ADAPTIVE, colors=9)
    palette = (image.getpalette() or [])[:27] + list(secret)
    image.putpalette(palette[: len(palette) // 3 * 3])
    return saved("PNG", image)


PNG: Mapping[str, Plant] = {
    "exif": lambda s: saved("PNG", exif=exif_with(s)),
    "colour profile": lambda s: saved("PNG", icc_profile=profile_with(s)),
    "texts": _text_png(False),
    "squeezed texts": _text_png(True),
    **{
        f"chunk {kind.decode()}": _into_png(at, lambda s, k=kind: chunk(k, s))
        for at, kind in enumerate((b"prVt", b"vpAg", b"sPLT", b"hIST", b"tEXt", b"iDOT", b"caBX"))
    },
    "chunk before the end": _into_png(1, lambda s: chunk(b"prVt", s)),
    "behind the end": lambda s: saved("PNG") + s,
    "behind the squeezed rows": lambda s: _in_idat(s, False),
    "more rows than the picture has": lambda s: _in_idat(s, True),
    "under transparent pixels": _unseen("PNG"),
    "colours that no pixel uses": _unused_colours,
}


def riff_chunk(kind: bytes, body: bytes) -> bytes:
    return kind + len(body).to_bytes(4, "little") + body + b"\0" * (len(body) % 2)


def _riff(inside: bytes) -> bytes:
    return b"RIFF" + (len(inside) + 4).to_bytes(4, "little") + b"WEBP" + inside


def _in_frame(secret: bytes) -> bytes:
    data = saved("WEBP", save_all=True, append_images=[picture(seed=4)], duration=40)
    at = data.index(b"ANMF")
    size = int.from_bytes(data[at + 4 : at + 8], "little")
    frame = data[at + 8 : at + 8 + size] + riff_chunk(b"junk", secret)
    return _riff(data[12:at] + riff_chunk(b"ANMF", frame) + data[at + 8 + size + size % 2 :])


WEBP: Mapping[str, Plant] = {
    "exif": lambda s: saved("WEBP", exif=exif_with(s)),
    "xmp": lambda s: saved("WEBP", xmp=b"<x>" + s + b"</x>"),
    "colour profile": lambda s: saved("WEBP", icc_profile=profile_with(s)),
    "unknown chunk": lambda s: _riff(saved("WEBP", exif=exif_with(b"x" * 9))[12:] + riff_chunk(b"junk", s)),
    "chunk in a frame": _in_frame,
    "behind the end": lambda s: saved("WEBP") + s,
    "behind the coded picture": lambda s: _riff(riff_chunk(b"VP8 ", saved("WEBP")[20:] + s)),
    "lossless, behind the coded picture": lambda s: _riff(
        riff_chunk(b"VP8L", saved("WEBP", lossless=True)[20:] + s)
    ),
    "under transparent pixels": _unseen("WEBP"),
}


def box(kind: bytes, body: bytes) -> bytes:
    return (len(body) + 8).to_bytes(4) + kind + body


def heif(**how: object) -> Mapping[str, Plant]:
    """HEIC, and AVIF by `format="AVIF"`: both are boxes (ISO/IEC 14496-12)."""

    def made(**more: object) -> bytes:
        return saved(str(how.get("format", "HEIF")), **more)

    def in_last_box(secret: bytes) -> bytes:
        data = made()
        at = data.rindex(b"mdat") - 4
        return data[:at] + (len(data) - at + len(secret)).to_bytes(4) + data[at + 4 :] + secret

    return {
        "exif": lambda s: made(exif=exif_with(s)),
        "xmp": lambda s: made(xmp=b"<x>" + s + b"</x>"),
        "colour profile": lambda s: made(icc_profile=profile_with(s)),
        **{
            f"box {kind.decode()} at the end": lambda s, k=kind: made() + box(k, s)
            for kind in (b"free", b"skip", b"uuid", b"mdat", b"udta", b"junk")
        },
        "behind the coded picture": in_last_box,
    }


def _tiff_with_gap(secret: bytes) -> bytes:
    """Between the header and the picture: all places in the file moved by the secret's length."""
    entries = [
        (256, 3, 1, 40),
        (257, 3, 1, 20),
        (258, 3, 1, 8),
        (259, 3, 1, 1),
        (262, 3, 1, 1),
        (273, 4, 1, 0),
    ]
    entries += [(277, 3, 1, 1), (278, 3, 1, 20), (279, 4, 1, 800), (65000, 2, len(secret), 8)]
    at = 8 + len(secret) + 800
    entries[5] = (273, 4, 1, 8 + len(secret))
    packed = b"".join(
        struct.pack("<HHL", tag, kind, count)
        + (struct.pack("<HH", value, 0) if kind == 3 else struct.pack("<L", value))
        for tag, kind, count, value in entries
    )
    pixels = np.asarray(picture((40, 20)).convert("L")).tobytes()
    return (
        b"II*\0"
        + struct.pack("<L", at)
        + secret
        + pixels
        + struct.pack("<H", len(entries))
        + packed
        + bytes(4)
    )


def _long_strip(secret: bytes) -> bytes:
    data = bytearray(_tiff_with_gap(b"x" * len(secret)))
    at = data.index(struct.pack("<HHLL", 279, 4, 1, 800))
    struct.pack_into("<HHLL", data, at, 279, 4, 1, 800 + len(secret))
    strip_at = data.index(struct.pack("<HHL", 273, 4, 1)) + 8
    (start,) = struct.unpack_from("<L", data, strip_at)
    moved = bytes(data[start : start + 800]) + secret
    struct.pack_into("<L", data, strip_at, len(data))
    return bytes(data) + moved


TIFF: Mapping[str, Plant] = {
    **{
        f"exif, {squeeze or 'plain'}": lambda s, q=squeeze: saved(
            "TIFF",
            compression=q,
            description=s.decode("latin-1"),
            software=s.decode("latin-1"),
        )
        for squeeze in (None, "tiff_lzw", "tiff_adobe_deflate", "packbits", "jpeg")
    },
    "colour profile": lambda s: saved("TIFF", icc_profile=profile_with(s)),
    "second page": lambda s: saved(
        "TIFF", save_all=True, append_images=[picture((9, 9))], description=s.decode("latin-1")
    ),
    "between header and picture": _tiff_with_gap,
    "in the strip, behind the rows": _long_strip,
    "behind the end": lambda s: saved("TIFF") + s,
}

PLANTS: dict[str, Plant] = {
    f"{kind}: {name}": plant
    for kind, plants in (
        ("JPEG", JPEG), ("PNG", PNG), ("WebP", WEBP), ("HEIC", heif()), ("AVIF", heif(format="AVIF")), ("TIFF", TIFF),
    )
    for name, plant in plants.items()
}  # fmt: skip


def every_byte(data: bytes) -> Iterator[bytes]:
    """A file as it is, what is squeezed in a PNG, and the pixels."""
    yield data
    if data.startswith(b"\x89PNG"):
        at, rows = 8, b""
        while at + 12 <= len(data):
            size, kind = int.from_bytes(data[at : at + 4]), data[at + 4 : at + 8]
            body = data[at + 8 : at + 8 + size]
            if kind == b"IDAT":
                rows += body
            if kind in (b"iCCP", b"zTXt", b"iTXt"):
                yield zlib.decompress(body[body.index(b"\0") + 2 :])
            at += 12 + size
        yield zlib.decompress(rows)
    with Image.open(io.BytesIO(data)) as opened:
        pixels = np.asarray(opened)
        yield pixels.tobytes()
        yield pixels[..., :3].tobytes()


def comes_through(plant: Plant, secret: bytes) -> bool | None:
    """Whether the secret is in what comes out; None where nothing comes out."""
    data = plant(secret)
    if not any(secret[:8] in part for part in _readable(data)):
        raise AssertionError("nothing was planted")
    try:
        clean = strip_photo(data).data
    except CantStripError:
        return None
    words = (
        secret[:12],
        secret[:12].decode("latin-1").encode("utf-16-be"),
        secret[:12].decode("latin-1").encode("utf-16-le"),
    )
    return any(word in part for part in every_byte(clean) for word in words)


def _readable(data: bytes) -> Iterator[bytes]:
    yield data
    with contextlib.suppress(Exception):  # a reader may well refuse what was planted
        yield from every_byte(data)


def main(count: int, seed: int = 1) -> int:
    """How many secrets came through."""
    chance, through, refused = random.Random(seed), [], 0
    names = list(PLANTS)
    for number in range(count):
        name = names[number % len(names)]
        secret = bytes(chance.choices(b"ABCDEFGHIJKLMNOPQRSTUVWXYZ", k=chance.choice((24, 36, 48))))
        found = comes_through(PLANTS[name], secret)
        if found is None:
            refused += 1
        elif found:
            through.append(name)
    print(
        f"{count} secrets in {len(names)} places: {len(through)} came through, {refused} photos left behind"
    )
    for name in sorted(set(through)):
        print(f"  {name}")
    return len(through)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--count", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    said = parser.parse_args()
    raise SystemExit(bool(main(said.count, said.seed)))
