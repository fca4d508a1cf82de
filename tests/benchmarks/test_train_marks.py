"""What the marks' network is taught: the cards, their maps, how they are varied, and how a network is judged."""

from pathlib import Path

import numpy as np
import pytest

from tests.benchmarks.mark_cards import KINDS, load_card, make_cards
from tests.benchmarks.other_hand import CROP
from tests.benchmarks.train_marks import Crops, report
from vision.reading.marks.likeness import CHANNELS, PX_PER_MM, STRIDE, WEIGHTS_FILE


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A usual card and one with litter."""
    out = tmp_path_factory.mktemp("cards")
    make_cards(out, seed=3, numbers=range(1), kind="usual")
    make_cards(out, seed=3, numbers=range(1, 2), kind="littered")
    return out


def test_a_card_is_taught_with_its_marks_where_they_are_drawn(folder: Path) -> None:
    [path] = folder.glob("usual-*.npz")
    seen, bits = load_card(path)
    assert seen.shape[2] == 3 and seen.dtype == np.uint8
    assert bits.shape == (seen.shape[0] // STRIDE, seen.shape[1] // STRIDE)
    light = (bits >> CHANNELS.index("light")) & 1
    tone = seen[: light.shape[0] * STRIDE : STRIDE, : light.shape[1] * STRIDE : STRIDE, 0].astype(float)
    # dots are the darkest things there are: darker by far inside their maps than the bare paper's 160
    assert light.any() and np.median(tone[light > 0]) < 140 < np.median(tone[bits == 0])
    battery = ((bits >> CHANNELS.index("battery")) & 1).sum() / (PX_PER_MM / STRIDE) ** 2
    assert np.pi * 7.5**2 < battery < np.pi * 14**2  # mm2: cells of 16 to 24.5 mm, traced round


def test_varied_crops_keep_picture_and_maps_together(folder: Path) -> None:
    cards = {kind: [load_card(path) for path in folder.glob(f"{kind}-*.npz")] for kind in KINDS}
    for seen, bits in zip(*next(Crops(cards, seed=0, batch=8).stream(0)), strict=True):
        assert seen.shape == (CROP, CROP, 3) and bits.shape == (CROP // STRIDE, CROP // STRIDE)
        light = (bits & 1) > 0
        if light.sum() > 30:
            tone = seen[::STRIDE, ::STRIDE, 0].astype(float)
            assert np.median(tone[light]) < np.median(tone[bits == 0])


def test_crops_of_one_worker_are_not_those_of_another(folder: Path) -> None:
    cards = {kind: [load_card(path) for path in folder.glob(f"{kind}-*.npz")] for kind in KINDS}
    one, other = (next(Crops(cards, seed=0, batch=2).stream(worker))[0] for worker in range(2))
    assert not np.array_equal(one, other)


def test_the_packages_network_is_judged_as_one_that_knows_its_marks(folder: Path) -> None:
    usual, littered = report(folder, WEIGHTS_FILE)
    assert (
        usual.startswith("usual: 1 cards") and " 0 of " in usual and littered.startswith("littered: 1 cards")
    )
