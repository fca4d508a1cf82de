"""A reference square that lies higher than the card makes the card seem smaller, maybe just another named size.

Seen from one point, a square that lies higher and a larger one on the table are the same picture (similar triangles),
so that one photo can't tell; what the maker says of the card's size does.
"""

import pytest
from PIL import Image

from circuit.asked import PlanAsked
from circuit.card_sizes import CARD_SIZES, larger_alike
from cli.card_marks import read_marks
from cli.progress import silent
from tests.vision.draw import Dot, Drawing, Ring, Square, draw
from vision.errors import SquareCardDisagreeError

C6 = {"width_mm": 114.0, "height_mm": 162.0}  # ISO 269
_HIGHER = (
    162.0 / 148.25
)  # what makes an A6 or a quarter of A4 (ISO 216) of it: 27 mm under a phone 320 mm away
MARKS = {"dots": (Dot(30.2, 60.1), Dot(48.7, 60.4), Dot(66.9, 60.2)), "ring": Ring(80.3, 120.2, 21.0)}


def photo_of(folder, square, **card):
    path = folder / "card.jpg"
    Image.fromarray(draw(Drawing(square=square, **card, **MARKS), seed=4).pixels).save(path, quality=92)
    return path


def size_notes(marks):
    return [note for note in marks.notes if note.says.key == "square-beside"]


@pytest.fixture(scope="module")
def lifted(tmp_path_factory):
    """A C6 card, the square beside it on something higher, so that it looks larger."""
    square = Square(side_mm=30.0, printed_scale=_HIGHER)
    return photo_of(tmp_path_factory.mktemp("lifted"), square, **C6)


def test_what_one_photo_cannot_tell_is_asked(lifted):
    marks = read_marks(lifted, PlanAsked(), silent)
    assert marks.layout.card.size in ("A6", "quarter-A4")
    (note,) = size_notes(marks)
    assert note.says.figures["other"] == "C6"


def test_the_size_that_is_said_shows_that_the_square_lay_higher(lifted):
    with pytest.raises(SquareCardDisagreeError, match="lay the square flat on the card"):
        read_marks(lifted, PlanAsked(card_mm=(114.0, 162.0)), silent)


@pytest.mark.parametrize("said", [None, (105.0, 148.0)], ids=["on the card", "its size said"])
def test_no_question_where_there_is_none(tmp_path, said):
    on_card = {"x_mm": 30.0, "y_mm": 110.0} if said is None else {}
    path = photo_of(tmp_path, Square(side_mm=30.0, **on_card), width_mm=105.0, height_mm=148.0)
    assert size_notes(read_marks(path, PlanAsked(card_mm=said), silent)) == []


def test_sizes_that_a_lifted_square_makes_of_one_another():
    alike = {size.name: larger_alike(size.name) for size in CARD_SIZES}
    told = {name: other.name for name, other in alike.items() if other is not None}
    # By the tables of card_sizes: the same shape within a hundredth, at most a tenth smaller.
    assert told == {"A6": "C6", "quarter-A4": "C6", "100x150": "4x6in", "5in-square": "5.25in-square"}
    assert larger_alike("no such size") is None
