"""What can hurt is told first where it hurts by touch, and in full, in the printed answer and on the page."""

from __future__ import annotations

import pytest

from lenticel.identify import Answer, identify
from lenticel.keys import key
from lenticel.observation import read_observations
from lenticel.pages import Pages
from lenticel.sight import Sight
from lenticel.snapshot import Snapshot
from lenticel.text.identify import identify_text
from lenticel.text.key import key_markdown
from lenticel.text.key_page import key_html

ONE_SLIP_FROM_POISON_IVY = [("leaf-division", "trifoliate"), ("leaf-arrangement", "opposite"), ("growth-form", "climber"), ("aerial-rootlets", "present")]


@pytest.fixture(scope="module")
def pages(trees: Snapshot) -> Pages:
    return Pages(trees)


@pytest.fixture(scope="module")
def answer(trees: Snapshot, pages: Pages) -> Answer:
    return identify(trees, read_observations(pages.reader, ONE_SLIP_FROM_POISON_IVY))


@pytest.fixture(scope="module")
def page(pages: Pages) -> str:
    return pages.answer([f"{character}={value}" for character, value in ONE_SLIP_FROM_POISON_IVY], wild=False, month=0)


def test_what_hurts_by_touch_is_printed_first_and_with_what_to_do_though_the_plant_is_a_slip_away(trees: Snapshot, answer: Answer) -> None:
    lines = list(identify_text(trees.knowledge, answer))
    told = lines[lines.index("Caution:") + 1 :]
    by_touch = [trees.knowledge.cautions[key] for key in ("poison-ivy-carried-oil", "poison-ivy-skin")]
    assert [line.strip().startswith("but for one slip, Toxicodendron radicans (poison ivy), skin:") for line in told[:5]] == [True, False, True, False, False]
    for line, caution in zip((told[1], told[3]), by_touch, strict=True):
        assert caution.advice in line


def test_the_page_names_what_remains_before_it_spells_out_every_caution(pages: Pages) -> None:
    page = pages.answer(["leaf-arrangement=opposite", "bud-colour=green"], wild=False, month=2)
    assert page.index("Likeliest:") < page.index("<h2>Caution</h2>") < page.index("<h2>What remains</h2>") < page.index("<h2>Every caution in full</h2>")
    assert page.index("<h2>Every caution in full</h2>") < page.index("<h2>What is out, and why</h2>")


def test_the_page_says_at_its_head_what_touching_does_and_names_each_other_plant_that_can_hurt(trees: Snapshot, answer: Answer, page: str) -> None:
    head = page[page.index("<h2>Caution</h2>") : page.index("Every caution in full")]
    assert trees.knowledge.cautions["poison-ivy-skin"].advice in head
    assert answer.cautions
    for each in answer.cautions:
        assert trees.knowledge.taxa[each.taxon].scientific_name in head, each.id
    assert "<li>But for one slip" in head
    assert "Among what remains" not in head


def test_every_caution_of_the_answer_stands_on_the_page_with_its_advice_and_source(pages: Pages, answer: Answer, page: str) -> None:
    full = page[page.index("<h2>Every caution in full</h2>") :]
    for each in answer.cautions:
        assert f'href="{pages.at("cautions", each.id)}"' in full, each.id


def test_the_page_names_the_nearest_where_nothing_remains(page: str) -> None:
    lead = page[page.index("Nearest, 1 slip away:") : page.index("<h2>Caution</h2>")]
    assert "Toxicodendron radicans" in lead


def test_the_page_of_a_plant_tells_first_what_touching_does(pages: Pages) -> None:
    page = pages.taxon("toxicodendron-radicans")
    assert page.rindex(", skin (") < page.index(", eating (")


def test_the_page_of_a_character_at_large_does_not_say_that_nothing_shows_what_is_told_of_its_special_cases(pages: Pages) -> None:
    """That paper birch peels in papery curls is told of its old bark."""
    assert "the special cases say more" in pages.character("bark-texture")
    assert "more is said of" in pages.state("bark-texture.papery-curls")
    assert "special cases say more" not in pages.character("leaf-margin")
    assert "more is said of" not in pages.state("leaf-margin.entire")


def test_a_printed_key_tells_first_what_touching_does(trees: Snapshot) -> None:
    found = key(trees, ["toxicodendron-radicans", "acer-negundo"], Sight("summer"))
    for printed in ("\n".join(key_markdown(trees.knowledge, found)), "\n".join(key_html(trees.knowledge, found))):
        assert printed.rindex(", skin: ") < printed.index(", livestock: ")
