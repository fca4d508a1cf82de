"""Four sides laid round a map of chances, without any network: maps drawn here."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from vision.reading.card.outline import LEAST_SHEET_PX, apart_px, borne_out, outlines, sheets

CARD = np.array([[30.0, 25.0], [118.0, 33.0], [110.0, 130.0], [22.0, 118.0]])


def map_of(ring: np.ndarray, size: tuple[int, int] = (160, 160), fog: float = 0.0) -> np.ndarray:
    """A map as the network gives it: soft at the rim, `fog` elsewhere."""
    fine = np.zeros((size[1] * 8, size[0] * 8), np.uint8)
    cv2.fillPoly(fine, [np.round(((ring + 0.5) * 8 - 0.5) * 16).astype(np.int32)], 255, cv2.LINE_8, 4)
    share = cv2.GaussianBlur(
        cv2.resize(fine, size, interpolation=cv2.INTER_AREA) / np.float32(255), (0, 0), 0.8
    )
    return (fog + (0.98 - fog) * share).astype(np.float32)


def sides_of(corners: np.ndarray) -> np.ndarray:
    t = np.linspace(0.1, 0.9, 9)[None, :, None]
    return corners[:, None] + t * (np.roll(corners, -1, axis=0) - corners)[:, None]


def corner_error(found: np.ndarray, true: np.ndarray) -> float:
    return min(float(np.linalg.norm(np.roll(found, k, axis=0) - true, axis=1).max()) for k in range(4))


def test_corners_come_out_to_a_fraction_of_a_map_pixel():
    (sheet,) = sheets(map_of(CARD))
    # A quarter of a pixel is what the map is enlarged to; the rim is averaged along a whole side.
    assert corner_error(sheet.corners, CARD) < 0.4
    assert sheet.plain and not sheet.cut_off


def test_a_side_that_the_lens_bends_is_followed():
    t = np.linspace(0, 1, 30, endpoint=False)[:, None]
    sides = [CARD[k] + t * (CARD[(k + 1) % 4] - CARD[k]) for k in range(4)]
    middle = CARD.mean(axis=0)
    ring = np.vstack(sides)
    ring = middle + (ring - middle) * (1 - 0.06 * (np.linalg.norm(ring - middle, axis=1) / 80) ** 2)[:, None]
    (sheet,) = sheets(map_of(ring))
    bent = sheet.lines[0].at(np.array([sheet.lines[0].length_px / 2]))[0]
    assert np.linalg.norm(ring - bent, axis=1).min() < 1.0
    assert corner_error(sheet.corners, ring[::30]) < 0.8


def test_a_notch_under_a_finger_does_not_move_a_side():
    chances = map_of(CARD)
    cv2.circle(chances, (72, 28), 7, 0.0, -1)
    (sheet,) = sheets(chances)
    assert corner_error(sheet.corners, CARD) < 1.2


def test_what_only_might_be_card_falls_away():
    chances = map_of(CARD)
    chances[40:90, 105:150] = np.maximum(chances[40:90, 105:150], 0.7)
    best = sheets(chances)[0]
    assert corner_error(best.corners, CARD) < 1.5


@pytest.mark.parametrize("shift", [(-60.0, 0.0), (0.0, 70.0)])
def test_a_sheet_that_runs_out_of_the_picture_is_cut_off(shift):
    (sheet,) = outlines(map_of(CARD + np.array(shift)), LEAST_SHEET_PX)
    assert sheet.cut_off


@pytest.mark.parametrize("level", [0.0, 0.3, 0.49])
def test_there_is_no_sheet_where_the_map_shows_none(level):
    assert sheets(np.full((120, 160), level, np.float32)) == []


def test_specks_and_threads_are_no_sheets():
    chances = np.zeros((160, 160), np.float32)
    chances[80, 10:150] = 0.9
    chances[20:26, 20:26] = 0.9
    assert sheets(chances) == []


def test_an_outline_is_borne_out_only_where_it_lies():
    chances = map_of(CARD)
    assert borne_out(chances, sides_of(CARD)) > 0.9
    larger = CARD.mean(axis=0) + 1.2 * (CARD - CARD.mean(axis=0))
    assert borne_out(chances, sides_of(larger)) < 0.1
    one_side_off = CARD.copy()
    one_side_off[[1, 2], 0] += 6
    assert borne_out(chances, sides_of(one_side_off)) < 0.2


def test_how_far_apart_two_outlines_lie():
    (sheet,) = sheets(map_of(CARD))
    assert apart_px(sheet, sides_of(CARD)) < 0.3
    moved = CARD.copy()
    moved[[0, 3], 0] -= 2.0
    # The left side leans, so a shift of 2 px along x is a little less across it.
    assert apart_px(sheet, sides_of(moved)) == pytest.approx(2.0, abs=0.3)
    assert apart_px(sheet, sides_of(np.roll(CARD, 1, axis=0))) < 0.3
