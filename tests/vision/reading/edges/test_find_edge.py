"""An edge lies where the sheet's colour ends, not where its shadow does."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from vision.reading.edges.find_edge import find_edge
from vision.reading.edges.profiles import LINEAR, Course

EDGE = 99.5  # between the pixels 99 and 100: the sheet above, the table below
BROWN, GREY, WHITE, WALNUT = (170, 140, 105), (150, 150, 150), (228, 227, 225), (120, 85, 60)


def sheet_on_table(sheet, table, rim_px: float, shade: float, blur_px: float = 1.0, noise: float = 1.5):
    """(200, 600, 3) photo: a sheet with a straight lower edge, a rim of shadow along it on the table."""
    fine = 10
    rows = (np.arange(200 * fine) + 0.5) / fine - 0.5
    light = np.array([LINEAR[list(sheet)], LINEAR[list(table)]], dtype=np.float64)
    column = np.where(rows[:, None] < EDGE, light[0], light[1])
    column[(rows > EDGE) & (rows < EDGE + rim_px)] *= shade
    column = cv2.GaussianBlur(
        column, (1, 0 + 2 * int(4 * blur_px * fine) + 1), sigmaX=0.1, sigmaY=blur_px * fine
    )
    column = column.reshape(200, fine, 3).mean(axis=1)
    coded = np.interp(column, LINEAR, np.arange(256.0))
    picture = np.repeat(coded[:, None], 600, axis=1) + np.random.default_rng(2).normal(
        0, noise, (200, 600, 3)
    )
    return np.clip(np.round(picture), 0, 255).astype(np.uint8)


def found(pixels, off_px: float = 3.0) -> float:
    """How far the lower edge is laid outside where it is, seen from a course that lies off. [px]"""
    x = np.linspace(30, 570, 72)
    course = Course(np.column_stack([x, np.full(72, EDGE + off_px)]), np.repeat([[0.0, 1.0]], 72, axis=0))
    edge = find_edge(pixels, course, 12.0)
    assert edge is not None
    return float(edge.points[:, 1].mean() - EDGE)


@pytest.mark.parametrize("table", [WHITE, GREY, WALNUT], ids=["white", "grey", "walnut"])
@pytest.mark.parametrize(("rim_px", "shade"), [(0.0, 1.0), (2.5, 0.5), (4.0, 0.6), (5.0, 0.35)])
def test_a_coloured_sheets_edge_is_told_from_its_shadows(table, rim_px, shade):
    # A quarter of a pixel: the camera's tone curve and the blur may move the middle of a step by so much.
    assert abs(found(sheet_on_table(BROWN, table, rim_px, shade))) < 0.25


def test_by_brightness_alone_the_shadow_would_win():
    # The case above is no easy one: with the same light but no colour the rim's far side is the greatest step.
    sheet, table = (141, 141, 141), (227, 227, 227)
    assert found(sheet_on_table(sheet, table, 2.5, 0.5)) > 1.5


def test_a_pencil_line_along_the_edge_is_no_edge():
    white, pale = (243, 243, 243), (236, 241, 234)
    bare = sheet_on_table(white, pale, 1.0, 0.85, noise=1.0)
    pencilled = bare.copy()
    pencilled[89:91] = np.clip(
        bare[89:91].astype(int) - 9, 0, 255
    )  # as dark as its grain leaves a faint line
    assert abs(found(bare, 1.0)) < 1.0
    assert found(pencilled, 1.0) == pytest.approx(found(bare, 1.0), abs=0.2)


@pytest.mark.parametrize("sheet", [(240, 240, 238), (60, 60, 60)], ids=["light", "dark"])
def test_a_sheet_without_colour_is_laid_at_its_step(sheet):
    # A tenth of a pixel; measured on both sheets: 0.03.
    assert abs(found(sheet_on_table(sheet, GREY, 0.0, 1.0))) < 0.1
