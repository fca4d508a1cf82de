"""Every pen draws the same thing at the same place: a picture's, a page's and an SVG's are laid over one another."""

import io
import math
import xml.etree.ElementTree as ET

import numpy as np
import pypdfium2
import pytest
from PIL import Image
from reportlab.pdfgen.canvas import Canvas

from tests.pictures import assert_alike, difference
from vision.drawing import picture_pen
from vision.drawing.box import Box
from vision.drawing.colours import BLACK, NEGATIVE, POSITIVE, WHITE
from vision.drawing.lettering import MM_PER_POINT
from vision.drawing.page_pen import PT_PER_MM, PagePen
from vision.drawing.picture_pen import PicturePen
from vision.drawing.svg_pen import SvgPen

WIDE, HIGH, SCALE = 60.0, 40.0, 10.0


def strokes(pen):
    pen.shape([[(5, 5), (20, 5), (20, 12), (5, 12)], [(18, 8), (30, 8), (30, 15), (18, 15)]], POSITIVE)
    pen.line([(5.0, 20.0), (25.0, 20.0), (25.0, 32.0)], BLACK, 1.5)
    pen.line([(32.0, 5.0), (55.0, 5.0)], NEGATIVE, 1.0, dash=(3.0, 2.0))
    pen.circle((42.0, 24.0), 8.0, BLACK, 1.0, fill=POSITIVE)
    pen.line([(32.0, 35.0), (55.0, 35.0)], BLACK, 2.0, opacity=0.5)


def on_picture(draw):
    picture = Image.new("RGB", (round(WIDE * SCALE), round(HIGH * SCALE)), WHITE)
    draw(PicturePen(picture, SCALE))
    return np.asarray(picture).astype(float)


def on_page(draw):
    buffer = io.BytesIO()
    canvas = Canvas(buffer, pagesize=(WIDE * PT_PER_MM, HIGH * PT_PER_MM), invariant=1)
    draw(PagePen(canvas, HIGH))
    canvas.save()
    document = pypdfium2.PdfDocument(buffer.getvalue())
    # A shade smaller, so that a page of whole pixels is not rounded up to one more and stretched.
    bitmap = document[0].render(scale=SCALE * MM_PER_POINT * (1 - 1e-7), rev_byteorder=True)
    pixels = bitmap.to_numpy()[:, :, :3].astype(float)
    document.close()
    return pixels


def test_picture_and_page_agree():
    # The edges' pixels differ in shade: some 1.2 % of this ink. A tenth of a millimetre's shift is over 2.5 %.
    assert_alike("page-and-picture", on_page(strokes), on_picture(strokes), 0.02)


def test_the_comparison_sees_a_shift_of_a_tenth_of_a_millimetre():
    one = on_picture(strokes)
    assert difference(one, np.roll(one, 1, axis=1)) > 0.025


@pytest.mark.parametrize("pen_of", [on_picture, on_page])
def test_words_stand_on_their_baseline_left_right_and_in_the_middle(pen_of):
    for anchor, low, high in (("left", 20.0, 32.0), ("right", 8.0, 20.0), ("middle", 14.0, 26.0)):
        pixels = pen_of(lambda pen, a=anchor: pen.text(20.0, 20.0, "HEXE", 12.0, weight="bold", anchor=a))
        rows, columns = np.nonzero(pixels.mean(axis=2) < 128)
        # A pixel and a half of the ten to a millimetre: the edge's own, and how it is rounded.
        assert rows.max() / SCALE == pytest.approx(20.0, abs=0.15)
        assert low - 0.3 <= columns.min() / SCALE and columns.max() / SCALE <= high + 0.3


def test_what_is_clipped_shows_only_inside_its_box():
    def draw(pen):
        with pen.clipped(Box(10.0, 10.0, 10.0, 10.0)):
            pen.shape([Box(0.0, 0.0, 60.0, 40.0).corners], BLACK)
        pen.line([(30.0, 30.0), (40.0, 30.0)], BLACK, 2.0)

    dark = on_page(draw).mean(axis=2) < 128
    assert dark[150, 150] and dark[300, 350]
    assert dark.sum() == pytest.approx(100 * 100 + 100 * 20, rel=0.02)  # a clip's own soft edge


def test_the_svg_says_the_same_strokes_in_millimetres():
    pen = SvgPen()
    with pen.group("light", 'L"1'):
        strokes(pen)
        pen.text(3.0, 4.0, "a < b & c", 9.0, weight="bold", anchor="middle")
    root = ET.fromstring(f'<svg xmlns="http://www.w3.org/2000/svg">{pen.content()}</svg>')
    space = "{http://www.w3.org/2000/svg}"
    (group,) = root.findall(f"{space}g")
    assert (group.get("class"), group.get("data-about")) == ("light", 'L"1')
    shape, line, dashed, half = group.findall(f"{space}path")
    assert shape.get("d") == "M5,5 20,5 20,12 5,12ZM18,8 30,8 30,15 18,15Z"
    assert shape.get("fill") == "#d55e00"
    assert (line.get("d"), line.get("stroke-width"), line.get("fill")) == ("M5,20 25,20 25,32", "1.5", "none")
    assert dashed.get("stroke-dasharray") == "3 2"
    assert half.get("opacity") == "0.5"
    circle = group.find(f"{space}circle")
    assert [circle.get(name) for name in ("cx", "cy", "r", "fill")] == ["42", "24", "8", "#d55e00"]
    words = group.find(f"{space}text")
    assert words.text == "a < b & c" and words.get("text-anchor") == "middle"


@pytest.mark.parametrize("dash", [(), (3.0, 2.0)])
@pytest.mark.parametrize("count", [3, 17, 18, 19, 200])
def test_a_long_line_drawn_in_parts_is_the_line_drawn_at_once(monkeypatch, count, dash):
    turns = np.linspace(0.0, 6.0, count)
    points = [(60 + 9 * t * math.cos(t), 60 + 9 * t * math.sin(3 * t)) for t in turns]
    drawn = []
    for most in (16, 10**6):
        monkeypatch.setattr(picture_pen, "_RUN_POINTS", most)
        picture = Image.new("RGB", (1200, 1200), "white")
        picture_pen.PicturePen(picture, 10.0).line(points, (10, 20, 30), 0.7, dash=dash, opacity=0.6)
        drawn.append(np.asarray(picture))
    assert np.array_equal(*drawn) and drawn[0].min() < 255
