"""The simulator tells the truth about its photos, and gives the same photo for the same seed."""

from __future__ import annotations

import math
from dataclasses import replace

import cv2
import numpy as np
import pytest
from PIL import Image, ImageOps

from tests.benchmarks.photo_simulator import __main__ as command
from tests.benchmarks.photo_simulator.edges import span_along, unclean, wander_of_chance
from tests.benchmarks.photo_simulator.letters import GLYPHS
from tests.benchmarks.photo_simulator.outlines import OUTLINES, outline
from tests.benchmarks.photo_simulator.render import Wishes, shoot
from tests.benchmarks.photo_simulator.scene import REFUSALS, card_of_chance, sheet_of_chance
from tests.benchmarks.photo_simulator.sensor import save
from tests.card_kit.camera import Sheet, aim
from tests.card_kit.pencil import fit_circle
from tests.pictures import assert_alike

PLAIN = Wishes(tier="A", readable_only=True, large_share=0.0)


def test_a_coloured_lead_tints_the_marks_and_nothing_else() -> None:
    grey, coloured = (shoot(5, 0, replace(PLAIN, coloured=many)) for many in (False, True))
    assert coloured.truth["lights"] == grey.truth["lights"]
    lead = np.array(coloured.truth["scene"]["lead"])
    assert grey.truth["scene"]["lead"] == [1.0, 1.0, 1.0] and lead.min() < 0.7
    # A light's middle gives back more of the colour that the lead takes least of.
    x, y = np.rint(
        grey.to_px(np.array([[grey.truth["lights"][0][axis] for axis in ("x_mm", "y_mm")]]))[0]
    ).astype(int)
    dot, drawn = (shot.picture[y - 1 : y + 2, x - 1 : x + 2].mean(axis=(0, 1)) for shot in (grey, coloured))
    assert np.argmax(drawn / dot) == lead.argmin() and (drawn / dot).max() > 1.2
    # Elsewhere the two are one photo but for what the sensor makes of a little more light.
    assert np.median(np.abs(coloured.picture.astype(float) - grey.picture)) <= 2.0


@pytest.fixture(scope="module")
def shots():
    return [shoot(5, number, PLAIN) for number in range(3)]


def test_truth_points_at_the_dots(shots):
    seen = 0
    for shot in shots:
        light = (shot.picture[:, :, 1] / 255.0) ** 2.2
        for mark in shot.truth["lights"]:
            x, y = round(mark["x_px"]), round(mark["y_px"])
            spot = light[y - 16 : y + 17, x - 16 : x + 17]
            missing = np.clip(0.75 * np.percentile(spot, 90) - spot, 0, None)
            rows, columns = np.mgrid[-16:17, -16:17]
            off = np.array([(columns * missing).sum(), (rows * missing).sum()]) / missing.sum() + (x, y)
            # 1 px, a tenth of a millimetre: sharpening and JPEG; a wrong frame is off by far more.
            assert off == pytest.approx((mark["x_px"], mark["y_px"]), abs=1.0)
            seen += 1
    assert seen > 5


def test_coded_squares_are_found_where_the_truth_says():
    wishes = Wishes(tier="A", refuse="square and card disagree", tilt_deg=20.0, large_share=0.0)
    shot = shoot(6, 1, wishes)  # always coded; printed at 94 per cent, which changes nothing here
    detector = cv2.aruco.ArucoDetector(cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50))
    corners, ids, _ = detector.detectMarkers(cv2.cvtColor(shot.picture, cv2.COLOR_RGB2GRAY))
    square = shot.truth["square"]
    assert ids is not None and square["id"] in ids
    found = corners[ids.ravel().tolist().index(square["id"])][0]
    assert found == pytest.approx(np.array(square["corners_px"]), abs=3.0)  # unrefined corners
    assert square["true_side_mm"] == pytest.approx(0.94 * square["side_mm"])


def test_the_same_seed_gives_the_same_photo(shots):
    again = shoot(5, 1, PLAIN)
    assert_alike("same-photo", again.picture, shots[1].picture)
    assert again.truth == shots[1].truth
    assert not np.array_equal(shots[0].picture, shots[1].picture)


@pytest.mark.parametrize("tag", [1, 3, 6, 8])
def test_a_viewer_shows_the_picture_upright_for_every_orientation_tag(tag, shots, tmp_path):
    save(shots[0].picture, replace(shots[0].sensor, orientation=tag, jpeg_quality=95), tmp_path / "photo.jpg")
    with Image.open(tmp_path / "photo.jpg") as opened:
        shown = np.asarray(ImageOps.exif_transpose(opened).convert("RGB"))
    assert shown.shape == shots[0].picture.shape
    assert np.abs(shown.astype(int) - shots[0].picture).mean() < 4  # JPEG's own loss


@pytest.mark.parametrize("way", ["end", "ends", "arch", "s"])
def test_a_bent_sheet_keeps_its_lengths_and_is_met_where_it_is(way):
    sheet = Sheet.bent(0.3, 30.0, (-20.0, 180.0), 60.0, 4.0, way)
    line = np.column_stack([np.linspace(0, 150, 3001), np.full(3001, 20.0)])
    world = sheet.to_world(line)
    length = np.sum(np.linalg.norm(np.diff(world, axis=0), axis=1))
    assert length == pytest.approx(150, abs=0.01)  # paper does not stretch
    camera = aim(
        world, width_px=1512, height_px=2016, equivalent_mm=26, tilt_deg=30, toward_deg=200, roll_deg=12,
        fill=0.9, nudge=(0.2, -0.3), k1=-0.05, k2=0.004,
    )  # fmt: skip
    back = sheet.meet(camera.eye, camera.rays(camera.project(world)))
    assert back == pytest.approx(line, abs=1e-4)
    tilt = math.degrees(math.acos(camera.rotation[2, 2]))
    assert tilt == pytest.approx(30, abs=1e-6)


def test_a_sheet_that_lies_in_waves_keeps_its_lengths_and_is_met_where_it_is(shots):
    rng = np.random.default_rng(4)
    corners = np.array([(0.0, 0.0), (108.0, 0.0), (108.0, 140.0), (0.0, 140.0)])
    for lift in (0.0, 3.0):
        curled = Sheet.bent(0.3, 80.0, span_along(corners, 80.0), 60.0, lift, "end") if lift else Sheet(0.3)
        sheet = unclean(rng, curled, corners, lift)
        line = np.column_stack([np.linspace(2, 106, 2001), np.linspace(3, 138, 2001)])
        world = sheet.to_world(line)
        length = np.sum(np.linalg.norm(np.diff(world, axis=0), axis=1))
        # 0.02 mm: the sheet is a chain of pieces of 0.1 mm
        assert length == pytest.approx(np.linalg.norm(line[-1] - line[0]), abs=0.02)
        assert np.ptp(world[:, 2]) > 0.01
        eye = np.array([50.0, 60.0, -250.0])
        assert sheet.meet(eye, world - eye) == pytest.approx(line, abs=1e-3)


def test_the_truth_tells_how_far_an_edge_wanders():
    shot = shoot(5, 0, PLAIN)
    assert max(shot.truth["card"]["edge_bow_mm"]) > 0.02
    assert shoot(5, 0, replace(PLAIN, clean=True)).truth["card"]["edge_bow_mm"] == [0, 0, 0, 0]
    wander = wander_of_chance(np.random.default_rng(3), by_hand=True)
    card = replace(card_of_chance(np.random.default_rng(3), None), wander_mm=wander)
    rim = card.rim_mm(96).reshape(4, 96, 2)
    for side in range(4):
        start, end = card.corners_mm[side], card.corners_mm[(side + 1) % 4]
        along = (end - start) / np.linalg.norm(end - start)
        outward = (rim[side] - start) @ np.array([along[1], -along[0]])
        assert outward == pytest.approx(wander[side, :96], abs=1e-9)


def test_both_ends_of_a_sheet_rise_from_its_flat_middle():
    sheet = Sheet.bent(0.3, 0.0, (0.0, 150.0), 60.0, 3.0, "ends")
    height = -sheet.to_world(np.array([(0.0, 0.0), (60.0, 0.0), (90.0, 0.0), (150.0, 0.0)]))[:, 2] - 0.3
    # 0.02 mm: the sheet is a chain of pieces of 0.1 mm
    assert height == pytest.approx([3, 0, 0, 3], abs=0.02)


def test_a_sheet_bent_as_an_s_touches_the_table_at_one_end_and_in_a_trough():
    sheet = Sheet.bent(0.3, 0.0, (0.0, 160.0), 60.0, 3.0, "s")
    # The third Chebyshev polynomial is -1 at -1 and 1/2 of the half length, 1 at -1/2 and 1.
    height = -sheet.to_world(np.array([(0.0, 0.0), (120.0, 0.0), (40.0, 0.0), (160.0, 0.0)]))[:, 2] - 0.3
    # 0.02 mm: the sheet is a chain of pieces of 0.1 mm; its rising end has a slope of 1 in 3 of a millimetre each
    assert height == pytest.approx([0, 0, 3, 3], abs=0.05)


def test_of_a_sheet_with_two_corners_up_the_other_two_lie_lower():
    card = card_of_chance(np.random.default_rng(3), None)
    for seed in range(4):
        sheet, lift = sheet_of_chance(np.random.default_rng(seed), card, 3.0, "corners")
        height = -sheet.to_world(card.corners_mm)[:, 2] - sheet.thickness_mm
        # One diagonal's corners, then the other's; the bend begins anywhere from the middle on, and on no card does the
        # other diagonal's corner lie half way out, where a parabola has a quarter of its height.
        low, high = sorted((height[::2], height[1::2]), key=np.sum)
        assert lift == 3.0
        assert low.max() < 3.0 / 4 and high == pytest.approx([3, 3], abs=0.05)  # curves are chains of pieces


def test_maps_agree_with_projection():
    sheet = Sheet.bent(0.3, 100.0, (0.0, 150.0), 40.0, 3.0, "arch")
    paper = np.array([(12.3, 20.1), (70.2, 100.4), (100.0, 5.5)])
    camera = aim(
        sheet.to_world(paper), width_px=800, height_px=600, equivalent_mm=24, tilt_deg=25, toward_deg=70,
        roll_deg=-100, fill=0.8, nudge=(0, 0), k1=0.06, k2=-0.01,
    )  # fmt: skip
    x, y = camera.sampling_maps(sheet, (0, 0, 800, 600))
    for (u, v), (px, py) in zip(camera.project(sheet.to_world(paper)), paper, strict=True):
        at = np.float32([[u]]), np.float32([[v]])
        # 0.01 mm: remap itself places to 1/32 px, here about 0.2 mm/px.
        assert cv2.remap(x, *at, cv2.INTER_LINEAR)[0, 0] == pytest.approx(px, abs=0.01)
        assert cv2.remap(y, *at, cv2.INTER_LINEAR)[0, 0] == pytest.approx(py, abs=0.01)


def test_circles_are_fitted_as_truth_says():
    angle = np.linspace(0, 5, 60)  # an arc only
    points = np.column_stack([31.5 + 10.3 * np.cos(angle), -4.25 + 10.3 * np.sin(angle)])

    assert fit_circle(points) == pytest.approx((31.5, -4.25, 20.6), abs=1e-9)


@pytest.mark.parametrize("name", OUTLINES)
def test_outlines_are_plain_closed_shapes(name):
    from shapely.geometry import Polygon

    shape = Polygon(outline(np.random.default_rng(3), name, 50.0, 0.0))
    assert shape.is_valid and shape.area > 250  # no outline crosses itself or is a sliver
    low_x, low_y, high_x, high_y = shape.bounds
    assert max(high_x - low_x, high_y - low_y) == pytest.approx(50)


def test_every_letter_stands_on_its_line():
    for glyph in GLYPHS.values():
        points = np.vstack(glyph.strokes)
        assert points[:, 1].max() <= 1.05 and points[:, 1].min() >= -0.55 and glyph.width <= 0.8


@pytest.mark.parametrize(
    "refuse", ["card cut by the frame", "square cut by the frame", "two battery circles"]
)
def test_photos_to_refuse_are_as_bad_as_they_say(refuse):
    assert refuse in REFUSALS
    shot = shoot(7, 2, Wishes(tier="A", refuse=refuse, large_share=0.0))
    height, width = shot.picture.shape[:2]
    truth = shot.truth

    def cut(corners) -> bool:
        return any(not (0 <= x < width and 0 <= y < height) for x, y in corners)

    assert truth["expect"] == "refuse" and truth["reason"] == refuse
    assert cut(truth["card"]["corners_px"]) == (refuse == "card cut by the frame")
    assert cut(truth["square"]["corners_px"]) == (refuse == "square cut by the frame")
    assert len(truth["extra_batteries"]) == (refuse == "two battery circles")


def test_the_command_writes_pairs_and_leaves_old_ones(tmp_path, capsys):
    arguments = [str(tmp_path), "--count", "1", "--seed", "8", "--tier", "C", "--refuse-share", "0"]
    command.main([*arguments, "--sheet", str(tmp_path / "all.png")])
    names = sorted(path.name for path in tmp_path.iterdir())
    assert names == ["all.png", "sim-c-8-0000.jpg", "sim-c-8-0000.json"]
    before = (tmp_path / "sim-c-8-0000.jpg").read_bytes()
    command.main(arguments)
    assert (tmp_path / "sim-c-8-0000.jpg").read_bytes() == before
    assert "1 photos" in capsys.readouterr().out
