"""Keep, look up, relabel, remove: what comes back is what went in."""

import io
from dataclasses import replace
from datetime import UTC, datetime
from functools import partial

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from circuit.errors import UsageError
from circuit.layout import Card
from cli.archive.health import look_over
from cli.archive.kept_design import NewFile, name_trouble, safe_name, tidy_note, tidy_tags, tidy_title
from cli.archive.questions import Wanted
from cli.archive.store import Archive
from cli.archive.trouble import NoSuchDesignError
from tests.cli.archive.made_up import made_up, made_up_plan, tiny_jpeg


@pytest.fixture
def archive(tmp_path):
    with Archive(tmp_path / "archive", writing=True) as opened:
        yield opened


def titles(archive, **wanted):
    return [design.title for design in archive.find(Wanted(**wanted))]


def test_what_was_kept_comes_back(archive):
    kept = archive.keep(made_up("Harbour", tags=("class", "gift"), note="Two\nlines"))
    (found,) = archive.find(Wanted())
    assert found == kept
    assert found.tags == ("class", "gift")
    assert [file.name for file in found.files] == ["plan.json", "overlay.png", "sheet.pdf", "harbour.jpg"]


def test_what_two_designs_share_is_on_the_disk_once(archive):
    archive.keep_all([made_up("One", shade=10), made_up("Two", shade=20), made_up("Three", shade=20)])
    # Plan, overlay and sheet are the same thrice; of the photos two are.
    assert len(list(archive.shelf.contents())) == 3 + 2


def test_an_empty_archive_is_not_made_by_looking(tmp_path):
    with Archive(tmp_path / "none", writing=False) as opened:
        assert titles(opened) == []
    assert not (tmp_path / "none").exists()


def test_the_newest_come_first(archive):
    archive.keep_all([made_up("Old", days_ago=9), made_up("New", days_ago=0), made_up("Middle", days_ago=4)])
    assert titles(archive) == ["New", "Middle", "Old"]


@pytest.mark.parametrize(
    ("wanted", "found"),
    [
        ({"words": ("harb",)}, {"Harbour at night", "Moor"}),
        ({"words": ("harb", "night")}, {"Harbour at night"}),
        ({"words": ("HARBOUR",)}, {"Harbour at night", "Moor"}),
        ({"words": ("café",)}, {"Cafe"}),
        ({"words": ("bour",)}, set()),  # inside a word
        ({"words": ('"harb',)}, {"Harbour at night", "Moor"}),
        ({"words": ("harb OR moor",)}, set()),  # "or" is a word like any other
        ({"words": ("NEAR(a b)",)}, set()),
        ({"words": ("*",)}, set()),
        ({"tags": ("Class",)}, {"Harbour at night"}),
        ({"tags": ("class", "gift")}, set()),
        ({"lights": (9, 9)}, {"Harbour at night"}),
        ({"lights": (3, 9999)}, {"Harbour at night", "Moor", "Cafe"}),
        ({"lights": (0, 4)}, {"Moor"}),
        ({"cell": "cr2016"}, {"Harbour at night"}),
        ({"cell": "2032"}, {"Moor", "Cafe"}),
        ({"cell": "%"}, set()),
        ({"card_mm": (148.0, 105.0)}, {"Cafe"}),  # lying or standing
        ({"card_mm": (105.0, 140.0)}, set()),
        ({"troubled": True}, {"Moor", "Cafe"}),
        ({"troubled": False}, {"Harbour at night"}),
        ({"since": datetime(2026, 11, 24, tzinfo=UTC)}, {"Harbour at night"}),
        ({"until": datetime(2026, 11, 24, tzinfo=UTC)}, {"Moor", "Cafe"}),
        ({"binned": True}, set()),
        ({"tags": ("\udcff",)}, set()),  # what a terminal hands on of a name in another code page
        ({"cell": "\udcff"}, set()),
        ({"words": ("\udcff",)}, set()),
        ({"words": ("harb",), "lights": (9, 9), "cell": "CR2016", "troubled": False}, {"Harbour at night"}),
    ],
)
def test_find(archive, wanted, found):
    small = made_up_plan(5, card=Card(105, 148), look_again=1)
    archive.keep(made_up("Harbour at night", tags=("class",), plan=made_up_plan(9, "CR2016")))
    archive.keep(made_up("Moor", note="not a harbour", days_ago=5, plan=made_up_plan(3, must_fix=2)))
    archive.keep(made_up("Cafe", tags=("gift",), days_ago=50, plan=small))
    assert set(titles(archive, **wanted)) == found
    assert archive.count(Wanted(**wanted)) == len(found)


@pytest.mark.parametrize(
    "words", ["lucja", "ŁUCJA", "lucja große", "grosse", "ørsted", "orst", "aethe lucja"]
)
def test_letters_without_an_accent_to_take_off_are_found_by_those_typed_for_them(archive, words):
    archive.keep(made_up("Łucja Größe Ørsted Æther"))
    assert titles(archive, words=tuple(words.split())) == ["Łucja Größe Ørsted Æther"]
    assert titles(archive, words=("lucjb",)) == titles(archive, words=("l" * 300,)) == []


def test_plain_letters_are_found_by_their_own_kind(archive):
    archive.keep(made_up("Lucja"))
    assert titles(archive, words=("łucja",)) == ["Lucja"]


def test_relabelled_designs_are_found_by_the_new_words_only(archive):
    kept = archive.keep(made_up("Harbour", tags=("class",), note="blue"))
    changed = archive.relabel(
        kept.number, lambda design: replace(design, title="Quay", tags=("gift",), note="green")
    )
    assert list(archive.find(Wanted(words=("quay", "gift", "green")))) == [changed]
    assert titles(archive, words=("harbour",)) == titles(archive, words=("blue",)) == []
    assert titles(archive, tags=("class",)) == []


def test_the_bin_holds_a_design_until_it_is_emptied(archive):
    one, two = archive.keep_all([made_up("One", shade=1), made_up("Two", shade=2)])
    archive.remove([one])
    assert titles(archive) == ["Two"]
    assert titles(archive, binned=True) == ["One"]
    assert archive.read_file(one, one.file("photo")) == tiny_jpeg(1)
    archive.put_back([archive.pick("One", binned=True)])
    assert set(titles(archive)) == {"One", "Two"}
    archive.remove([one])
    gone, freed = archive.empty_bin(list(archive.find(Wanted(binned=True))))
    assert (gone, freed) == (1, len(tiny_jpeg(1)))  # what Two needs too stays
    assert archive.read_file(two, two.file("plan"))
    assert not look_over(archive).leftovers
    assert not look_over(archive).bad


def test_pick_takes_numbers_titles_and_beginnings(archive):
    archive.keep_all([made_up("Harbour"), made_up("Harbour wall"), made_up("1999"), made_up("Lighthouse")])
    assert archive.pick("2").title == "Harbour wall"
    assert archive.pick("#2").title == "Harbour wall"
    assert archive.pick("harbour").title == "Harbour"  # the whole title goes before beginnings
    assert archive.pick("light").title == "Lighthouse"
    assert archive.pick("1999").title == "1999"  # no design has that number
    with pytest.raises(NoSuchDesignError, match=r"2 \(Harbour wall\), 1 \(Harbour\); say the number"):
        archive.pick("harb")
    with pytest.raises(NoSuchDesignError, match="no design"):
        archive.pick("moor")


def test_a_binned_design_is_pointed_at(archive):
    kept = archive.keep(made_up("Harbour"))
    archive.remove([kept])
    with pytest.raises(NoSuchDesignError, match="put-back 1"):
        archive.pick("1")


def test_a_file_that_changes_while_it_is_read_is_not_kept(archive):
    design = made_up()
    lying = NewFile("plan.json", "plan", partial(io.BytesIO, b"{}"), sha256="0" * 64)
    with pytest.raises(Exception, match="changed"):
        archive.keep_all([made_up("Sound"), type(design)("Lying", design.facts, (lying,))])
    assert titles(archive) == []
    assert list(archive.shelf.contents()) == []


@pytest.mark.parametrize("text", ["", "  ", "\n", "x" * 201])
def test_a_title_must_be_one(text):
    with pytest.raises(UsageError):
        tidy_title(text)


def test_words_are_tidied():
    assert tidy_title("  Harbour\tat \x07 night\n") == "Harbour at night"
    assert tidy_title("bad \udcff name") == "bad ? name"
    assert tidy_tags(["class, Class", "#gift", " "]) == ("class", "gift")
    assert tidy_note("one \n\n two\n") == "one\n\ntwo"


@given(st.text(max_size=300))
@settings(max_examples=200)
def test_a_safe_name_is_one_everywhere(text):
    name = safe_name(text, "card")
    assert name_trouble(name) is None
    assert len(name.encode()) <= 200


@pytest.mark.parametrize(
    "name",
    ["", ".", "..", "a/b", "a\\b", "C:x", "con", "NUL.txt", "a\x00b", "a.", " a", "x" * 300, "a\u202eb"],
)
def test_names_that_some_system_stumbles_over(name):
    assert name_trouble(name) is not None


@given(st.text(min_size=1, max_size=40), st.lists(st.text(max_size=10), max_size=4), st.text(max_size=60))
@settings(max_examples=40, deadline=None)
def test_any_words_are_kept_and_read_back(tmp_path_factory, title, tags, note):
    try:
        design = made_up(tidy_title(title), tags=tidy_tags(tags), note=tidy_note(note))
    except UsageError:
        return
    with Archive(tmp_path_factory.mktemp("words") / "a", writing=True) as archive:
        kept = archive.keep(design)
        assert list(archive.find(Wanted())) == [kept]
        assert not look_over(archive).leftovers  # so the slip says the same
