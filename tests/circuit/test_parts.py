import tomllib
from pathlib import Path

import pytest

import circuit
from circuit.card_sizes import CARD_SIZES, sayable_name, size_meant
from circuit.errors import LayoutFileError, UsageError
from circuit.part_kinds import CellPart, Diode, LightPart
from circuit.parts import cell_part, default_parts, light_part
from circuit.parts_file import load_parts

FILE = Path(circuit.__file__).with_name("parts.toml")


def mine(text):
    return load_parts(text, "mine.toml", default_parts())


def test_a_light_has_its_body_and_its_colour():
    light = light_part("5050", "red")
    assert (light.length_mm, light.width_mm, light.height_mm) == (5.0, 5.0, 1.6)
    assert light.colour == "red"
    assert light.die == default_parts().colours["red"].diode
    assert light.dice == 3


def test_dies_side_by_side_share_the_current():
    die, three = Diode(1e-15, 2.0, 9.0), Diode(1e-15, 2.0, 9.0).side_by_side(3)
    assert three.volts(0.030) == pytest.approx(die.volts(0.010), rel=1e-12)  # rounding alone


@pytest.mark.parametrize("spelling", ["cr2032", "CR 2032", "Cr-2032"])
def test_names_are_found_however_they_are_spelt(spelling):
    assert cell_part(spelling).name == "CR2032"


@pytest.mark.parametrize(
    ("ask", "words"),
    [
        (lambda: light_part("5051"), "5050"),
        (lambda: light_part("5050", "puce"), "warm-white"),
        (lambda: cell_part("LR44"), "CR2450"),
    ],
)
def test_an_unknown_name_is_refused_with_the_known_ones(ask, words):
    with pytest.raises(UsageError, match=words) as caught:
        ask()
    assert caught.value.exit_code == 2


@pytest.mark.parametrize(
    ("ask", "meant"),
    [
        (lambda: cell_part("2032"), "Did you mean CR2032?"),
        (lambda: cell_part("CR2477"), "parts list. Known"),  # no slip: another cell
        (lambda: light_part("5055"), "Did you mean 5050?"),
        (lambda: light_part("5050", "yelow"), "parts list. Known"),
        (lambda: light_part("5050", "amer"), "Did you mean amber?"),
        (lambda: default_parts().tape("6"), "Did you mean copper-6?"),
        (lambda: default_parts().tape("copper"), "parts list. Known"),  # three begin so
        (lambda: default_parts().tape(" "), "parts list. Known"),
    ],
)
def test_a_slip_is_answered_with_the_name_that_is_meant(ask, meant):
    with pytest.raises(UsageError) as caught:
        ask()
    assert meant in str(caught.value)


@pytest.mark.parametrize("kind", "lights colours cells tapes foams cards".split())
@pytest.mark.parametrize(
    "name", ["", " ", "\\u202e", "6\\u2066mm", "\\u001b[31mred", "a\\tb", "a\\nb", "\\u007f"]
)
def test_names_with_signs_that_cannot_be_seen_are_refused_in_one_sentence(kind, name):
    with pytest.raises(LayoutFileError, match=r"mine.toml: the name of a .*write the name anew") as caught:
        mine(f'[{kind}."{name}"]\n')
    assert str(caught.value).isprintable()


def test_names_in_any_script_are_taken():
    parts = mine('[tapes."Kupferfolie 6 mm"]\nwidth_mm = 6\n[tapes."銅箔"]\nwidth_mm = 5\n')
    assert parts.tape("kupferfolie 6mm").width_mm == 6
    assert parts.tape("銅箔").width_mm == 5


def test_every_figure_of_the_program_s_list_says_where_it_is_from():
    for kind, table in tomllib.loads(FILE.read_text(encoding="utf-8")).items():
        for part, fields in table.items():
            for field, figure in fields.items():
                assert isinstance(figure, dict), (kind, part, field)
                assert len(figure["source"]) > 4, (kind, part, field)
    sources = default_parts().sources
    assert sources["cells", "CR2450", "diameter_mm"].endswith("not 24")
    assert any("from memory" in text for text in sources.values())


@pytest.mark.parametrize("name", "5050 3528 2835 1206 0805".split())
@pytest.mark.parametrize("colour", "white|warm-white|red|amber|green|blue".split("|"))
def test_every_light_comes_in_every_colour(name, colour):
    light = light_part(name, colour)
    assert 0 < light.emitting_mm <= light.length_mm
    assert 1.4 < light.diode.volts(1e-3 * light.dice) < 3.2


def test_a_maker_s_file_adds_a_part_and_leaves_the_rest():
    parts = mine(
        '[lights.star]\nlength_mm = 3\nwidth_mm = 2.5\nheight_mm = 1.1\n[foams."felt"]\nthickness_mm = 2'
    )
    assert parts.light("star", "amber").length_mm == 3.0
    assert parts.light("star").die == parts.colours["white"].diode
    assert parts.foams["felt"].thickness_mm == 2.0
    assert parts.light("5050") == light_part("5050")
    assert parts.sources["lights", "star", "length_mm"] == "mine.toml"


def test_a_maker_s_file_overrides_field_by_field():
    parts = mine("[cells.cr2032]\ncapacity_mah = { low = 180, high = 200, source = 'the pack' }")
    cell = parts.cell("CR2032")
    assert (cell.capacity_low_mah, cell.capacity_high_mah) == (180.0, 200.0)
    assert cell.half_ohm == cell_part("CR2032").half_ohm
    assert parts.sources["cells", "CR2032", "capacity_mah"] == "the pack"
    assert default_parts().cell("CR2032").capacity_low_mah == 225.0


def test_a_new_cell_takes_its_size_from_its_code_and_its_resistance_from_its_face():
    cell = mine("[cells.CR1616]\ncapacity_mah = 50").cell("CR1616")
    assert (cell.diameter_mm, cell.height_mm) == (16.0, 1.6)
    assert cell.half_ohm == pytest.approx(cell_part("CR2032").half_ohm * (20 / 16) ** 2)


def test_what_a_bag_says_makes_a_diode():
    colour = mine("[colours.blue]\nforward_v = 3.1\nforward_ma = 20").colours["blue"]
    assert colour.diode.volts(0.020) == pytest.approx(3.1, abs=1e-9)  # rounding alone
    assert colour.diode.ideality == default_parts().colours["blue"].diode.ideality


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[lights.star]\nlength_mm = 3\nwidth_mm = 3", ["light star", "height_mm", "missing"]),
        ("[lights.3528]\nheight_mm = 'tall'", ["light 3528", "height_mm", "'tall'"]),
        ("[lights.3528]\nheight_mm = true", ["light 3528", "height_mm", "number"]),
        ("[lights.3528]\nheight_mm = nan", ["light 3528", "height_mm", "nan"]),
        ("[lights.3528]\nheight_mm = inf", ["light 3528", "height_mm", "inf"]),
        ("[lights.3528]\nheight_mm = -1", ["light 3528", "height_mm", "above 0"]),
        ("[lights.3528]\nlength_mm = 350", ["light 3528", "length_mm", "350"]),
        ("[lights.3528]\nheigth_mm = 1", ["light 3528", "heigth_mm", "height_mm"]),
        ("[lights.3528]\nheight_mm = { size = 1 }", ["light 3528", "height_mm", "size"]),
        ("[lights.3528]\nheight_mm = { source = 'x' }", ["light 3528", "height_mm", "value"]),
        ("[lights.3528]\nheight_mm = { value = 1, source = 3 }", ["light 3528", "height_mm", "source"]),
        ("[lights.3528]\ndice = 1.5", ["light 3528", "dice", "whole"]),
        ("[lights.3528]\nlength_mm = 2.0", ["light 3528", "length_mm", "3.5 x 2.8"]),
        ("[lights]\n3528 = 4", ["light 3528", "table"]),
        ("lights = 4", ["lights", "table"]),
        ("[lamps.a]\nlength_mm = 1", ["lamps", "lights"]),
        ("[colours.blue]\nx = 0.7\ny = 0.4", ["colour blue", "x, y", "0.7 + 0.4"]),
        ("[cells.CR2032]\nhalf_ohm = 5", ["cell CR2032", "fresh_ohm, half_ohm", "only grows"]),
        ("[cells.CR2032]\npulse_ma = 2", ["cell CR2032", "pulse_ma", "2 and 3 mA"]),
        ("[tapes.copper-5]\nfoil_mm = 0.2", ["tape copper-5", "foil_mm", "thicker"]),
        ("[cells.CR2477]\nheight_mm = 4.7\ncapacity_mah = 1000", ["cell CR2477", "height_mm", "7.7"]),
        ("[cells.CR2032]\ncapacity_mah = { low = 9, high = 3 }", ["cell CR2032", "capacity_mah", "above"]),
        ("[cells.mystery]\ncapacity_mah = 9", ["cell mystery", "diameter_mm", "missing"]),
        ("[colours.blue]\nforward_v = 0.1", ["colour blue", "forward_v"]),
        ("[colours.blue]\nforward_v = 6\nideality = 0.5", ["colour blue", "forward_v"]),
        ("[colours.blue]\nforward_ma = 20", ["colour blue", "forward_ma", "forward_v"]),
        ("[colours.blue]\nforward_v = 3\nsaturation_a = 1e-9", ["colour blue", "forward_v", "both"]),
        ("[colours.blue]\nideality = 0.001", ["colour blue", "ideality", "less"]),
        # With so little copper the voltages at the lights came out as no numbers at all.
        ("[tapes.copper-5]\nfoil_mm = 1e-308", ["tape copper-5", "foil_mm", "1e-308 is less"]),
        ("[cards.A6]\nenvelope = 6", ["card A6", "envelope", "words"]),
        ("[lights.3528\n", ["TOML"]),
    ],
)
def test_a_bad_figure_is_told_with_file_part_and_field(text, words):
    with pytest.raises(LayoutFileError) as caught:
        mine(text)
    message = str(caught.value)
    assert caught.value.exit_code == 4
    assert message.startswith("mine.toml")
    assert "\n" not in message
    for word in words:
        assert word in message


def test_parts_made_by_hand_need_no_electric_figures():
    assert LightPart("x", 3.0, 3.0, 1.0).diode.volts(0.001) > 2
    assert CellPart("x", 20.0, 3.2).capacity_mah > 0


@pytest.mark.parametrize(
    ("trace_mm", "name"),
    [(2.5, "copper-5"), (5.0, "copper-10"), (3.0, "copper-6"), (10.0, "copper-10"), (7.7, "copper-5")],
)
def test_a_trace_s_width_tells_which_tape_it_is_cut_from(trace_mm, name):
    assert default_parts().tape_for(trace_mm).name == name


def test_a_card_s_stock_is_found_by_its_everyday_name():
    parts = mine("[cards.a6]\nstock_mm = 0.5")
    assert parts.stock_mm("A6") == 0.5
    assert parts.stock_mm(None) == parts.stock_mm("a size of one's own") == 0.3


def test_every_card_size_is_listed_under_a_name_that_means_it():
    # `A7` was listed, and refused when it was said: an A7 envelope's card is another one.
    for size in CARD_SIZES:
        assert size_meant(sayable_name(size)) == size
