"""Every command's help and main outputs on a wide and a narrow terminal: no line is wider.

Excepted are lines to be pasted (a broken command can't be run) and words that alone are wider, such as paths.
"""

import json
import re
import sys

import click
import pytest

from cli import main as entry
from cli.main import first_steps, main
from cli.screen import in_lines

WIDTHS = (40, 80)
_TO_PASTE = re.compile(r"^\s*(pencilamp |eval )")
LAYOUT = {
    "schema": "pencilamp/layout/1",
    "card": {"width_mm": 107.95, "height_mm": 139.7},
    "battery": {"x_mm": 80.0, "y_mm": 105.0, "diameter_mm": 20.5},
    "lights": [{"label": f"L{i}", "x_mm": 25.0 + 14.0 * i, "y_mm": 40.0} for i in range(1, 5)],
    "window": [[30.0, 25.0], [90.0, 25.0], [90.0, 55.0], [30.0, 55.0]],
}


def every_command(command=main, words=()):
    yield words
    if isinstance(command, click.Group):
        for name in command.list_commands(click.Context(command)):
            yield from every_command(command.get_command(click.Context(command), name), (*words, name))


@pytest.fixture
def terminal(monkeypatch, tmp_path, capsys):
    """Run a command as typed on a terminal so wide; its code and all that it shows."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("PENCILAMP_ARCHIVE", str(tmp_path / "archive"))

    def typed(width, *words):
        monkeypatch.setenv("COLUMNS", str(width))
        monkeypatch.setattr(sys, "argv", ["pencilamp", *words])
        with pytest.raises(SystemExit) as ended:
            entry.run()
        out, err = capsys.readouterr()
        return ended.value.code, out + err

    return typed


def too_wide(text, width):
    """Lines that reach beyond, but could have been broken."""
    lines = [line for line in text.split("\n") if len(line) > width and not _TO_PASTE.match(line)]
    return [line for line in lines if max(map(len, line.split())) <= width - 6]


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("words", list(every_command()), ids=lambda words: " ".join(words) or "alone")
def test_help_keeps_to_the_terminals_width(terminal, words, width):
    code, text = terminal(width, *words, "--help")
    assert code == 0 and text.startswith("Usage: pencilamp")
    assert too_wide(text, width) == []
    # Nothing is cut short to make it fit.
    assert "..." not in text.partition("Commands:")[2]
    assert "<=x<=" not in text and "RANGE" not in text
    assert not re.search(r"\w-\n", text)  # no name is broken at its hyphen


@pytest.mark.parametrize("width", WIDTHS)
def test_what_is_shown_keeps_to_the_terminals_width(terminal, tmp_path, width):
    (tmp_path / "harbour.json").write_text(json.dumps(LAYOUT), encoding="utf-8")
    close = {**LAYOUT, "lights": [*LAYOUT["lights"], {"label": "L5", "x_mm": 43.0, "y_mm": 42.0}]}
    (tmp_path / "crowded.json").write_text(json.dumps(close), encoding="utf-8")
    title = "Harbour in the evening, seen from the old lighthouse"
    for expected, *words in (
        (0, ""),
        (0, "parts", "--sources"),
        (0, "square"),
        (4, "square"),
        (0, "plan", "harbour.json", "--more", "--spacing", "--find-battery-place"),
        (1, "plan", "crowded.json", "--units", "in", "--no-pages"),
        (1, "plan", "harbour.json", "crowded.json", "--out", "both", "--no-pages"),
        (4, "plan", "nowhere.jpg"),
        (2, "plan", "harbour.json", "--card", "A7"),
        (2, "plan", "harbour.json", "--wrong"),
        (2, "plan", "harbour.json", "--effort", "99"),
        (2, "unknown"),
        (0, "sheet", "harbour-plan", "--copies", "24", "--class", "--mirrored", "--marks"),
        (0, "dark", "harbour-plan", "L3", "--dim", "L4"),
        (2, "dark", "harbour-plan", "L3", "--tried", "perhaps"),
        (0, "archive", "keep", "harbour-plan", "--title", title, "--tag", "class"),
        (0, "archive", "list"),
        (0, "archive", "list", "--tags"),
        (0, "archive", "find", "harb", "--lights", "4"),
        (0, "archive", "show", "1"),
        (0, "archive", "relabel", "1", "--add-note", "Needs the stronger tape, and a longer strip of it."),
        (0, "archive", "take-out", "1", "--to", "harbour.zip"),
        (0, "archive", "bring-in", "harbour.zip"),
        (0, "archive", "remove", "1"),
        (0, "archive", "put-back", "1"),
        (2, "archive", "show", "lantern"),
        (0, "archive", "check"),
        (0, "archive", "mend"),
        (0, "archive", "empty-bin"),
    ):
        code, text = terminal(width, *[word for word in words if word])
        assert code == expected, (words, text)
        assert too_wide(text, width) == [], words
        assert "<=x<=" not in text


def test_the_first_steps_are_the_same_words_at_any_width():
    assert first_steps(40).split() == first_steps(80).split()


def test_a_number_keeps_its_unit_and_a_path_stays_whole():
    path = "monday/with/a/long/name/overlay.png"
    lines = in_lines(f"The tape is 270.0 mm long, one strip of 13 27/32 in, 5 mm wide; look at {path}.", 40)
    assert f"{path}." in lines
    assert not any(line[0] in "mi" and line.split()[0] in ("mm", "in", "mm,") for line in lines)
    assert max(map(len, lines)) <= 40
    told = in_lines(
        "Harbour (number 1) lies in the bin; take it out with `pencilamp archive put-back 1`.", 40
    )
    assert "`pencilamp archive put-back 1`." in told


def test_cautions_are_shown_where_the_work_can_hurt(terminal, tmp_path):
    (tmp_path / "harbour.json").write_text(json.dumps(LAYOUT), encoding="utf-8")
    _, planned = terminal(80, "plan", "harbour.json", "--no-pages")
    assert "swallowed" in planned and "take it out while you work on the tapes" in " ".join(planned.split())
    _, dark = terminal(80, "dark", "harbour-plan", "L3", "--no-picture")
    assert "Never solder to a coin cell" in dark and "take it out while you work" in " ".join(dark.split())
