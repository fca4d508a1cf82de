"""The cautions beside a coin cell: each danger named, calm, and sent on to who decides."""

from circuit.cautions import caution_lines, summary_cautions
from circuit.parts import cell_part
from circuit.settings import Settings

CAUTIONS = caution_lines(Settings())


def test_each_danger_is_named_and_sent_on_to_who_decides():
    text = " ".join(CAUTIONS)
    for word in (
        "swallowed",
        "poison centre",
        "emergency number",
        "hot tool",
        "post",
        "collection point",
        "local",
    ):
        assert word in text


def test_they_are_short_and_calm():
    for sentence in CAUTIONS:
        assert len(sentence) < 260
        assert "!" not in sentence
        assert sentence.endswith(".")


def test_no_doses_and_no_medical_recipe():
    text = " ".join(CAUTIONS).lower()
    for word in ("honey", "dose", "milk", "ml"):
        assert word not in text.split()


def test_the_sheet_names_the_cell():
    lines = caution_lines(Settings(cell=cell_part("CR2450")))
    assert "CR2450" in lines[0]
    assert summary_cautions()[1] in lines
