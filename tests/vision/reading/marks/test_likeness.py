"""What the network says, and who is believed when network and measurement disagree."""

import math

import cv2
import numpy as np
import pytest

from tests.vision.reading.marks.straight_cards import Sheet
from vision.reading.marks import all_finders
from vision.reading.marks.battery import find_rings
from vision.reading.marks.blobs import measure_blobs
from vision.reading.marks.circles import judge_rings
from vision.reading.marks.dots import judge_dots
from vision.reading.marks.ink import read_ink
from vision.reading.marks.likeness import CHANNELS, WEIGHTS_FILE, Likeness, read_likeness
from vision.reading.marks.probe import probed_places
from vision.reading.marks.strokes import trace_strokes


def blank(width_mm: float = 80, height_mm: float = 80) -> Likeness:
    """A network's answer that sees nothing anywhere."""
    return Likeness(
        np.zeros((len(CHANNELS), round(2 * height_mm), round(2 * width_mm)), np.float32), 2.0, 0.0
    )


def test_the_network_is_small() -> None:
    assert WEIGHTS_FILE.stat().st_size < 2_000_000


def test_bare_paper_means_nothing_to_the_network() -> None:
    straight = Sheet(80, 80, 1).straight()
    assert float(read_likeness(straight, read_ink(straight)).maps.max()) < 0.3


def test_the_network_tells_kinds_of_marks_apart() -> None:
    sheet = Sheet(100, 120, 2)
    dot = sheet.dot(25, 25, 3.2)
    struck = sheet.dot(75, 25, 3.2)
    sheet.cross_out(struck[0], struck[1], 4.5)
    ring = sheet.ring(50, 80, 20.6)
    straight = sheet.straight()
    likeness = read_likeness(straight, read_ink(straight))
    at = {"light": dot[:2], "crossed": struck[:2], "battery": ring[:2]}
    for kind, place in at.items():
        said = {name: float(likeness.sample(name, np.array([place]))[0]) for name in at}
        assert max(said, key=lambda name: said[name]) == kind, said


def test_a_plain_disc_that_the_network_does_not_see_is_a_doubt_not_dropped() -> None:
    sheet = Sheet(60, 60, 3)
    sheet.dot(30, 30, 3.4, press=0.9)
    ink = read_ink(sheet.straight())
    judged = judge_dots(ink, blank(66, 66), measure_blobs(ink, probed_places(ink)))
    assert [item.verdict for item in judged if 2 * item.blob.radius_mm > 2.5] == ["doubt"]


def test_a_drawn_ring_that_the_network_does_not_see_is_never_a_sure_battery() -> None:
    sheet = Sheet(60, 60, 4)
    sheet.ring(30, 30, 20.6)
    ink = read_ink(sheet.straight())
    circles, _ = judge_rings(find_rings(ink, trace_strokes(ink)), blank(66, 66))
    assert not any(circle.sure for circle in circles)


def test_what_the_network_takes_for_a_light_is_never_dropped_without_a_word(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    straight = Sheet(60, 60, 5).straight()  # bare paper
    likeness = read_likeness(straight, read_ink(straight))
    x, y = likeness.to_px(np.array([[30.0, 30.0]]))[0]
    cv2.circle(likeness.maps[CHANNELS.index("light")], (round(x), round(y)), 3, 1.0, -1)
    monkeypatch.setattr(all_finders, "read_likeness", lambda *_: likeness)
    seen = all_finders.find_marks(straight)
    assert not seen.sure and seen.lights == ()
    [mark] = seen.maybe
    assert math.dist(mark, (30, 30)) < 0.5 and any(
        doubt.says.key.startswith("light-or-") for doubt in seen.doubts
    )


def test_any_number_of_places_can_be_read():
    maps = np.random.default_rng(1).random((len(CHANNELS), 40, 50)).astype(np.float32)
    likeness = Likeness(maps, 2.0, 0.0)
    places = np.random.default_rng(2).uniform(1, 18, (40_000, 2))
    read = likeness.sample("line", places)
    assert read.shape == (40_000,)
    for few in (slice(0, 5), slice(39_990, None)):
        assert np.array_equal(read[few], likeness.sample("line", places[few]))
    assert likeness.sample("line", np.zeros((0, 2))).shape == (0,)
    assert likeness.sample("line", places.reshape(200, 200, 2)).shape == (200, 200)
