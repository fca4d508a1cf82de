"""HEIC pictures that are grids of tiles, tile by tile, against what the library makes of the whole picture."""

import io
import random
from functools import cache

import cv2
import numpy as np
import pillow_heif
import pytest
from PIL import Image

from vision.reading import photo as photo_module
from vision.reading import pixels
from vision.reading.heif_grid import grid_in, grid_reduced
from vision.reading.photo import PhotoFileError, load_heif_reader, open_photo

pytestmark = pytest.mark.skipif(
    not hasattr(pillow_heif.options, "GRID_TILE_SIZE"), reason="this version of the library writes no grids"
)
TILE = 64


def spotted(width, height):
    """Smooth colours, another one in each place."""
    y, x = np.mgrid[0:height, 0:width]
    return np.stack([x * 255 // width, y * 255 // height, (x + 2 * y) % 256], axis=2).astype(np.uint8)


@cache
def coded(orientation, tile, **said):
    load_heif_reader()
    exif = Image.Exif()
    exif[0x0112] = orientation  # the library writes it as the boxes `irot` and `imir`
    buffer = io.BytesIO()
    picture = Image.fromarray(spotted(300, 220))
    picture.save(buffer, "HEIF", tile_size=tile, exif=exif.tobytes(), quality=90, **said)
    return buffer.getvalue()


def saved(path, orientation=1, tile=TILE, **said):
    path.write_bytes(coded(orientation, tile, **said))
    return path


def whole(path, factor):
    """The library's own picture of all tiles, made small."""
    pixels = np.asarray(pillow_heif.open_heif(path, convert_hdr_to_8bit=True))[:, :, :3]
    height, width = (side // factor for side in pixels.shape[:2])
    return cv2.resize(
        pixels[: height * factor, : width * factor], (width, height), interpolation=cv2.INTER_AREA
    )


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("factor", [2, 4])
def test_a_grid_is_what_the_library_makes_of_the_whole_picture(tmp_path, orientation, factor):
    # The last row and column of tiles stick out over the picture: 300 = 4 x 64 + 44, 220 = 3 x 64 + 28.
    path = saved(tmp_path / "card.heic", orientation=orientation)
    grid = grid_in(path)
    assert (grid.width, grid.height, len(grid.tiles), len(grid.tiles[0])) == (300, 220, 4, 5)
    assert np.array_equal(grid_reduced(path, grid, factor), whole(path, factor))


@pytest.mark.parametrize(
    "said", [{"chroma": "444"}, {"icc_profile": b"x" * 200}, {"save_nclx_profile": False}]
)
def test_colours_are_said_by_the_grid_or_by_its_tiles(tmp_path, said):
    path = saved(tmp_path / "card.heic", **said)
    assert np.array_equal(grid_reduced(path, grid_in(path), 2), whole(path, 2))


def test_ten_bits_become_eight(tmp_path):
    path = tmp_path / "deep.heic"
    deep = spotted(200, 150).astype(np.uint16) << 8
    pillow_heif.encode("RGB;16", (200, 150), deep.tobytes(), path, tile_size=TILE)
    assert pillow_heif.open_heif(path, convert_hdr_to_8bit=False).info["bit_depth"] == 10
    assert np.array_equal(grid_reduced(path, grid_in(path), 2), whole(path, 2))


@pytest.mark.parametrize(("ending", "tile"), [("heic", 0), ("jpg", None), ("heic", 72)])
def test_what_is_no_such_grid_is_left_to_the_library(tmp_path, ending, tile):
    path = tmp_path / f"card.{ending}"
    if tile is None:
        Image.fromarray(spotted(300, 220)).save(path)
    else:
        saved(path, tile=tile)
    assert grid_in(path) is None


@pytest.fixture
def small_limits(monkeypatch):
    monkeypatch.setattr(photo_module, "ENOUGH_PIXELS", 10_000)
    monkeypatch.setitem(photo_module._MOST, "HEIF", 50_000)


@pytest.mark.parametrize("orientation", range(1, 9))
def test_a_photo_too_large_to_decode_whole_opens_where_it_is_a_grid(tmp_path, small_limits, orientation):
    opened = open_photo(saved(tmp_path / "grid.heic", orientation=orientation)).pixels
    upright = open_photo(saved(tmp_path / "upright.heic")).pixels
    assert opened.shape == ((110, 150, 3) if orientation < 5 else (150, 110, 3))
    shown = np.asarray(pixels.upright(upright, orientation), dtype=int)
    assert np.abs(opened - shown).max() <= 2  # rounding, where tiles were coded apart
    with pytest.raises(PhotoFileError, match="too large"):
        open_photo(saved(tmp_path / "whole.heic", tile=0))


@pytest.mark.parametrize("part", range(4))
def test_a_spoilt_grid_opens_or_is_one_sentence(tmp_path, small_limits, part):
    sound = saved(tmp_path / "sound.heic").read_bytes()
    header = sound.index(b"mdat")
    chance = random.Random(part)
    for _ in range(60):
        data = bytearray(sound)
        for _ in range(chance.choice((1, 2, 8))):
            at = chance.randrange(header)
            data[at] = chance.choice((0, 1, 0xFF, data[at] ^ 1 << chance.randrange(8)))
        path = tmp_path / "spoilt.heic"
        path.write_bytes(data if chance.random() < 0.8 else data[: chance.randrange(header, len(data))])
        try:
            assert open_photo(path).pixels.dtype == np.uint8
        except PhotoFileError as error:
            assert "\n" not in str(error)
