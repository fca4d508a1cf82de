"""What the marks' network is taught: the cards, their maps, and how they are varied."""

from pathlib import Path

import numpy as np

from tests.benchmarks.train_marks import CROP, load_card, make_cards, vary
from vision.reading.marks.likeness import CHANNELS, PX_PER_MM, STRIDE


def test_a_card_is_taught_with_its_marks_where_they_are_drawn(tmp_path: Path) -> None:
    make_cards(tmp_path, seed=3, first=0, count=1)
    [path] = tmp_path.glob("*.png")
    seen, bits = load_card(path)
    assert seen.shape[2] == 3 and seen.dtype == np.uint8
    assert bits.shape == (seen.shape[0] // STRIDE, seen.shape[1] // STRIDE)
    light = (bits >> CHANNELS.index("light")) & 1
    tone = seen[: light.shape[0] * STRIDE : STRIDE, : light.shape[1] * STRIDE : STRIDE, 0].astype(float)
    # dots are the darkest things there are: darker by far inside their maps than the bare paper's 160
    assert light.any() and np.median(tone[light > 0]) < 140 < np.median(tone[bits == 0])
    battery = ((bits >> CHANNELS.index("battery")) & 1).sum() / (PX_PER_MM / STRIDE) ** 2
    assert np.pi * 7.5**2 < battery < np.pi * 14**2  # mm2: cells of 16 to 24.5 mm, traced round


def test_varied_crops_keep_picture_and_maps_together(tmp_path: Path) -> None:
    make_cards(tmp_path, seed=3, first=1, count=1)
    [path] = tmp_path.glob("*.png")
    card = load_card(path)
    rng = np.random.default_rng(0)
    for _ in range(6):
        seen, bits = vary(*card, rng)
        assert seen.shape == (CROP, CROP, 3) and bits.shape == (CROP // STRIDE, CROP // STRIDE)
        light = (bits & 1) > 0
        if light.sum() > 30:
            tone = seen[::STRIDE, ::STRIDE, 0].astype(float)
            assert np.median(tone[light]) < np.median(tone[bits == 0])
