"""Descriptions from handbooks that no statement rests on keep their own species."""

from __future__ import annotations

import csv

import pytest

from lenticel.identify import Answer, identify
from lenticel.observation import Reader, read_observations
from lenticel.snapshot import Snapshot
from tests.outside.figures import FILE, column, descriptions, excluded_by_one, figures

# The sources of descriptions.csv, and a word of the title or address by which the tables would show that one is cited. Each row has its place.
# Books: Peattie 1934, Trees You Want to Know; Apgar 1892, Trees of the Northern United States; Keeler 1900, Our Native Trees; Blakeslee &
# Jarvis 1913, Trees in Winter. The others are sheets and course notes of the web, most of them undated.
SOURCES = {
    "Peattie 1934": "Trees You Want to Know",
    "Apgar 1892": "Trees of the Northern United States",
    "Keeler 1900": "Our Native Trees",
    "Blakeslee": "Blakeslee",
    "USDA NRCS Plant Guide": "NRCS Plant Guide",
    "PS 4910 plant notes": "ps4910",
    "PlantsGalore": "plantsgalore",
    "Utah State University Extension": "usu.edu",
    "New England Trees n.d.": "newenglandtrees",
    "Colby-Sawyer College": "colby-sawyer",
    "haufc.org": "haufc",
    "Kuo": "mushroomexpert",
    "Sayers": "portraitoftheearth",
    "Yale FES 505b": "fes505b",
    "Colorado Department of Agriculture": "agconservation",
    "Dereila Nature Inn": "dereilanatureinn",
    "Louisiana State University": "rnr.lsu.edu",
    "Connecticut Wilderness": "connecticutwilderness",
    "borealforest.org": "borealforest",
    "My Species List": "myspecieslist",
    "DePauw Nature Park": "depauw",
    "saps.org.uk": "saps.org.uk",
    "University of Massachusetts Extension": "umass.edu",
    "acer-acre.ca": "acer-acre",
    "cec-dairymuseum.com": "cec-dairymuseum",
    "welchproperty.com": "welchproperty",
    "D'Appollonio 2018, University of Maine": "umaine.edu",
    "Suffield Land Conservancy": "suffieldlandconservancy",
    "Unity College": "pocketsights",
    "Prairie Woods Arboretum": "prairiewoodsarboretum",
}
# Slips of the print: Peattie gives hemlock, whose cones he calls small, cones of 3-4 inches, and butternut fruits of half an inch.
MISPRINTED = {"peattie-1934-tsuga-canadensis": "cone-length", "peattie-1934-juglans-cinerea": "fruit-length"}
# Said otherwise than by every source of the tables; left as it was read. Who finds a source that agrees, and so mends the table, takes the line out.
OTHERWISE = {
    "haufc-prunus-serotina": "terminal-bud-length",
    "lsu-nyssa-sylvatica": "trunk-diameter",
    "ps4910-2010-ostrya-virginiana": "bud-scale-count",
    "newenglandtrees-larix-laricina": "needle-section",
    "peattie-1934-juglans-nigra": "leaflet-count",
}
DESCRIPTIONS = descriptions()


def test_there_is_something_to_check_and_every_row_says_where_it_stands() -> None:
    assert len(DESCRIPTIONS) >= 210
    with FILE.open(encoding="utf-8", newline="") as lines:
        for row in csv.DictReader(lines):
            assert row["source"].startswith(tuple(SOURCES)), f"{row['source']} is not named among the sources of this check"
            assert row["locator"]


def test_none_of_these_sources_stands_behind_a_statement(trees: Snapshot) -> None:
    sources = trees.knowledge.sources.values()
    assert sources
    cited = " ".join(f"{source.authors} {source.title} {source.container} {source.url}" for source in sources).casefold()
    assert not [word for word in SOURCES.values() if word.casefold() in cited]


def test_every_source_named_here_has_rows() -> None:
    found = column("source").values()
    assert not [source for source in SOURCES if not any(each.startswith(source) for each in found)]


@pytest.mark.parametrize(("description", "taxon"), DESCRIPTIONS, ids=[description for description, _ in DESCRIPTIONS])
def test_a_handbook_description_keeps_its_species(trees: Snapshot, reader: Reader, description: str, taxon: str) -> None:
    answer = identify(trees, read_observations(reader, DESCRIPTIONS[description, taxon]))
    own = next(each for each in (*answer.consistent, *answer.excluded) if each.taxon == taxon)
    against = [mark.observation for mark in own.marks if mark.verdict == "contradicts"]
    expected = (MISPRINTED | OTHERWISE).get(description)
    assert [each.split(":")[0] for each in against] == ([expected] if expected else [])


def test_nearly_all_descriptions_keep_their_species_and_one_slip_is_survived(trees: Snapshot) -> None:
    found = figures(trees, DESCRIPTIONS)
    print(found)
    assert found.kept >= 0.95
    assert found.one_slip >= 0.99


# Common practice, no source: figures that people of the trade use in the field, in inches and feet.
PRACTICE = {
    "acer-saccharinum": [("leaf-blade-length", "3-6 in"), ("height", "<=100 ft"), ("habitat", "wet-ground")],
    "acer-saccharum": [("leaf-blade-length", "3-5 in"), ("height", "<=100 ft"), ("samara-length", "1-2 in")],
    "acer-rubrum": [("leaf-blade-length", "2-6 in"), ("height", "<=70 ft"), ("samara-length", "1 in"), ("habitat", "wet-ground")],
    "acer-palmatum": [("leaf-blade-length", "2-5 in"), ("height", "10-25 ft"), ("samara-length", "1 in")],
}


def _answer(trees: Snapshot, reader: Reader, taxon: str) -> Answer:
    return identify(trees, read_observations(reader, PRACTICE[taxon]))


def test_sizes_are_not_held_so_loosely_that_they_exclude_nothing(trees: Snapshot) -> None:
    count, of_all, of_known = excluded_by_one(trees)
    assert count >= 25
    assert 0.4 < of_all < 1
    assert 0.2 < of_known < of_all


@pytest.mark.parametrize("taxon", PRACTICE)
def test_figures_of_common_practice_put_no_species_out_and_who_sees_it_otherwise_is_named(trees: Snapshot, reader: Reader, taxon: str) -> None:
    answer = _answer(trees, reader, taxon)
    own = next((each for each in answer.consistent if each.taxon == taxon), None)
    assert own is not None
    for mark in own.marks:
        if mark.verdict == "atypical":
            cited = [answer.citations[key] for ground in mark.grounds for key in ground.statements]
            assert cited
            assert all(each.citation and each.locator for each in cited)


def test_at_least_one_figure_of_common_practice_is_seen_otherwise_by_a_handbook(trees: Snapshot, reader: Reader) -> None:
    marks = [mark for taxon in PRACTICE for each in _answer(trees, reader, taxon).consistent if each.taxon == taxon for mark in each.marks]
    print([(mark.observation, mark.verdict) for mark in marks])
    assert len(marks) >= 10
