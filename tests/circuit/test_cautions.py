"""The cautions beside a coin cell: each danger named, calm, and sent on to who decides."""

from pathlib import Path

from circuit.cautions import caution_lines, mending_cautions, summary_cautions
from circuit.parts import cell_part
from circuit.settings import Settings

CAUTIONS = caution_lines(Settings())
README = Path(__file__).parents[2] / "README.md"


def test_each_danger_is_named_and_sent_on_to_who_decides():
    text = " ".join(CAUTIONS)
    for word in (
        "swallowed",
        "poison centre",
        "emergency number",
        "emergency at once",
        "nose or ear",
        "hot tool",
        "can get hot",
        "away from your fingers",
        "fresh air",
        "in the bin",
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


def test_a_caution_that_stands_alone_says_all_that_matters():
    # The summary and the phone's first box show the first alone: it must not wait for the next one to be read.
    assert "emergency at once" in summary_cautions()[0] and "emergency at once" in CAUTIONS[0]
    # Each is read by itself, in columns and lists: none leans on a word of the one before.
    assert not any(sentence.startswith(("It ", "They ", "This one")) for sentence in CAUTIONS)
    assert "that one" not in " ".join(CAUTIONS)


def test_who_mends_a_card_is_told_of_shorts_heat_and_tools():
    assert set(mending_cautions()) < set(CAUTIONS)
    text = " ".join(mending_cautions())
    for word in ("take it out", "solder", "away from your fingers"):
        assert word in text


def test_the_readme_names_the_same_dangers():
    text = " ".join(README.read_text(encoding="utf-8").partition("## Please mind")[2].split())
    for word in (
        "within two hours",
        "emergency at once",
        "nose or ear",
        "don't make the person vomit",
        "never charge, open or crush",
        "away from your fingers",
        "fresh air",
        "Never in the bin",
        "local rules decide",
    ):
        assert word in text, word


def test_no_doses_and_no_medical_recipe():
    text = " ".join(CAUTIONS).lower()
    for word in ("honey", "dose", "milk", "ml"):
        assert word not in text.split()


def test_the_sheet_names_the_cell():
    lines = caution_lines(Settings(cell=cell_part("CR2450")))
    assert "CR2450" in lines[0]
    assert summary_cautions()[1] in lines
