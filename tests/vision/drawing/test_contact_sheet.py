"""The contact sheet: each overlay's card part in its place, and nothing breaks on a damaged one."""

import io

import numpy as np
import pytest
from PIL import Image
from PIL.PngImagePlugin import PngInfo

from vision.drawing.colours import GREEN, SHEET, YELLOW
from vision.drawing.contact_sheet import COLUMNS, Tile, card_part, draw_contact_sheet
from vision.drawing.panel import CARD_ROWS

RED, BLUE = (200, 30, 30), (20, 40, 220)


def overlay(colour=RED, rows="100 300", size=(240, 400)):
    """A picture that is blue but for the rows of the card."""
    picture = Image.new("RGB", size, BLUE)
    picture.paste(colour, (0, 100, size[0], 300))
    texts = PngInfo()
    if rows is not None:
        texts.add_text(CARD_ROWS, rows)
    buffer = io.BytesIO()
    picture.save(buffer, "PNG", pnginfo=texts)
    return buffer.getvalue()


def share(picture, colour):
    return float(np.all(np.abs(np.asarray(picture).astype(int) - colour) < 12, axis=-1).mean())


def test_only_the_card_is_cut_out():
    part = card_part(overlay())
    assert part.size == (240, 200)
    assert share(part, RED) == 1.0


@pytest.mark.parametrize("rows", [None, "", "300 100", "x y", "0", "0 99999", "-5 20"])
def test_an_overlay_that_does_not_tell_is_shown_whole(rows):
    assert card_part(overlay(rows=rows)).size == (240, 400)


@pytest.mark.parametrize("data", [b"", b"no picture", overlay()[:200], b"\xff\xd8\xff\xe0" + bytes(50)])
def test_what_cannot_be_opened_is_an_empty_frame(data):
    assert card_part(data) is None
    sheet = draw_contact_sheet([Tile(data, "Harbour", "")], "1 design")
    assert share(sheet, SHEET) > 0.8


def test_a_picture_too_large_is_not_opened():
    # The head says 60,000 x 60,000: a small file that would take ten gigabytes.
    data = bytearray(overlay())
    data[16:24] = (60_000).to_bytes(4) * 2
    assert card_part(bytes(data)) is None


def test_tiles_stand_in_rows_from_left_to_right():
    colours = [(200, 30, 30), (30, 160, 30), (30, 30, 200), (160, 30, 160), (30, 160, 160)]
    tiles = [Tile(overlay(colour), f"Card {i}", "") for i, colour in enumerate(colours)]
    sheet = np.asarray(draw_contact_sheet(tiles, "5 designs")).astype(int)
    middles = []
    for colour in colours:
        ys, xs = np.nonzero(np.all(np.abs(sheet - colour) < 12, axis=-1))
        assert len(ys) > 5000
        middles.append((float(xs.mean()), float(ys.mean())))
    first, second = middles[:COLUMNS], middles[COLUMNS:]
    assert [x for x, _ in first] == sorted(x for x, _ in first)
    # [px] Of tiles some 300 wide; the colours' own pixels differ a little at their rims.
    assert [x for x, _ in second] == pytest.approx([x for x, _ in first][: len(second)], abs=3)
    assert max(y for _, y in first) < min(y for _, y in second)


def test_the_sign_tells_the_state():
    ready = draw_contact_sheet([Tile(overlay(), "Harbour", "", "ready")], "1 design")
    fix = draw_contact_sheet([Tile(overlay(), "Harbour", "", "must-fix", 2)], "1 design")
    assert share(ready, GREEN) > share(fix, GREEN)
    assert share(fix, YELLOW) > share(ready, YELLOW)


def test_no_tile_at_all_and_endless_titles():
    assert draw_contact_sheet([], "No designs").width == 1440
    long = draw_contact_sheet([Tile(overlay(), "Harbour " * 60, "3 lights " * 60)], "1 design " * 20)
    assert long.width == 1440
