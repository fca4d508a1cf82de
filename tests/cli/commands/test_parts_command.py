import os

import pytest
from click.testing import CliRunner

from circuit.card_sizes import CARD_SIZES
from circuit.errors import LayoutFileError, PencilampError
from circuit.parts import default_parts
from cli.main import main
from cli.parts_option import read_parts


def run(*arguments):
    return CliRunner().invoke(main, ["parts", *arguments])


def test_the_list_names_every_part():
    result = run()
    assert result.exit_code == 0
    known = default_parts()
    for table in (known.lights, known.colours, known.cells, known.tapes, known.foams, known.cards):
        for name in table:
            assert name in result.output
    assert "CR2450  24.5 mm" in result.output
    for option in ("--light", "--colour", "--cell", "--tape", "--foam", "--card"):
        assert f"(name with {option})" in result.output
    assert all(len(line) <= 100 for line in result.output.splitlines())


def test_the_example_in_the_help_runs():
    help_text = run("--help").output
    assert "pencilamp parts --units in" in help_text
    result = run("--units", "in")
    assert result.exit_code == 0
    assert "4 1/4 in x 5 1/2 in" in result.output
    assert "3.2 mm (1/8 in)" in result.output


def test_the_parts_file_in_the_help_works(tmp_path):
    help_text = run("--help").output
    inside = help_text.split("looks like this:")[1].split("Example:")[0]
    path = tmp_path / "mine.toml"
    path.write_text("\n".join(line.strip() for line in inside.splitlines()), encoding="utf-8")
    result = run("--parts", str(path))
    assert result.exit_code == 0, result.output
    assert "my-star" in result.output


def test_sources_are_told_figure_by_figure(tmp_path):
    path = tmp_path / "mine.toml"
    path.write_text("[lights.3528]\nheight_mm = { value = 0.8, source = 'the bag' }\n", encoding="utf-8")
    result = run("--sources", "--parts", str(path))
    assert "height_mm: the bag" in result.output
    assert "from memory" in result.output


def test_a_bad_file_is_one_sentence_and_exit_code_4(tmp_path):
    path = tmp_path / "mine.toml"
    path.write_text("[lights.3528]\nheight_mm = 'tall'\n", encoding="utf-8")
    with pytest.raises(LayoutFileError, match=r"mine\.toml: light 3528, height_mm: .*'tall'") as caught:
        read_parts(path)
    assert caught.value.exit_code == 4
    result = run("--parts", str(path))
    assert isinstance(result.exception, LayoutFileError)


@pytest.mark.parametrize("kind", ["missing", "folder", "binary", "huge", "nested", "long number", "pipe"])
def test_a_file_that_can_t_be_read_is_told(tmp_path, kind):
    path = tmp_path / "mine.toml"
    if kind == "folder":
        path.mkdir()
    elif kind == "binary":
        path.write_bytes(b"\xff\xfe\x00\x81")
    elif kind == "huge":
        path.write_bytes(b"#" * 1_000_001)
    elif kind == "nested":
        path.write_bytes(b"a = " + b"[" * 5000 + b"]" * 5000)
    elif kind == "long number":
        path.write_bytes(b"a = " + b"9" * 5000)
    elif kind == "pipe":
        os.mkfifo(path)
    with pytest.raises(PencilampError, match=r"mine\.toml") as caught:
        read_parts(path)
    assert caught.value.exit_code == 4


def test_a_file_with_a_byte_order_mark_is_read(tmp_path):
    path = tmp_path / "mine.toml"
    path.write_text("\ufeff[foams.felt]\nthickness_mm = 2\n", encoding="utf-8")
    assert read_parts(path).foams["felt"].thickness_mm == 2.0


def test_without_a_file_the_program_s_list():
    assert read_parts(None) is default_parts()


def test_every_card_size_with_a_name_is_listed():
    text = run().output
    for size in CARD_SIZES:
        assert size.name in text
