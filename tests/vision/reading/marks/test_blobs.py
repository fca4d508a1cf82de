"""Which dark spots are looked at."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.vision.reading.marks.straight_cards import Sheet
from vision.reading.marks.blobs import measure_blobs
from vision.reading.marks.ink import Ink, read_ink
from vision.reading.marks.probe import LEAST_INK, probed_places

PLACE = np.array([[30.0, 30.0]])


def with_disc(ink: Ink, level: float, diameter_mm: float) -> Ink:
    """The same card with a disc of so much more ink at `PLACE`."""

    def drawn(picture: np.ndarray, middle: np.ndarray, px_per_mm: float) -> np.ndarray:
        rows, columns = np.mgrid[0 : picture.shape[0], 0 : picture.shape[1]]
        away = np.hypot(columns - middle[0], rows - middle[1]) / px_per_mm
        return picture + level * np.clip((diameter_mm / 2 - away) * px_per_mm + 0.5, 0, 1).astype(np.float32)

    return replace(
        ink,
        work=drawn(ink.work, ink.mm_to_work(PLACE)[0], ink.work_px_per_mm),
        fine=drawn(ink.fine, ink.mm_to_fine(PLACE)[0], ink.px_per_mm),
    )


@pytest.mark.parametrize(
    ("level", "line_mm", "found"),
    [(0.07, None, True), (0.07, 2.7, False), (0.3, 2.7, True), (0.03, None, False)],
    ids=["faint, alone", "faint, beside a line", "dark, beside a line", "hardly any ink"],
)
def test_a_faint_spot_is_looked_at_where_it_lies_alone(
    level: float, line_mm: float | None, found: bool
) -> None:
    assert 0.07 < LEAST_INK < 0.3
    sheet = Sheet(60, 60, 4)
    if line_mm is not None:
        sheet.stroke([(30.0 + line_mm, 15.0), (30.0 + line_mm, 45.0)], 0.5, 0.6)
    ink = with_disc(read_ink(sheet.straight()), level, 2.4)
    blobs = measure_blobs(ink, probed_places(ink))
    near = [blob for blob in blobs if np.hypot(blob.x_mm - 30.0, blob.y_mm - 30.0) < 0.3]
    assert bool(near) == found
    # Half a pixel of the ink, which has five to a millimetre; measured at three levels: 0.01 mm.
    assert all(blob.radius_mm == pytest.approx(1.2, abs=0.1) for blob in near)
