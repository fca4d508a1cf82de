"""Measure printed pages: PDF pages as pixels, edges and thin lines to a fraction of a pixel, text as boxes.

Page millimetres throughout: from the page's top-left corner, x right, y down.
"""

from __future__ import annotations

import ctypes
import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import cv2
import numpy as np
import pypdfium2
import pypdfium2.raw as pdfium_c

PX_PER_MM = 12.0
_PT_PER_MM = 72 / 25.4


@dataclass(frozen=True)
class Printed:
    """One page as a printer would put it on paper; `pixels` is (H, W, 3) uint8."""

    pixels: np.ndarray
    width_mm: float
    height_mm: float

    @cached_property
    def grey(self) -> np.ndarray:
        return cv2.transform(self.pixels, np.full((1, 3), 1 / 3))

    @cached_property
    def _colour(self) -> np.ndarray:
        r, g, b = cv2.split(self.pixels)
        return cv2.max(r, cv2.max(g, b)) - cv2.min(r, cv2.min(g, b))

    def ink(self, points_mm) -> np.ndarray:
        """Darkness, 0 (paper) to 1 (black), at (N, 2) points."""
        return 1 - _at(self.grey, points_mm) / 255

    def colour(self, points_mm) -> np.ndarray:
        """How far from grey, 0 to 1, at (N, 2) points."""
        return _at(self._colour, points_mm) / 255


def _at(layer, points_mm) -> np.ndarray:
    points = (np.asarray(points_mm, dtype=float) * PX_PER_MM - 0.5).astype(np.float32)
    found = cv2.remap(layer, points[None, :, 0], points[None, :, 1], cv2.INTER_LINEAR)
    return found[0].astype(float)


def printed(pdf: bytes) -> list[Printed]:
    pages = []
    for page in _pages(pdf):
        width, height = page.get_size()
        # A shade smaller, so that a page of whole pixels is not rounded up to one more and stretched.
        bitmap = page.render(scale=PX_PER_MM / _PT_PER_MM * (1 - 1e-7), rev_byteorder=True)
        pixels = np.ascontiguousarray(bitmap.to_numpy()[:, :, :3])
        pages.append(Printed(pixels, width / _PT_PER_MM, height / _PT_PER_MM))
    return pages


def along(start, heading_deg, reach_mm, step_mm=0.02):
    """Distances from `start` and the points there, out to `reach_mm` on both sides."""
    distances = np.arange(-reach_mm, reach_mm + step_mm / 2, step_mm)
    c, s = math.cos(math.radians(heading_deg)), math.sin(math.radians(heading_deg))
    return distances, np.column_stack([start[0] + distances * c, start[1] + distances * s])


def edge_beyond(values, distances, level):
    """Where `values`, followed outwards, last fall below `level`; nan when they never rise above it."""
    above = np.flatnonzero(values >= level)
    if above.size == 0 or above[-1] + 1 >= len(values):
        return math.nan
    i = above[-1]
    share = (values[i] - level) / (values[i] - values[i + 1])
    return distances[i] + share * (distances[i + 1] - distances[i])


def centre_of_line(values, distances):
    """The middle of a thin dark line across a profile, by its centre of gravity."""
    weight = np.clip(values - values.min(), 0, None)
    return float((weight * distances).sum() / weight.sum())


@dataclass(frozen=True)
class TextBox:
    text: str
    left: float
    top: float
    right: float
    bottom: float
    embedded: bool


def text_boxes(pdf: bytes) -> list[list[TextBox]]:
    """The ink of each line of text on each page, and whether its typeface is in the file."""
    result = []
    for page in _pages(pdf):
        _, height = page.get_size()
        text_page = page.get_textpage()
        result.append(list(_boxes_on(page, text_page, height)))
        text_page.close()
    return result


def page_sizes(pdf: bytes) -> list[tuple[float, float]]:
    """Width and height of each page. [mm]"""
    return [(page.get_width() / _PT_PER_MM, page.get_height() / _PT_PER_MM) for page in _pages(pdf)]


def _pages(pdf: bytes) -> Iterator[pypdfium2.PdfPage]:
    """Each page, open until the next one is asked for."""
    document = pypdfium2.PdfDocument(pdf)
    for page in document:
        yield page
        page.close()
    document.close()


def _boxes_on(page, text_page, height) -> Iterator[TextBox]:
    for item in page.get_objects(filter=[pdfium_c.FPDF_PAGEOBJ_TEXT]):
        left, bottom, right, top = item.get_bounds()
        length = pdfium_c.FPDFTextObj_GetText(item.raw, text_page.raw, None, 0)
        buffer = (ctypes.c_ushort * (length // 2 + 1))()
        pdfium_c.FPDFTextObj_GetText(item.raw, text_page.raw, buffer, length)
        text = bytes(buffer).decode("utf-16-le").split("\0")[0]
        font = pdfium_c.FPDFTextObj_GetFont(item.raw)
        yield TextBox(
            text,
            left / _PT_PER_MM,
            (height - top) / _PT_PER_MM,
            right / _PT_PER_MM,
            (height - bottom) / _PT_PER_MM,
            pdfium_c.FPDFFont_GetIsEmbedded(font) == 1,
        )


@dataclass(frozen=True)
class InkPath:
    """One line or filled outline as the page's file holds it: its corners, and how it is inked; colours are 8-bit
    sRGB or None."""

    points: tuple[tuple[float, float], ...]
    fill: tuple[int, int, int] | None
    stroke: tuple[int, int, int] | None
    dashed: bool
    opaque: bool


def ink_paths(pdf: bytes) -> list[list[InkPath]]:
    """Every path of each page, curves by their corners alone, outlines of several rings as several paths."""
    result = []
    for page in _pages(pdf):
        _, height = page.get_size()
        paths: list[InkPath] = []
        for item in page.get_objects(filter=[pdfium_c.FPDF_PAGEOBJ_PATH]):
            paths += _rings_of(item.raw, height)
        result.append(paths)
    return result


def _rings_of(raw, height: float) -> Iterator[InkPath]:
    matrix = pdfium_c.FS_MATRIX()
    pdfium_c.FPDFPageObj_GetMatrix(raw, matrix)
    how, stroked = ctypes.c_int(), ctypes.c_int()
    pdfium_c.FPDFPath_GetDrawMode(raw, how, stroked)
    fill, seen = _colour_of(pdfium_c.FPDFPageObj_GetFillColor, raw)
    stroke, _ = _colour_of(pdfium_c.FPDFPageObj_GetStrokeColor, raw)
    inked = (
        fill if how.value else None,
        stroke if stroked.value else None,
        bool(stroked.value) and pdfium_c.FPDFPageObj_GetDashCount(raw) > 0,
        seen == 255,
    )
    ring: list[tuple[float, float]] = []
    for i in range(pdfium_c.FPDFPath_CountSegments(raw)):
        segment = pdfium_c.FPDFPath_GetPathSegment(raw, i)
        x, y = ctypes.c_float(), ctypes.c_float()
        pdfium_c.FPDFPathSegment_GetPoint(segment, x, y)
        at = (
            matrix.a * x.value + matrix.c * y.value + matrix.e,
            matrix.b * x.value + matrix.d * y.value + matrix.f,
        )
        if pdfium_c.FPDFPathSegment_GetType(segment) == pdfium_c.FPDF_SEGMENT_MOVETO and ring:
            yield InkPath(tuple(ring), *inked)
            ring = []
        ring.append((at[0] / _PT_PER_MM, (height - at[1]) / _PT_PER_MM))
    if ring:
        yield InkPath(tuple(ring), *inked)


def _colour_of(getter, raw):
    parts = [ctypes.c_uint() for _ in range(4)]
    if not getter(raw, *parts):
        return None, 255
    red, green, blue, alpha = (part.value for part in parts)
    return (red, green, blue), alpha
