"""What a maker says of sizes and tape on the phone page: refused where it is written, remarked where it matters."""

import io
from dataclasses import replace

import pytest
from PIL import Image

from tests.cli.phone.running import ROOT
from tests.vision.draw import Drawing, draw


def test_a_size_that_is_not_known_is_said_where_it_is_asked_for(phone):
    photo = io.BytesIO()
    Image.fromarray(draw(replace(Drawing(), width_mm=101.0, height_mm=133.0)).pixels).save(photo, "PNG")
    card = phone.read(photo.getvalue(), name="odd.png", moves=False)
    text = phone.get(card).text
    assert "no size I know" in text and "Size of the card, measured" in text
    assert "I'm not sure of everything that I read" in phone.get(f"{card}/build").text
    nothing = phone.post(f"{card}/again", {"card": " "})
    assert nothing.status == 400 and "Write down what you measured first" in nothing.text
    assert phone.post(f"{card}/again", {"card": "101 x 133 mm"}).status == 303
    phone.wait_for(card, moves=False)
    text = phone.get(card).text
    assert "101.0\u00a0×\u00a0133.0\u00a0mm" in text and "Size of the card, measured" not in text


def test_a_trace_as_wide_as_a_whole_tape_is_remarked_wherever_the_card_is_shown_and_halved_by_one_tap(phone):
    photo = (ROOT / "sample_images" / "fireflies.jpg").read_bytes()
    card = phone.read(photo, moves=False)
    assert "the strip is" not in phone.get(card).text
    assert phone.post(f"{card}/parts", {"tape": "5 mm", "view": "build"}).status == 303
    for view in ("", "/mend", "/build"):
        text = phone.get(f"{card}{view}").text
        assert "Each trace is 5 mm wide, so the strip is 10 mm wide." in text
        assert 'name="tape" value="2.5mm">Plan with traces of 2.5 mm<' in text
    assert phone.post(f"{card}/parts", {"tape": "2.5mm", "view": "look"}).status == 303
    assert "the strip is" not in phone.get(card).text


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ({"tape": "0.5mm"}, "0.5mm is no length that can be a trace&#39;s width"),
        ({"printed": "39.4 cm"}, "39.4 cm is no length that can be the printed square&#39;s side"),
        ({"card": "5x7"}, "5x7 is smaller than any card; write the unit beside it"),
    ],
)
def test_a_size_that_cannot_be_is_refused_where_it_is_written(phone, said, words):
    answer = phone.post("/settings", said)
    assert answer.status == 400 and words in answer.text and "say --" not in answer.text


def test_a_card_in_inches_needs_no_unit_where_lengths_are_in_inches(phone):
    assert phone.post("/settings", {"units": "in", "card": "5x7"}).status == 303
