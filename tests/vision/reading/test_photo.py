"""Every kind of picture file opens upright as RGB; every bad file ends in one sentence."""

import io
import struct
import subprocess
import sys
import zlib

import numpy as np
import pytest
from PIL import Image

from vision.reading import photo as photo_module
from vision.reading import pixels as pixels_module
from vision.reading.photo import (
    ENOUGH_PIXELS,
    FINEST_PIXELS,
    PhotoFileError,
    load_heif_reader,
    open_finer,
    open_photo,
)

RED, GREEN, BLUE, WHITE = (200, 30, 30), (30, 180, 40), (30, 40, 190), (250, 250, 250)


def quarters(width=120, height=80):
    """Red top left, green top right, blue bottom left, white bottom right: no two turns look alike."""
    picture = np.empty((height, width, 3), np.uint8)
    picture[: height // 2, : width // 2] = RED
    picture[: height // 2, width // 2 :] = GREEN
    picture[height // 2 :, : width // 2] = BLUE
    picture[height // 2 :, width // 2 :] = WHITE
    return Image.fromarray(picture)


def corners(pixels):
    height, width = pixels.shape[:2]
    return [
        pixels[y, x].astype(int) for y in (height // 4, 3 * height // 4) for x in (width // 4, 3 * width // 4)
    ]


def assert_quarters(pixels, tolerance=25):
    for got, want in zip(corners(pixels), (RED, GREEN, BLUE, WHITE)):
        assert np.abs(got - want).max() <= tolerance, corners(pixels)


@pytest.mark.parametrize("ending", ["jpg", "png", "webp", "tif", "heic"])
def test_each_kind_of_file_opens(tmp_path, ending):
    if ending == "heic":
        import pillow_heif

        pillow_heif.register_heif_opener()
    path = tmp_path / f"card.{ending}"
    quarters().save(path)
    photo = open_photo(path)
    assert photo.name == path.name
    assert photo.pixels.shape == (80, 120, 3)
    assert photo.pixels.dtype == np.uint8
    assert_quarters(photo.pixels, 40)


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("ending", ["jpg", "png", "webp", "tif"])
def test_the_orientation_tag_is_applied(tmp_path, orientation, ending):
    # Exif 2.32 Orientation: store the picture turned the way the tag undoes.
    undo = {
        1: None,
        2: Image.Transpose.FLIP_LEFT_RIGHT,
        3: Image.Transpose.ROTATE_180,
        4: Image.Transpose.FLIP_TOP_BOTTOM,
        5: Image.Transpose.TRANSPOSE,
        6: Image.Transpose.ROTATE_90,
        7: Image.Transpose.TRANSVERSE,
        8: Image.Transpose.ROTATE_270,
    }[orientation]
    stored = quarters() if undo is None else quarters().transpose(undo)
    exif = Image.Exif()
    exif[0x0112] = orientation
    path = tmp_path / f"card.{ending}"
    stored.save(path, exif=exif, **({"quality": 95} if ending == "jpg" else {}))
    photo = open_photo(path)
    assert photo.pixels.shape == (80, 120, 3)
    assert_quarters(photo.pixels, 40)


@pytest.mark.parametrize("mode", ["L", "LA", "RGBA", "P", "1", "CMYK", "I;16", "YCbCr"])
def test_each_kind_of_pixel_becomes_rgb(tmp_path, mode):
    path = tmp_path / ("card.tif" if mode in ("CMYK", "YCbCr") else "card.png")
    if mode == "I;16":
        deep = np.asarray(quarters().convert("L")).astype(np.uint16) * 257
        Image.fromarray(deep).save(path)
    else:
        # YCbCr as scanners leave it: packed by JPEG's rules
        quarters().convert(mode).save(path, **({"compression": "jpeg"} if mode == "YCbCr" else {}))
    pixels = open_photo(path).pixels
    assert pixels.shape == (80, 120, 3)
    brightness = [int(corner.sum()) for corner in corners(pixels)]
    assert brightness[3] == max(brightness)
    assert brightness[3] > 650  # the white quarter is still white: 16 bits are not wrapped or cut


def test_transparent_parts_lie_on_white(tmp_path):
    path = tmp_path / "cut-out.png"
    Image.new("RGBA", (40, 40), (0, 0, 0, 0)).save(path)
    assert open_photo(path).pixels.min() == 255


def test_a_cmyk_jpeg_keeps_its_colours(tmp_path):
    path = tmp_path / "print.jpg"
    quarters().convert("CMYK").save(path, quality=95)
    assert_quarters(open_photo(path).pixels, 40)


def test_the_lens_is_read_from_the_tags(tmp_path):
    exif = Image.Exif()
    exif.get_ifd(0x8769)[0xA405] = 26
    path = tmp_path / "card.jpg"
    quarters().save(path, exif=exif)
    assert open_photo(path).focal_35mm == 26.0
    quarters().save(path)
    assert open_photo(path).focal_35mm is None


@pytest.mark.parametrize("ending", ["jpg", "png"])
@pytest.mark.parametrize("mode", ["RGB", "L"])
def test_a_large_photo_is_halved_and_can_be_had_finer(tmp_path, ending, mode):
    width, height = 4033, 3023  # odd: the halves are rounded up or down
    assert width * height > 4 * ENOUGH_PIXELS
    path = tmp_path / f"large.{ending}"
    quarters(width, height).convert(mode).save(path, **({} if ending == "jpg" else {"compress_level": 1}))
    photo = open_photo(path)
    assert photo.pixels.shape == (pytest.approx(height / 2, abs=1), pytest.approx(width / 2, abs=1), 3)
    finer = open_finer(photo)
    assert finer is not None and finer.pixels.shape == (height, width, 3)
    assert open_finer(finer) is None
    for pixels in (photo.pixels, finer.pixels):
        if mode == "RGB":
            assert_quarters(pixels)


HALVED = {
    "RGB": ("png", "heic", "webp", "tif"),
    "RGBA": ("png", "webp"),
    "P": ("png",),
    "L": ("png",),
    "LA": ("png",),
    "I;16": ("png", "tif"),
    "F": ("tif",),
    "CMYK": ("tif",),
}


@pytest.mark.parametrize(
    ("mode", "ending"), [(mode, ending) for mode, some in HALVED.items() for ending in some]
)
def test_a_large_photo_is_halved_in_bands_as_it_would_be_at_once(tmp_path, monkeypatch, mode, ending):
    rng = np.random.default_rng(5)
    picture = Image.fromarray(rng.integers(0, 255, (9, 12, 3), dtype=np.uint8)).resize((122, 86))
    if mode in ("I;16", "F"):  # a dark one: stretched by the whole picture, not by each band
        deep = np.asarray(picture.convert("L")).astype(np.uint16) * 100
        deep[:40] //= 200
        picture = Image.fromarray(deep if mode == "I;16" else deep.astype(np.float32))
    elif mode == "P":
        picture = picture.convert("P")
        picture.info["transparency"] = 7
    else:
        picture = picture.convert(mode)
    if ending == "heic":
        load_heif_reader()
    picture.save(tmp_path / f"a.{ending}", **({"lossless": True} if ending == "webp" else {}))
    whole = open_photo(tmp_path / f"a.{ending}").pixels.astype(float)
    monkeypatch.setattr(photo_module, "ENOUGH_PIXELS", 1000)
    monkeypatch.setattr(pixels_module, "_ROWS_AT_ONCE", 5)
    halved = open_photo(tmp_path / f"a.{ending}").pixels
    factor = whole.shape[0] // halved.shape[0]
    height, width = (side // factor for side in whole.shape[:2])
    blocks = whole[: height * factor, : width * factor].reshape(height, factor, width, factor, 3)
    assert factor in (2, 4)
    # Where parts are transparent, white is mixed in after halving: the same but for rounding.
    assert np.abs(halved[:height, :width] - blocks.mean(axis=(1, 3))).max() <= (
        4 if mode in ("RGBA", "LA", "P") else 1
    )


def test_a_photo_of_usual_size_is_not_halved(tmp_path):
    path = tmp_path / "small.jpg"
    quarters(2016, 1512).save(path)
    photo = open_photo(path)
    assert photo.pixels.shape == (1512, 2016, 3)
    assert open_finer(photo) is None


@pytest.mark.parametrize("ending", ["jpg", "png"])
def test_a_very_large_photo_is_halved_even_at_its_finest(tmp_path, ending):
    side = int(FINEST_PIXELS**0.5) + 200
    path = tmp_path / f"large.{ending}"
    quarters(side, side).save(path, **({} if ending == "jpg" else {"compress_level": 1}))
    photo = open_photo(path)
    assert abs(photo.pixels.shape[0] - side / 2) <= 1  # an odd side's last pixel
    assert_quarters(photo.pixels)
    assert open_finer(photo) is None


def test_a_progressive_jpeg_of_many_coefficients_is_not_had_finer(tmp_path, monkeypatch):
    # All of them are in memory while it is decoded, whatever its pixels are halved to.
    path = tmp_path / "large.jpg"
    quarters(4032, 3024).save(path, progressive=True)
    assert open_photo(path).finer_in == path
    monkeypatch.setattr(photo_module, "_MANY_COEFFICIENT_BYTES", 1_000_000)
    photo = open_photo(path)
    assert photo.pixels.shape == (1512, 2016, 3) and photo.finer_in is None
    assert_quarters(photo.pixels)


DECODED_FIRST = """
import sys
from pathlib import Path
from PIL import JpegImagePlugin
from vision.reading import photo
photo._MANY_COEFFICIENT_BYTES = 1_000_000
load = JpegImagePlugin.JpegImageFile.load
def noted(picture):
    print(sorted({"cv2", "numpy"} & set(sys.modules)))
    return load(picture)
JpegImagePlugin.JpegImageFile.load = noted
print(photo.open_photo(Path(sys.argv[1])).pixels.shape)
"""


def test_a_jpeg_of_many_coefficients_is_decoded_before_anything_large_is_loaded(tmp_path):
    # With 210 megapixels they take 630 MB, and OpenCV and NumPy nearly fifty more.
    quarters(4032, 3024).save(tmp_path / "large.jpg", progressive=True)
    command = [sys.executable, "-c", DECODED_FIRST, str(tmp_path / "large.jpg")]
    told = subprocess.run(command, capture_output=True, text=True, check=True).stdout
    assert told.split("\n")[0] == "[]" and "(1512, 2016, 3)" in told


def png_header_only(width, height):
    """A PNG that claims a size and holds almost nothing: what a bomb looks like from outside."""
    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    body = b"\x89PNG\r\n\x1a\n"
    for kind, data in ((b"IHDR", head), (b"IDAT", zlib.compress(b"\0" * 1000)), (b"IEND", b"")):
        body += struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
    return body


def cut_short(ending):
    buffer = io.BytesIO()
    noise = np.random.default_rng(3).integers(0, 255, (200, 200, 3), dtype=np.uint8)
    Image.fromarray(noise).save(buffer, ending)
    return buffer.getvalue()[: len(buffer.getvalue()) // 2]


BAD_FILES = {
    "empty.jpg": (b"", "empty"),
    "letter.jpg": (b"Dear all, the photo is in the other mail.\n" * 40, "not a picture"),
    "cut.jpg": (cut_short("JPEG"), "cut short"),
    "cut.png": (cut_short("PNG"), "cut short"),
    "cut.webp": (cut_short("WEBP"), ""),
    "huge.png": (png_header_only(30_000, 30_000), "too large"),
    "wide.png": (png_header_only(15_000, 15_000), "too large"),
    "hollow.png": (png_header_only(300, 300), "cut short"),
    "fake.heic": (b"\0\0\0\x18ftypheic" + b"\0" * 200, ""),
    "start.jpg": (b"\xff\xd8\xff", ""),
}


@pytest.mark.parametrize("name", sorted(BAD_FILES))
def test_a_bad_file_is_one_sentence(tmp_path, name):
    content, words = BAD_FILES[name]
    path = tmp_path / name
    path.write_bytes(content)
    with pytest.raises(PhotoFileError) as caught:
        open_photo(path)
    message = str(caught.value)
    assert name in message
    assert words in message
    assert "\n" not in message
    assert caught.value.exit_code == 4


def test_folders_and_missing_files_are_named(tmp_path):
    with pytest.raises(PhotoFileError, match="folder"):
        open_photo(tmp_path)
    with pytest.raises(PhotoFileError, match="no such file"):
        open_photo(tmp_path / "gone.jpg")
    with pytest.raises(PhotoFileError):
        open_photo(tmp_path / ("x" * 5000 + ".jpg"))
