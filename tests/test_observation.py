"""Observations are read as people write them, and refused with what to write instead."""

from __future__ import annotations

import pytest

from lenticel.errors import LenticelError
from lenticel.identify import identify
from lenticel.observation import Reader, distinct, entails
from lenticel.snapshot import Snapshot


@pytest.mark.parametrize(
    ("character", "value", "text"),
    [
        ("leaf-margin", "serrate", "leaf-margin: serrate"),
        ("leaf-margin", "doubly-serrate|serrate", "leaf-margin: serrate"),
        ("leaf edge", "Saw-Toothed", "leaf-margin: serrate"),
        ("leaf margin", "doubly serrate", "leaf-margin: doubly-serrate"),
        ("Twig color", "gray", "twig-colour: grey"),
        ("samara_angle", "in one line", "samara-angle: in-one-line"),
        ("fruit-colour", "white", "fruit-colour: white-or-cream"),
        ("bark-texture-mature", "shaggy", "bark-texture-mature: shreddy"),
        ("needle-section", "four-angled", "needle-section: four-sided"),
        ("leaf scars meeting", "not meeting", "leaf-scars-meeting: not-meeting"),
        ("leaf-margin", "not toothed", "leaf-margin: entire"),
        ("petiole-sap", "not milky", "petiole-sap: clear"),
        ("petiole-sap", "! milky", "petiole-sap: clear"),
        ("leaf-scars-meeting", "not meeting", "leaf-scars-meeting: not-meeting"),
        ("twig-wings", "absent", "twig-wings: absent"),
        ("twig-wings", "not absent", "twig-wings: present"),
        ("leaf-blade-length", "3 in", "leaf-blade-length: 6.35–8.89 cm"),
        ("leaf-lobe-count", "5", "leaf-lobe-count: 5"),
        ("leaf-lobe-count", "not 5-7", "leaf-lobe-count: up to 4 or 8 or more"),
        ("height", "<=12 m", "height: up to 12 m"),
        ("flowering-month", "11-2", "flowering-month: month 11–2"),
        ("flowering-month", "not 3-12", "flowering-month: month 1–2"),
        ("leaf-colour-summer|leaf-colour-autumn", "red", "leaf-colour-summer: red or leaf-colour-autumn: red"),
    ],
)
def test_each_form_has_one_meaning_in_words(reader: Reader, character: str, value: str, text: str) -> None:
    assert reader.observation(character, value).text == text


@pytest.mark.parametrize(
    ("character", "value", "code"),
    [
        ("leaf-margn", "serrate", "unknown-term"),
        ("leaf-margin", "serate", "unknown-term"),
        ("leaf-margin", "", "bad-observation"),
        ("", "serrate", "bad-observation"),
        ("leaf-margin", "not entire|toothed", "bad-observation"),
        ("leaf-margin", "absent", "bad-observation"),
        ("leaf-margin", "5 cm", "unknown-term"),
        ("leaf-blade-length", "serrate", "bad-quantity"),
        ("leaf-blade-length", "8-5 cm", "bad-quantity"),
        ("leaf-blade-length", "5 kg", "bad-quantity"),
        ("leaf-blade-length", "700 m", "bad-quantity"),
        ("leaf-lobe-count", "4.5", "bad-quantity"),
        ("flowering-month", "13", "bad-quantity"),
        ("flowering-month", "not 1-12", "bad-observation"),
        ("leaf-lobe-count", "not >=0", "bad-observation"),
        ("height", "not -3 m", "bad-quantity"),
    ],
)
def test_what_cannot_be_tested_is_refused_with_a_code_and_a_fix(reader: Reader, character: str, value: str, code: str) -> None:
    with pytest.raises(LenticelError) as caught:
        reader.observation(character, value)
    assert caught.value.code == code
    assert caught.value.fix


def test_a_figure_that_cannot_be_read_is_told_with_its_character(reader: Reader) -> None:
    """In a list of trees the message is all that a surveyor has."""
    with pytest.raises(LenticelError) as caught:
        reader.observation("height", "tall")
    assert caught.value.message == "'height': 'tall' is not a quantity."


def test_a_month_that_cannot_be_read_is_told_how_months_are_written(reader: Reader) -> None:
    with pytest.raises(LenticelError) as caught:
        reader.observation("flowering-month", "April")
    assert "4" in caught.value.fix
    assert "cm" not in caught.value.fix


@pytest.mark.parametrize(
    ("strong", "weak"),
    [
        (("leaf-margin", "doubly-serrate"), ("leaf-margin", "toothed")),
        (("leaf-margin", "crenate"), ("leaf-margin", "not entire")),
        (("leaf-colour-autumn", "red"), ("leaf-colour", "red|yellow")),
        (("leaflet-count", "5"), ("leaf-division", "compound")),
        (("leaf-sinus-depth", "deep"), ("leaf-division", "simple")),
        (("samara-angle", "right-angle"), ("fruit-type", "samara")),
        (("height", "12 m"), ("height", "5-20 m")),
        (("flowering-month", "4"), ("flowering-month", "3-5")),
        (("leaf-margin", "crenate"), ("leaf-margin|leaflet-margin", "crenate")),
    ],
)
def test_the_stronger_of_two_observations_makes_the_other_needless(reader: Reader, strong: tuple[str, str], weak: tuple[str, str]) -> None:
    one, other = reader.observation(*strong), reader.observation(*weak)
    assert entails(reader.snapshot, one, other)
    assert not entails(reader.snapshot, other, one)
    assert distinct(reader.snapshot, [other, one]) == ([one], [(other, one)])


def test_a_doubly_pinnate_leaf_leaves_no_tree_whose_leaves_are_pinnate_only(trees: Snapshot, reader: Reader) -> None:
    """A state below another is one of its kinds; ashes would then remain, as "pinnate" would hold what is pinnate twice."""
    left = {each.taxon for each in identify(trees, [reader.observation("leaf-division", "doubly-pinnate")]).consistent}
    assert left >= {"gymnocladus-dioicus", "gleditsia-triacanthos"}
    assert not left & {"fraxinus-americana", "juglans-nigra", "robinia-pseudoacacia", "carya-ovata", "toxicodendron-vernix"}
