import json

import pytest
from click.testing import CliRunner
from PIL import Image

from circuit.errors import UsageError
from circuit.plan_card import plan_card
from circuit.plan_json import plan_to_dict
from circuit.settings import Settings
from cli.main import main
from cli.output_names import DARK_NAME
from tests.circuit.cards import ladder


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    layout, _ = ladder(5)
    path = tmp_path_factory.mktemp("dark")
    plan = plan_card(layout, Settings()).plan
    (path / "plan.json").write_text(json.dumps(plan_to_dict(plan)), encoding="utf-8")
    return path


def run(*arguments):
    return CliRunner().invoke(main, ["dark", *map(str, arguments)])


def test_the_likeliest_fault_the_test_and_a_picture(folder):
    done = run(folder, "L3")
    assert done.exit_code == 0, done.output
    for words in ("L3 stays dark.", "Try this first:", "1. Likely: L3's pads", "common practice", "--tried"):
        assert words in done.output
    with Image.open(folder / DARK_NAME) as picture:
        assert picture.width > 500


def test_the_answer_to_the_test_goes_on(folder):
    done = run(folder / "plan.json", "L3", "--tried", "lit-turned", "--no-picture", "--units", "in")
    assert "1. Nearly sure: L3 is the wrong way round" in done.output
    assert " in from the " in done.output


def test_labels_may_stand_with_commas_between(folder):
    assert run(folder, "l1,L3", "--no-picture").output.startswith("L1 and L3 stay dark.")


def test_dim_lights_may_be_named_alone(folder):
    assert run(folder, "--dim", "L2", "--no-picture").output.startswith("L2 is dim.")


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["L9"], "There is no light L9"),
        ([], "Name the lights"),
        (["L3", "--tried", "perhaps"], "no answer to this test"),
    ],
)
def test_wrong_use_is_one_sentence(folder, arguments, words):
    done = run(folder, *arguments, "--no-picture")
    assert done.exception is not None
    assert words in str(done.exception)


def test_somebody_else_s_picture_of_that_name_stays(folder, tmp_path):
    (tmp_path / DARK_NAME).write_bytes(b"mine")
    done = run(folder, "L1", "--out", tmp_path)
    assert "not known to be Pencilamp's" in str(done.exception)
    assert (tmp_path / DARK_NAME).read_bytes() == b"mine"
    assert run(folder, "L1", "--out", tmp_path, "--force").exit_code == 0
    assert (tmp_path / DARK_NAME).read_bytes() != b"mine"


def test_the_picture_goes_where_it_is_told(folder, tmp_path):
    assert run(folder, "L1", "--out", tmp_path / "x").exit_code == 0
    assert (tmp_path / "x" / DARK_NAME).is_file()


def test_a_light_that_is_dark_and_dim_at_once_is_asked_about(folder):
    done = run(folder, "L3", "--dim", "l3", "--no-picture")
    assert isinstance(done.exception, UsageError)
    assert "L3 is named as dark and, with --dim, as dim" in str(done.exception)
