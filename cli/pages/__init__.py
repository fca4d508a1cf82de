"""Paper to build from, as PDF bytes: the reference squares, the 1:1 sheet, the build sheet, a class's pack.

In:    a `Plan`, the maker's `Settings`, the paper.
Out:   bytes of a vector PDF at true scale, typeface embedded; the same input gives the same bytes.
Fails: `PencilampError` with one sentence for a card that no pages can hold.
"""

from cli.pages.build import build_pages
from cli.pages.class_pack import class_pages
from cli.pages.marked_card import marks_pages
from cli.pages.reference_squares import square_page
from cli.pages.true_size import sheet_pages

__all__ = ["build_pages", "class_pages", "marks_pages", "sheet_pages", "square_page"]
