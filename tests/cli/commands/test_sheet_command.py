"""`pencilamp sheet` and `pencilamp square`: what is written, what is said, what a failure leaves behind."""

import hashlib
import os
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

import circuit.parts
from circuit.plan_json import plan_to_dict
from cli.files import json_bytes, write_whole
from cli.main import main
from tests.cli import cards

DEFAULT_PARTS = Path(circuit.parts.__file__).with_name("parts.toml")


def run(*args):
    return CliRunner().invoke(main, [str(arg) for arg in args])


@pytest.fixture
def folder(tmp_path):
    write_whole(tmp_path / "harbour" / "plan.json", json_bytes(plan_to_dict(cards.seven_lights())))
    return tmp_path / "harbour"


def names_in(folder):
    return sorted(path.name for path in folder.iterdir())


def test_the_pages_come_from_the_plan_file_alone(folder):
    result = run("sheet", folder / "plan.json")
    assert result.exit_code == 0, result.output
    assert names_in(folder) == ["build.pdf", "plan.json", "sheet.pdf"]
    assert all((folder / name).read_bytes().startswith(b"%PDF-") for name in ("build.pdf", "sheet.pdf"))
    assert "sheet.pdf" in result.output


def test_the_plans_folder_will_do_and_extras_come_on_request(folder, tmp_path):
    result = run("sheet", folder, "--out", tmp_path / "class", "--mirrored", "--marks", "--copies", "20")
    assert result.exit_code == 0, result.output
    assert names_in(tmp_path / "class") == ["build.pdf", "marks.pdf", "sheet-mirrored.pdf", "sheet.pdf"]
    assert names_in(folder) == ["plan.json"]


def test_the_same_plan_gives_the_same_files_in_another_process(folder, tmp_path):
    digests = []
    for seed in ("1", "2"):
        out = tmp_path / seed
        code = f"from cli.main import main; main(['sheet', {str(folder)!r}, '--out', {str(out)!r}])"
        done = subprocess.run(
            [sys.executable, "-c", code],
            env={**os.environ, "PYTHONHASHSEED": seed},
            capture_output=True,
            check=False,
        )
        assert done.returncode == 0, done.stderr
        digests.append(
            {name: hashlib.sha256((out / name).read_bytes()).hexdigest() for name in names_in(out)}
        )
    assert digests[0] == digests[1]


@pytest.mark.parametrize(
    ("content", "words"),
    [(None, "no such file"), (b"", "not a plan"), (b"{}", "schema")],
    ids=["missing", "empty", "other json"],
)
def test_what_is_no_plan_is_said_in_one_sentence_and_leaves_nothing(tmp_path, content, words):
    path = tmp_path / "plan.json"
    if content is not None:
        path.write_bytes(content)
    before = names_in(tmp_path)
    result = run("sheet", path)
    assert result.exit_code != 0
    assert words in str(result.exception)
    assert result.exception.exit_code == 4
    assert names_in(tmp_path) == before


def test_settings_that_are_nonsense_are_named(folder):
    value = plan_to_dict(cards.seven_lights())
    value["settings"]["cell"] = "CR9999"
    write_whole(folder / "plan.json", json_bytes(value))
    result = run("sheet", folder)
    assert "CR9999" in str(result.exception)
    assert names_in(folder) == ["plan.json"]


def test_a_plan_made_with_parts_of_ones_own_finds_them_again(folder, tmp_path):
    value = plan_to_dict(cards.seven_lights())
    value["settings"]["cell"] = "MY2130"
    write_whole(folder / "plan.json", json_bytes(value))
    own = tmp_path / "parts.toml"
    own.write_text(
        (DEFAULT_PARTS.read_text(encoding="utf-8").partition("[cells.CR2032]")[2].partition("\n[")[0]).join(
            ["[cells.MY2130]", "\n"]
        ),
        encoding="utf-8",
    )
    result = run("sheet", folder, "--parts", own)
    assert result.exit_code == 0, result.output or result.exception
    assert names_in(folder) == ["build.pdf", "plan.json", "sheet.pdf"]


def test_a_page_of_squares_is_written_once_and_again_only_by_force(tmp_path):
    target = tmp_path / "squares.pdf"
    assert run("square", "--out", target).exit_code == 0
    first = target.read_bytes()
    again = run("square", "--out", target, "--paper", "a4")
    assert "--force" in str(again.exception)
    assert target.read_bytes() == first
    assert run("square", "--out", target, "--paper", "a4", "--force").exit_code == 0
    assert target.read_bytes() != first


def test_a_class_of_one_is_remarked(folder):
    assert "for a class of 20 say --copies 20" in run("sheet", folder, "--class").output
    assert "--copies" not in run("sheet", folder, "--class", "--copies", "2").output


def test_a_page_gets_the_ending_that_opens_it(tmp_path):
    for name, written in (("squares", "squares.pdf"), ("squares.png", "squares.png.pdf"), ("S.PDF", "S.PDF")):
        result = run("square", "--out", tmp_path / name)
        assert f"Wrote {tmp_path / written}." in result.output
        assert (tmp_path / written).read_bytes().startswith(b"%PDF")


def test_the_examples_in_the_help_run(folder, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    for command in ("square", "sheet"):
        text = run(command, "--help").output
        example = text.split("Example:")[1].strip().splitlines()[0].split()
        assert example[0] == "pencilamp"
        result = run(*example[1:])
        assert result.exit_code == 0, result.output
