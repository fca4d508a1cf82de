import pytest

from circuit.size_codes import cell_size, light_sizes


@pytest.mark.parametrize("name", ["", "CR", "CR3", "LR44", "CR9999", "2032", "CR2032A", "BR2032"])
def test_what_is_no_code_of_a_cell_here(name):
    assert cell_size(name) is None


@pytest.mark.parametrize("name", ["", "505", "50500", "star", "0000", "5 50"])
def test_what_is_no_code_of_a_light(name):
    assert light_sizes(name) == ()


def test_a_code_that_exists_in_both_systems_has_two_sizes():
    assert light_sizes("0603") == ((1.6, 0.8), (0.6, 0.3))
