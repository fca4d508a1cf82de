"""A card that needs moves is there to be looked at before they are looked for, and a killed search spoils nothing."""

import json
import os
import subprocess
import sys
import textwrap
from contextlib import contextmanager

import pytest

from circuit.parts import default_parts
from circuit.plan_json import plan_from_dict
from cli.commands.plan_to_folder import plan_to_folder
from cli.files import json_bytes
from cli.plan_folder import record_of
from cli.plan_options import PlanOptions

# Two lights 5 mm apart, where 7 is the least.
CLOSE = {
    "schema": "pencilamp/layout/1",
    "card": {"width_mm": 107.95, "height_mm": 139.7},
    "battery": {"x_mm": 80.0, "y_mm": 110.0, "diameter_mm": 20.6},
    "lights": [{"x_mm": 40.0, "y_mm": 60.0}, {"x_mm": 45.0, "y_mm": 60.0}],
}
BELOW = {"x_mm": 54.0, "y_mm": 100.0, "diameter_mm": 20.6}
PLAIN = PlanOptions(pages=False, parts=default_parts())


@pytest.fixture
def close_card(tmp_path):
    path = tmp_path / "harbour.json"
    path.write_text(json.dumps(CLOSE), encoding="utf-8")
    return path


def test_the_card_as_drawn_is_shown_while_moves_are_looked_for(close_card, tmp_path):
    folder = tmp_path / "plan"
    seen = {}

    @contextmanager
    def say(doing):
        seen[doing] = {path.name for path in folder.iterdir()} if folder.exists() else set()
        if "moves" in doing:
            seen["first"] = plan_from_dict(json.loads((folder / "plan.json").read_bytes()))
            seen["record"] = record_of(folder)
        yield

    outcome = plan_to_folder(close_card, folder, PLAIN, 80, say)
    assert outcome.code == 1
    (looking,) = [doing for doing in seen if "moves" in doing]
    assert str(folder / "overlay.png") in looking
    assert seen[looking] == {"overlay.png", "plan.json"}
    assert seen["first"].must_fix and not seen["first"].moves
    assert seen["record"].unchanged
    whole = plan_from_dict(json.loads((folder / "plan.json").read_bytes()))
    assert whole.moves
    assert (folder / "corrected.png").exists()


def test_what_is_looked_for_is_said_at_each_moment(tmp_path):
    # Two lights in the upper corners, as near to the edges as may be: a branch helps, and no small moves do.
    corners = [(7.6, 7.6), (100.35, 7.6), (40.0, 40.0), (68.0, 40.0)]
    path = tmp_path / "harbour.json"
    lights = [{"x_mm": x, "y_mm": y} for x, y in corners]
    path.write_text(json.dumps({**CLOSE, "battery": BELOW, "lights": lights}), encoding="utf-8")
    said = []

    @contextmanager
    def say(doing):
        said.append(doing)
        yield

    assert plan_to_folder(path, tmp_path / "plan", PLAIN, 80, say).code == 0
    looking = [doing.split("Looking for ")[1] for doing in said if "Looking for " in doing]
    assert looking == [
        "the smallest moves that mend harbour.json",
        "side branches for lights of harbour.json that no single lane passes",
    ]


def test_a_card_without_problems_is_saved_once(tmp_path, monkeypatch):
    saves = []
    monkeypatch.setattr(
        "cli.commands.plan_to_folder.save_plan", lambda *given, **_: saves.append(given) or ()
    )
    path = tmp_path / "harbour.json"
    path.write_text(json.dumps({**CLOSE, "lights": CLOSE["lights"][:1]}), encoding="utf-8")
    assert plan_to_folder(path, tmp_path / "plan", PLAIN, 80).code == 0
    assert len(saves) == 1


def test_a_search_killed_in_between_leaves_a_valid_plan(close_card, tmp_path):
    folder = tmp_path / "plan"
    killed = textwrap.dedent(
        """
        import os, pathlib, sys
        import circuit.plan_card
        from cli.commands.plan_to_folder import plan_to_folder
        from circuit.parts import default_parts
        from cli.plan_options import PlanOptions
        circuit.plan_card.with_moves = lambda *_: os._exit(9)
        options = PlanOptions(pages=False, parts=default_parts())
        plan_to_folder(pathlib.Path(sys.argv[1]), pathlib.Path(sys.argv[2]), options, 80)
        """
    )
    done = subprocess.run(
        [sys.executable, "-c", killed, str(close_card), str(folder)],
        env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
        check=False,
        timeout=120,
    )
    assert done.returncode == 9
    assert {path.name for path in folder.iterdir()} == {"overlay.png", "plan.json"}
    plan = plan_from_dict(json.loads((folder / "plan.json").read_bytes()))
    assert plan.must_fix and plan.source.name == "harbour.json"
    # The next command finds nothing odd in the folder, and finishes the job.
    outcome = plan_to_folder(close_card, folder, PLAIN, 80)
    assert "kept" not in outcome.text and "cut off" not in outcome.text
    assert plan_from_dict(json.loads((folder / "plan.json").read_bytes())).moves


def test_a_plan_planned_again_is_kept_beside_once(close_card, tmp_path):
    folder = tmp_path / "plan"
    plan_to_folder(close_card, folder, PLAIN, 80)
    first = (folder / "plan.json").read_bytes()
    outcome = plan_to_folder(folder / "plan.json", folder, PLAIN, 80)
    assert outcome.text.count("is kept in") == 1
    assert [path.name for path in folder.iterdir() if path.is_dir()] == ["before-1"]
    assert (folder / "before-1" / "plan.json").read_bytes() == first


def test_an_older_plan_under_another_name_is_saved_twice_too(close_card, tmp_path):
    # Its plan.json says that it was made from the photo, not from the file that is planned now.
    first = plan_to_folder(close_card, tmp_path / "first", PLAIN, 80)
    plan = json.loads((tmp_path / "first" / "plan.json").read_bytes())
    (tmp_path / "older.json").write_text(json.dumps({**plan, "made_from": "harbour.jpg"}))
    older, folder = tmp_path / "older.json", tmp_path / "again"
    for _ in range(
        2
    ):  # the second time, too, it is this file's folder, also once its own plan was changed in it
        again = plan_to_folder(older, folder, PLAIN, 80)
        assert (again.code, again.trouble) == (first.code, False), again.text
        assert (record_of(folder).made_from, record_of(folder).planned) == ("harbour.jpg", "older.json")
        assert not plan_to_folder(folder / "plan.json", folder, PLAIN, 80).trouble
    # Another plan of that name is not let in where it tells of another photo, nor one of another name at all.
    older.write_text(json.dumps({**plan, "made_from": "moor.jpg"}))
    (tmp_path / "other.json").write_text(json.dumps({**plan, "made_from": "harbour.jpg"}))
    for stranger in (older, tmp_path / "other.json"):
        refused = plan_to_folder(stranger, folder, PLAIN, 80)
        assert refused.code == 4 and "holds the plan of harbour.jpg" in refused.text


def test_a_folder_that_does_not_record_what_was_planned_is_taken_and_kept_whole(close_card, tmp_path):
    # As an earlier version left it: by `plan older.json`, of a plan that tells of a photo.
    plan_to_folder(close_card, tmp_path / "first", PLAIN, 80)
    plan = json.loads((tmp_path / "first" / "plan.json").read_bytes())
    (tmp_path / "older.json").write_text(json.dumps({**plan, "made_from": "harbour.jpg"}))
    older, folder = tmp_path / "older.json", tmp_path / "again"
    plan_to_folder(older, folder, PLAIN, 80)
    value = json.loads((folder / "plan.json").read_bytes())
    del value["written"]["planned"]
    (folder / "plan.json").write_bytes(json_bytes(value))
    there = {path.name: path.read_bytes() for path in folder.iterdir()}
    again = plan_to_folder(older, folder, PLAIN, 80)
    assert not again.trouble and "The plan before is kept in" in again.text, again.text
    assert {path.name: path.read_bytes() for path in (folder / "before-1").iterdir()} == there
    # From now on it is known.
    assert "is kept" not in plan_to_folder(older, folder, PLAIN, 80).text
    # A photo's folder is no other photo's.
    older.write_text(json.dumps({**plan, "made_from": "moor.jpg"}))
    assert plan_to_folder(older, folder, PLAIN, 80).code == 4
