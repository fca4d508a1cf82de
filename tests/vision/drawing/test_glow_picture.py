import numpy as np
import pytest

from circuit.glow.field import GlowField
from circuit.layout import Card
from vision.drawing.glow_picture import chromaticity_rgb, draw_glow

CARD = Card(100.0, 80.0)
WINDOW = ((20.0, 20.0), (80.0, 20.0), (80.0, 60.0), (20.0, 60.0))
WHITE, RED, BLUE = (0.3127, 0.3290), (0.7006, 0.2993), (0.1355, 0.0399)


def field_of(layers, window=WINDOW):
    low, high = (0.0, 0.0), (100.0, 80.0)
    if window:
        low, high = window[0], window[2]
    x = np.arange(low[0] + 0.5, high[0])
    y = np.arange(low[1] + 0.5, high[1])
    xx, yy = np.meshgrid(x, y)
    grids = tuple(
        (colour, peak * np.exp(-((xx - cx) ** 2 + (yy - cy) ** 2) / 50)) for colour, peak, cx, cy in layers
    )
    inside = np.ones(xx.shape, dtype=bool)
    return GlowField(CARD, window or ((30.0, 30.0),), x, y, grids, inside, 4.0, 5.0, window is not None)


def at(picture, x_mm, y_mm, px_per_mm=8.0):
    return np.asarray(picture)[round((y_mm + 8) * px_per_mm), round((x_mm + 8) * px_per_mm)].astype(int)


def test_the_card_is_drawn_to_scale_and_lit_only_in_its_window():
    picture = draw_glow(field_of([(WHITE, 1000.0, 50.0, 40.0)]))
    assert picture.size == (116 * 8, 96 * 8)
    assert at(picture, 50, 40).min() > 200
    card = at(picture, 5, 5)
    assert at(picture, 50, 18).tolist() == card.tolist() == at(picture, 95, 70).tolist()
    assert at(picture, -5, -5).max() < card.min()
    assert at(picture, 78, 58).max() < 100


def test_colours_look_like_themselves():
    picture = draw_glow(field_of([(RED, 300.0, 35.0, 40.0), (BLUE, 60.0, 65.0, 40.0)]))
    red, blue = at(picture, 35, 46), at(picture, 65, 46)
    assert red[0] > 1.5 * red[1:].max()
    assert blue[2] > 1.2 * blue[:2].max()


def test_white_light_is_white_and_the_brighter_the_lighter():
    picture = draw_glow(field_of([(WHITE, 1000.0, 50.0, 40.0)]))
    levels = [at(picture, 50 + off, 40) for off in (0, 6, 12, 20)]
    for level in levels:
        assert level.max() - level.min() <= 8
    means = [level.mean() for level in levels]
    assert means == sorted(means, reverse=True)


def test_without_a_window_the_whole_card_is_the_sheet():
    picture = draw_glow(field_of([(WHITE, 1000.0, 10.0, 10.0)], window=None))
    assert at(picture, 10, 10).min() > 200
    assert at(picture, 95, 70).max() < 80


def test_darkness_is_drawn_too():
    picture = draw_glow(field_of([(WHITE, 0.0, 50.0, 40.0)]))
    assert at(picture, 50, 40).max() < 80


def test_a_caption_stands_below_and_stays_inside():
    plain = draw_glow(field_of([(WHITE, 1.0, 50.0, 40.0)]))
    told = draw_glow(
        field_of([(WHITE, 1.0, 50.0, 40.0)]), "The darkest place gets 12 % of the average light. " * 4
    )
    assert told.width == plain.width
    assert told.height > plain.height
    below = np.asarray(told)[plain.height :]
    assert below.max() > 150
    assert below[:, :40].max() < 60
    assert below[:, -40:].max() < 60


def test_a_large_card_stays_within_1600_pixels():
    field = field_of([(WHITE, 1000.0, 50.0, 40.0)])
    assert max(draw_glow(field, px_per_mm=100).size) <= 1600
    with pytest.raises(ValueError, match="px_per_mm"):
        draw_glow(field, px_per_mm=0)


def test_pure_colours_stay_drawable():
    for x, y in (RED, BLUE, (0.1142, 0.8262), (0.5752, 0.4242)):
        assert chromaticity_rgb(x, y).min() >= 0
