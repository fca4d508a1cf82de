"""Words measured, cut and broken into lines, held against the PDF library's own reading of the typeface."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

from vision.drawing import fonts, lettering
from vision.drawing.fonts import font_path
from vision.drawing.lettering import MM_PER_POINT, plain, printable, shortened, typeface, width_mm, wrapped

SENTENCE = "Move L3 2.1 mm left: “actual size” − ½ in, 90° to the 5050's + side."


@pytest.mark.parametrize("weight", ["regular", "bold"])
def test_widths_are_the_typefaces_own(weight):
    pdfmetrics.registerFont(TTFont(f"test-{weight}", str(font_path(weight))))
    theirs = pdfmetrics.stringWidth(SENTENCE, f"test-{weight}", 10.5) * MM_PER_POINT
    # Pillow rounds each letter's width to 1/2048 of its size.
    assert width_mm(SENTENCE, 10.5, weight) == pytest.approx(theirs, rel=1e-3)


@pytest.mark.parametrize("size_px", [30, 40, 46, 83])
def test_letters_fitted_to_pixels_are_up_to_one_per_cent_off(size_px):
    fitted = typeface("regular", size_px).getlength(SENTENCE) / size_px
    # Each letter is fitted to whole pixels; over a sentence most of that cancels.
    assert fitted == pytest.approx(width_mm(SENTENCE, 1.0) / MM_PER_POINT, rel=0.012)


def test_signs_that_the_typeface_lacks_become_question_marks():
    assert printable("Hafen − ½ °") == "Hafen − ½ °"
    assert printable("灯a\nb") == "?a b"


@given(st.text(st.characters(codec="utf-8"), max_size=200), st.floats(5.0, 90.0))
def test_lines_fit_and_lose_nothing(text, room):
    lines = wrapped(text, 10.5, room)
    assert all(width_mm(line, 10.5) <= room or len(line) == 1 for line in lines)
    assert "".join("".join(lines).split(" ")) == "".join(printable(text).split(" "))


def test_no_text_gives_no_lines():
    assert wrapped("", 10.0, 40.0) == ()


def test_a_number_is_not_parted_from_its_unit():
    assert plain("3.2 mm foam") == "3.2\u00a0mm foam"
    for room in (20.0, 25.0, 30.0, 40.0):
        for line in wrapped("The lights are 6.1 mm apart; they need 1/4 in or 7 mm.", 10.5, room):
            assert not line.endswith(("6.1", "1/4", "7"))


def test_long_labels_are_shortened_to_their_slip():
    text = shortened("the light in the lighthouse", 9.0, 15.0, "bold")
    assert text.endswith("…") and width_mm(text, 9.0, "bold") <= 15.0
    assert shortened("L12", 9.0, 15.0, "bold") == "L12"


@pytest.mark.parametrize("text", ["WWWWWWWW", "iiii iiii WWW", "x" * 5000, "W", "AVAVAV"])
def test_as_much_of_a_label_is_kept_as_fits_and_a_long_one_is_measured_a_few_times(text, monkeypatch):
    measured = []
    real = lettering.width_mm

    def counted(*arguments):
        measured.append(arguments)
        return real(*arguments)

    monkeypatch.setattr(lettering, "width_mm", counted)
    short = lettering.shortened(text, 9.0, 10.0)
    assert len(measured) <= 15
    if short != text:
        kept = len(short) - 1
        assert real(short, 9.0) <= 10.0 or kept == 0
        assert real(text[: kept + 1] + "…", 9.0) > 10.0 or text[kept] == " "


@pytest.mark.parametrize("content", [None, b"", b"cut", "noise"])
def test_a_missing_or_damaged_typeface_is_told_in_a_sentence(content, tmp_path, monkeypatch):
    # As damage to the package's own files would: a sentence that names the file, not a mishap of the program.
    whole = bytearray(font_path("regular").read_bytes())
    whole[len(whole) // 2] ^= 1  # one bit: FreeType reads it without a word
    if content is not None:
        (tmp_path / "OpenSans-Regular.ttf").write_bytes(bytes(whole) if content == "noise" else content)
    monkeypatch.setattr(fonts, "__file__", str(tmp_path / "__init__.py"))
    fonts.font_path.cache_clear()
    try:
        with pytest.raises(fonts.TypefaceError, match=r"OpenSans-Regular\.ttf.*install Pencilamp again"):
            font_path("regular")
    finally:
        fonts.font_path.cache_clear()
