"""Settings go into the plan file by name and come back."""

import json

import pytest

from circuit.errors import LayoutFileError, UsageError
from circuit.parts import cell_part, light_part, tape_part
from circuit.settings import Settings
from circuit.settings_json import settings_from_dict, settings_to_dict


@pytest.mark.parametrize(
    "settings",
    [
        Settings(),
        Settings(tape=tape_part("copper-10"), corners="lapped"),
        Settings(
            light_part("5050", "white"),
            cell_part("CR2032"),
            3.0,
            2.0,
            units="in",
            limits={"traces-too-close": 2.0},
        ),
    ],
)
def test_settings_read_back_as_written(settings):
    assert settings_from_dict(json.loads(json.dumps(settings_to_dict(settings)))) == settings


def test_what_is_left_out_is_as_by_default():
    assert settings_from_dict({}) == Settings()


@pytest.mark.parametrize(
    ("value", "words"),
    [
        ({"tape_width_mm": 0}, "tape_width_mm"),
        ({"gap_mm": "wide"}, "gap_mm"),
        ({"corners": "round"}, "corners"),
        ({"units": "furlong"}, "units"),
        ({"limits": []}, "limits"),
        ({"limits": {"traces-too-close": None}}, "limits.traces-too-close"),
    ],
)
def test_a_bad_field_is_named(value, words):
    with pytest.raises(LayoutFileError, match=words):
        settings_from_dict(value)


def test_an_unknown_part_is_named():
    with pytest.raises(UsageError, match="CR9999"):
        settings_from_dict({"cell": "CR9999"})
