"""A photo in, a layout out, each mark inside its stated bound."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

import vision.reading
from circuit import remarks
from circuit.asked import Asked
from circuit.errors import UsageError
from circuit.layout import Card, Doubt, Layout, LightMark, Saying
from tests.vision.draw import Camera, Dot, Drawing, Ring, Square, Stroke, draw
from vision.errors import NoBatteryError, NoDotsError, TwoBatteriesError
from vision.reading.fit.view import View
from vision.reading.marks.dots import WHAT_ELSE
from vision.reading.photo import Photo, open_photo
from vision.reading.read import _labelled, read_photo


def read(shot, **request):
    return read_photo(Photo("card.jpg", shot.pixels), Asked(**request))


def test_a_plain_card_is_read_whole_and_sure():
    reading = read(draw())
    layout = reading.layout
    assert [light.label for light in layout.lights] == ["L1", "L2", "L3"]
    # Reading order: L1 (62.5, 35.2) lies 5.6 mm above (31.2, 40.8).
    assert [round(light.x_mm) for light in layout.lights] == [62, 31, 56]
    assert layout.battery.diameter_mm == pytest.approx(20.6, abs=0.4)
    assert reading.reading.sure and reading.reading.doubts == ()
    assert reading.reading.square_kind == "coded" and reading.reading.square_side_mm == 30.0
    assert (
        0
        < reading.reading.uncertainty_mm
        == max(*(light.uncertainty_mm for light in layout.lights), layout.battery.uncertainty_mm)
    )


def test_lights_that_lie_level_are_numbered_from_left_to_right():
    dots = (Dot(80.2, 40.1), Dot(20.3, 41.9), Dot(50.1, 42.8), Dot(30.2, 70.1))
    lights = read(draw(Drawing(dots=dots))).layout.lights
    assert [round(light.x_mm) for light in lights] == [20, 50, 80, 30]


def test_ninety_five_of_a_hundred_marks_lie_inside_their_bounds():
    # Hand-cut cards: each side off by up to half a millimetre, any amount alike; ways of looking at random.
    rng = np.random.default_rng(11)
    inside, total = 0, 0
    for seed in range(8):
        width, height = np.array([107.95, 139.7]) + rng.uniform(-0.5, 0.5, 2)
        dots = tuple(
            Dot(float(x), float(y), 3.4) for x, y in ((12.3, 14.1), (92.7, 18.2), (55.4, 62.9), (14.8, 101.7))
        )
        drawing = Drawing(
            float(width),
            float(height),
            dots=dots,
            square=Square(coded=seed % 2 == 0, side_mm=25.4 if seed % 2 else 25.0),
        )
        camera = Camera(
            width_px=750,
            height_px=1000,
            tilt_deg=float(rng.uniform(2, 30)),
            tilt_toward_deg=float(rng.uniform(0, 360)),
            roll_deg=float(rng.normal(0, 7)),
            k1=float(rng.normal(0, 0.03)),
        )
        reading = read(draw(drawing, camera, seed=seed))
        assert reading.layout.card.size == "quarter-letter"
        for light in reading.layout.lights:
            nearest = min(dots, key=lambda dot: np.hypot(dot.x_mm - light.x_mm, dot.y_mm - light.y_mm))
            error = np.hypot(nearest.x_mm - light.x_mm, nearest.y_mm - light.y_mm)
            inside, total = inside + (error <= light.uncertainty_mm), total + 1
    # Marks of one card share its errors; 0.8 is two standard deviations below 0.95 for 10 independent ones.
    assert total == 32
    assert inside / total > 0.8


@pytest.mark.parametrize(("bound_mm", "said"), [(0.75, []), (0.85, ["places-uncertain"])])
def test_a_mark_that_may_lie_over_0_8_mm_off_is_doubted(bound_mm, said, monkeypatch):
    # Of a round Gaussian 95 % lie within 2.448 standard deviations: the root of twice the logarithm of 20. A mark's own
    # raggedness comes on top, under 0.1 mm: too little to lift 0.75 to 0.8.
    covariance = (bound_mm / np.sqrt(2 * np.log(20))) ** 2 * np.eye(2)
    monkeypatch.setattr(
        View, "position_covariance", lambda _, places: np.tile(covariance, (len(places), 1, 1))
    )
    reading = read(draw()).reading
    assert bound_mm <= reading.uncertainty_mm < bound_mm + 0.05
    assert [doubt.says.key for doubt in reading.doubts] == said
    assert reading.sure == (not said)


def test_without_a_battery_circle_there_is_no_reading():
    with pytest.raises(NoBatteryError):
        read(draw(Drawing(ring=None)))


def test_two_battery_circles_are_refused_with_their_places():
    with pytest.raises(TwoBatteriesError) as caught:
        read(draw(Drawing(more_rings=(Ring(28.0, 100.0),))))
    assert len(caught.value.where_px) == 2


def test_without_a_dot_there_is_no_reading():
    with pytest.raises(NoDotsError):
        read(draw(Drawing(dots=())))


def test_a_named_size_is_understood_and_an_unknown_name_is_wrong_use():
    assert read(draw(), card_name="Quarter-Letter").layout.card.size == "quarter-letter"
    with pytest.raises(UsageError):
        read(draw(), card_name="postage stamp")


def test_only_quarter_turns_can_be_asked_for():
    with pytest.raises(ValueError, match="turn_deg"):
        Asked(turn_deg=45)


def test_what_the_mark_finders_note_comes_with_its_place():
    struck = (Stroke(((45.0, 85.0), (53.0, 93.0)), 0.7, 0.9), Stroke(((53.0, 85.0), (45.0, 93.0)), 0.7, 0.9))
    drawing = Drawing(dots=(*Drawing().dots, Dot(49.0, 89.0, 3.2)), strokes=struck)
    reading = read(draw(drawing, seed=3))
    assert len(reading.crossed_out) == 1
    [note] = [note for note in reading.notes if note.says.key == "crossed-out"]
    assert note.where_mm == reading.crossed_out[0]


def test_a_doubt_about_a_light_bears_its_label_and_one_left_out_bears_none():
    layout = Layout(Card(100, 80), (LightMark("L7", 20.0, 30.0),))
    taken, left, card = (
        Doubt("light", (20.0, 30.0), Saying("light-or-speck")),
        Doubt("light", (50.0, 30.0), Saying("light-or-else")),
        Doubt("card", None, Saying("bent", {"lift_mm": 2.0})),
    )
    assert [doubt.about for doubt in _labelled([taken, left, card], layout)] == ["L7", "", "card"]


def test_everything_that_the_reading_may_say_has_its_sentence():
    keys = set()
    for path in sorted(Path(vision.reading.__file__).parent.rglob("*.py")):
        text = path.read_text(encoding="utf-8")
        keys |= set(re.findall(r'(?:Saying|_doubt)\(\s*"([a-z-]+)"', text))
    assert len(keys) >= 8
    for key in {*keys, *(f"light-or-{why}" for why in WHAT_ELSE)}:
        assert key in remarks.REMARKS, key


def saved(tmp_path, shot):
    path = tmp_path / "card.jpg"
    Image.fromarray(shot.pixels).save(path, quality=92)
    return open_photo(path)


LARGE = {"width_px": 2850, "height_px": 3800}


def test_a_large_photo_is_read_at_half_its_size(tmp_path):
    shot = draw(camera=Camera(**LARGE))
    photo = saved(tmp_path, shot)
    assert photo.finer_in is not None
    read = read_photo(photo)
    assert read.reading.sure
    # The view is that of the halved picture: a card's corner lies at half the photo's pixels.
    card = read.layout.card
    corners = read.view.to_photo(np.array([[0.0, 0.0], [card.width_mm, card.height_mm]]))
    assert np.abs(corners - shot.card_corners_px[[0, 2]] / 2).max() < 3.0


def test_a_card_that_is_small_in_a_large_photo_is_read_in_all_its_pixels(tmp_path):
    shot = draw(camera=Camera(fill=0.36, **LARGE))
    photo = saved(tmp_path, shot)
    read = read_photo(photo)
    card = read.layout.card
    corners = read.view.to_photo(np.array([[0.0, 0.0], [card.width_mm, card.height_mm]]))
    assert np.abs(corners - shot.card_corners_px[[0, 2]]).max() < 1.0  # a pixel; measured: 0.16
    assert len(read.layout.lights) == 3


def test_a_large_photo_that_gives_no_reading_is_refused_once_with_places_in_what_was_opened(tmp_path):
    shot = draw(Drawing(more_rings=(Ring(30.0, 110.0),)), Camera(**LARGE))
    photo = saved(tmp_path, shot)
    with pytest.raises(TwoBatteriesError) as caught:
        read_photo(photo)
    height, width = photo.pixels.shape[:2]
    assert all(0 < x < width and 0 < y < height for x, y in caught.value.where_px)
