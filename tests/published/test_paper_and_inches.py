"""Pages have the published paper sizes exactly; inch fractions agree with decimal-equivalent tables."""

import pypdfium2
import pytest
from reportlab.lib import pagesizes

from circuit.lengths import format_length, parse_length
from circuit.settings import Settings
from cli.pages import build_pages, sheet_pages, square_page
from cli.pages.paper import A4, LETTER
from tests.cli import cards

# Letter: ANSI/ASME Y14.1 size A, 8.5 x 11 in. A4: ISO 216, 210 x 297 mm. Both as reportlab's
# lib/pagesizes.py has them too; a point is 1/72 in (ISO 32000).
SIZES_PT = {"Letter": (8.5 * 72, 11 * 72), "A4": (210 / 25.4 * 72, 297 / 25.4 * 72)}


@pytest.mark.parametrize("paper", [LETTER, A4], ids=lambda paper: paper.name)
def test_pages_are_exactly_of_the_published_size(paper):
    # 1e-3 pt is 0.0004 mm: the PDF library writes six decimals, the reader keeps single floats.
    for pdf in (
        square_page(paper),
        sheet_pages(cards.seven_lights(), Settings(), paper),
        build_pages(cards.seven_lights(), Settings(), paper),
        sheet_pages(cards.large(), Settings(), paper),
    ):
        document = pypdfium2.PdfDocument(pdf)
        for page in document:
            assert sorted(page.get_size()) == pytest.approx(sorted(SIZES_PT[paper.name]), abs=1e-3)
        document.close()


def test_papers_agree_with_the_pdf_librarys_table():
    assert (LETTER.width_mm / 25.4 * 72, LETTER.height_mm / 25.4 * 72) == pytest.approx(pagesizes.LETTER)
    assert (A4.width_mm / 25.4 * 72, A4.height_mm / 25.4 * 72) == pytest.approx(pagesizes.A4)


# Decimal equivalents of 32nds, as in any machinist's table (from memory; exact at 25.4 mm to the inch).
EQUIVALENTS_MM = {
    "1/32 in": 0.79375,
    "1/16 in": 1.5875,
    "3/32 in": 2.38125,
    "1/8 in": 3.175,
    "5/32 in": 3.96875,
    "1/4 in": 6.35,
    "11/32 in": 8.73125,
    "1/2 in": 12.7,
    "27/32 in": 21.43125,
    "31/32 in": 24.60625,
    "1 in": 25.4,
    "4 1/4 in": 107.95,
    "5 1/2 in": 139.7,
}


@pytest.mark.parametrize(("text", "mm"), EQUIVALENTS_MM.items())
def test_inch_fractions_agree_with_the_table_of_decimal_equivalents(text, mm):
    assert format_length(mm, "in") == text
    assert parse_length(text) == pytest.approx(mm, abs=1e-9)
