"""What `list` and `find` print of designs whose titles have no room."""

from dataclasses import replace

import pytest

from cli.archive.printed import table
from cli.archive.store import Archive
from tests.cli.archive.made_up import designs_in, made_up


@pytest.mark.parametrize("width", [40, 80])
def test_titles_that_are_cut_can_still_be_told_apart(tmp_path, width):
    with Archive(tmp_path, writing=True) as archive:
        archive.keep(made_up())
    (design,) = designs_in(tmp_path)
    # Kept at once, designs bear one title with their files' names behind it.
    names = ("harbour", "fire", "灯台")
    alike = [replace(design, title=f"Cards of the spring class, Tuesday afternoon: {name}") for name in names]
    lines = list(table(alike, width))
    for name in names:
        assert sum(f"…{name}" in line or f" {name}" in line for line in lines) == 1, lines
