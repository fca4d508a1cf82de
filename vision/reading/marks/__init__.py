"""Find the pencil marks on one straightened card.

In:    a `StraightCard`.
Out:   `MarksSeen` in card millimetres; a blank card gives an empty one.
Fails: never for what is in the picture; a mark that could be two things comes back with a
       doubt, or in `maybe`, never as a silent guess.
"""

from vision.reading.marks.all_finders import find_marks
from vision.reading.marks.seen import MarksSeen, SeenCircle, SeenLight, SeenLine, SeenWindow

__all__ = ["MarksSeen", "SeenCircle", "SeenLight", "SeenLine", "SeenWindow", "find_marks"]
