"""What to look at next, and keys for the walk, on the real knowledge: true to the logic, and the same by every face."""

from __future__ import annotations

import json
import random
import re
from collections.abc import Iterator
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lenticel.cli import main
from lenticel.direct import snapshot_from
from lenticel.following import following
from lenticel.identify import Context, identify
from lenticel.keys import Key, key
from lenticel.model import Statement
from lenticel.observation import Reader
from lenticel.sight import Sight
from lenticel.snapshot import Snapshot
from lenticel.text.key import key_text
from lenticel.text.key_ends import among, goes
from tests.generators import random_knowledge
from tests.optimal import group


def ends(found: Key) -> Iterator[str]:
    for couplet in found.couplets:
        for lead in couplet.leads:
            if lead.end:
                yield from lead.end.taxa
    if found.end:
        yield from found.end.taxa


def test_looks_are_of_the_season_unseen_and_leave_fewer(trees: Snapshot, reader: Reader) -> None:
    seen = [reader.observation("leaf-arrangement", "opposite")]
    answer = following(trees, seen, sight=Sight("winter"))
    remaining = len(identify(trees, seen, explain=0).consistent)
    assert len(answer.looks) >= 5
    for look in answer.looks:
        assert "winter" in trees.knowledge.characters[look.character].seasons
        assert look.character != "leaf-arrangement"
        assert look.expected <= remaining
        assert sum(each.chance for each in look.outcomes) == pytest.approx(1, abs=0.02)


def test_pines_are_told_apart_by_their_needles(trees: Snapshot) -> None:
    """That observers may take a needle for an awl-shaped leaf keeps nobody from looking at the needles of a pine; a juniper may have awl-shaped ones only."""
    asked = {each.character for each in following(trees, [], group=["pinus"], most=99).looks}
    assert {"needles-per-bundle", "needle-length"} <= asked
    assert {"needles-per-bundle", "needle-length"} & {each.character for each in key(trees, ["pinus"]).couplets}
    mixed = following(trees, [], group=["juniperus", "pinus"], most=99)
    assert "needle-length" not in {each.character for each in mixed.looks}
    assert ("needle-length", "leaf-kind") in mixed.waiting


def kept_by(snapshot: Snapshot, character: str) -> set[str]:
    """The characters that in winter can only be looked at on plants of which another tells that they keep them."""
    return {key for key, each in snapshot.knowledge.characters.items() if each.winter_if and each.winter_if[0] == character}


def test_in_winter_nobody_is_sent_to_fruit_that_may_have_dropped(trees: Snapshot, reader: Reader) -> None:
    """Fruit waits until it was seen that some still hangs; in summer, and among trees that are all said to keep it, it is asked for at once."""
    dropped, winter = kept_by(trees, "fruit-persistence"), Sight("winter")
    assert {"fruit-type", "samara-angle", "acorn-cup"} <= dropped
    bare = following(trees, [], sight=winter, most=99)
    assert bare.looks
    assert not dropped & {each.character for each in bare.looks}
    assert ("fruit-type", "fruit-persistence") in bare.waiting
    hanging = [reader.observation("fruit-persistence", "persistent")]
    assert "fruit-type" in {each.character for each in following(trees, hanging, sight=winter, most=99).looks}
    assert not dropped & {each.character for each in following(trees, [reader.observation("fruit-persistence", "shed")], sight=winter, most=99).looks}
    assert "fruit-type" in {each.character for each in following(trees, [], sight=Sight("summer"), most=99).looks}
    keeping = following(trees, [], sight=winter, group=["catalpa-speciosa", "rhus-typhina"], most=99)
    assert "fruit-type" in {each.character for each in keeping.looks}


def test_what_remains_is_listed_likeliest_first(trees: Snapshot, reader: Reader) -> None:
    """As in the answer to the same observations, month and region."""
    seen, context = [reader.observation("leaf-arrangement", "opposite"), reader.observation("leaf-margin", "serrate")], Context(month=6, region="Ontario")
    named = following(trees, seen, context).remaining
    assert list(named) == [each.taxon for each in identify(trees, seen, context).consistent]
    assert len(named) > 5
    assert list(named) != sorted(named, key=trees.taxa.index)


def test_in_winter_nobody_is_sent_to_leaves_that_may_be_shed(trees: Snapshot, reader: Reader) -> None:
    """Among bare trees leaves are neither asked nor waited for; among bare and green ones they wait for whether the plant is green; pines are asked."""
    shed = kept_by(trees, "leaf-persistence")
    winter = Sight("winter")
    bare = following(trees, [], sight=winter, group=["larix", "ginkgo-biloba"], most=99)
    assert not shed & {*(each.character for each in bare.looks), *(key for key, _ in bare.waiting)}
    mixed = following(trees, [], sight=winter, group=["larix", "ginkgo-biloba", "pinus"], most=99)
    assert not shed & {each.character for each in mixed.looks}
    assert ("leaf-kind", "leaf-persistence") in mixed.waiting
    green = following(trees, [reader.observation("leaf-persistence", "evergreen")], sight=winter, group=["larix", "ginkgo-biloba", "pinus"], most=99)
    assert "needle-length" in {each.character for each in green.looks}
    assert "leaf-kind" in {each.character for each in following(trees, [], sight=Sight("summer"), group=["larix", "ginkgo-biloba"], most=99).looks}


def test_a_winter_key_asks_bare_trees_for_no_leaf(trees: Snapshot) -> None:
    """It asks for leaves only where all that is left keeps them, and says of bare trees it cannot tell apart that leaves would."""
    shed = kept_by(trees, "leaf-persistence")
    asked = 0
    for group_, season in ((["larix", "ginkgo-biloba"], "winter"), (["larix", "pinus"], "winter"), (["larix", "pinus"], "summer")):
        found = key(trees, group_, Sight(season))
        for couplet in found.couplets:
            bare = any(each.taxon.startswith(("larix", "ginkgo")) for each in couplet.shown)
            assert couplet.character not in shed or season == "summer" or not bare, couplet
            asked += couplet.character in shed
    assert asked
    larches = key(trees, ["larix-laricina", "ginkgo-biloba"], Sight("winter", parts=("leaf",)))
    assert larches.end is not None
    assert "leaf-kind" in larches.end.elsewhere


def test_a_fixed_group_is_never_left(trees: Snapshot) -> None:
    group = ["acer-saccharum", "acer-platanoides", "acer-rubrum"]
    answer = following(trees, [], group=group)
    assert all(set(each.taxa) <= set(group) for look in answer.looks for each in look.outcomes)


def test_if_any_observation_may_be_a_slip_looks_go_on_where_nothing_remains(trees: Snapshot, reader: Reader) -> None:
    seen = [reader.observation(*each) for each in (("leaf-arrangement", "opposite"), ("leaf-division", "simple"), ("fruit-type", "acorn"))]
    assert not following(trees, seen).remaining
    assert not following(trees, seen).looks
    answer = following(trees, seen, slips=True)
    assert answer.looks
    assert not any(each.decides for each in answer.looks)
    assert answer.likely[0] == identify(trees, seen, explain=0).likeliest[0].taxon
    for look in answer.looks:
        assert sum(each.chance for each in look.outcomes) == pytest.approx(1, abs=0.01)
        assert look.expected <= len(answer.likely) + 1


def test_one_slip_lets_looks_part_the_taxa_that_are_still_likely(trees: Snapshot, reader: Reader) -> None:
    """Four things seen of a sugar maple, one of them wrong: logic drops it and parts others, doubt keeps it among those to part."""
    seen = [
        reader.observation(*each)
        for each in (("leaf-arrangement", "alternate"), ("fruit-type", "paired-samara"), ("leaf-lobing", "palmately-lobed"), ("petiole-sap", "clear"))
    ]
    assert "acer-saccharum" not in following(trees, seen).remaining
    answer = following(trees, seen, slips=True, group=["acer", "quercus"])
    assert "acer-saccharum" in answer.likely
    assert set(answer.likely) <= {key for key in trees.knowledge.terminal if {"acer", "quercus"} & set(trees.knowledge.lineage(key))}


def test_a_key_to_a_genus_reaches_every_taxon_of_it(trees: Snapshot) -> None:
    for season in ("summer", "winter"):
        found = key(trees, ["quercus"], Sight(season))
        assert set(ends(found)) == set(found.taxa)
        assert found.paths > 0
        numbers = [couplet.number for couplet in found.couplets]
        assert numbers == list(range(1, len(numbers) + 1))


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10_000))
def test_a_key_to_random_knowledge_loses_no_taxon(seed: int) -> None:
    snapshot = snapshot_from(random_knowledge(random.Random(seed)))
    group = list(snapshot.knowledge.terminal)
    if len(group) > 1:
        found = key(snapshot, group)
        assert set(ends(found)) == set(group)


def test_a_key_to_many_taxa_of_which_little_is_stated_is_short_enough_to_print(trees: Snapshot) -> None:
    """All maples in winter: few couplets, none left out for length; its leads say what to see in plain words."""
    found = key(trees, ["acer"], Sight("winter"))
    every = [lead for couplet in found.couplets for lead in couplet.leads]
    assert len(found.taxa) >= 20
    assert len(found.couplets) <= 60
    assert set(ends(found)) == set(found.taxa)
    assert not any(lead.end and lead.end.cut for lead in every)
    assert all((": usually " in lead.words or " usually " in lead.words) == couplet.typical for couplet in found.couplets for lead in couplet.leads)
    assert not any("another kind" in lead.words or ": not " in lead.words for lead in every)
    page = "\n".join(key_text(trees.knowledge, found))
    assert len(page) < 40_000
    assert "By what is usual, among Acer " in page
    assert "; possibly also any other listed at 2 (caution), except A. " in page


@pytest.mark.parametrize("season", ["summer", "winter"])
def test_what_may_be_as_well_is_said_in_full_or_by_what_is_left_out(trees: Snapshot, season: str) -> None:
    """The words at an end, read back by epithets, give the taxa of the end; those of "any listed at" a couplet are listed at its head, each with its mark."""
    found, known = key(trees, ["acer"], Sight(season)), trees.knowledge
    epithet = {taxon: known.taxa[taxon].scientific_name.split()[-1] for taxon in found.taxa}
    warned = {each.taxon for each in found.cautions}
    read = short = 0
    for couplet in found.couplets:
        for lead in (each for each in couplet.leads if each.end):
            usual, more = goes(known, found, couplet, lead)
            assert {each for each in found.taxa if epithet[each] in usual} == set(lead.end.taxa)
            named = {each for each in found.taxa if epithet[each] in more}
            if under := re.search(r"any (?:other )?listed at (\d+)( \(caution\))?", more):
                entry = found.couplets[int(under[1]) - 1]
                (head,) = among(known, found, entry)
                listed = {each for each in found.taxa if epithet[each] in head}
                assert all(f"{epithet[each]} (caution)" in head for each in listed & warned)
                named = listed - named - set(lead.end.taxa)
                assert bool(under[2]) == bool(named & warned)
                short += 1
            assert named == set(lead.end.also), more
            read += 1
    assert read > 30
    assert short > 10


def test_where_no_bound_lies_between_two_cuts_the_stretch_between_them_does_not_vanish() -> None:
    """Taxon 0 ends at 40 cm, taxon 1 starts at 50 cm, taxon 2 spans both; of what lies between only taxon 2 is left."""
    known = group(random.Random(0), 3, 0, 3, 1).knowledge
    ranges = {"t0": "5-40", "t1": "50-60", "t2": "5-60"}
    stated = [Statement(taxon, "c0", value, "", None, "one", "p. 1", "", "") for taxon, value in ranges.items()]
    found = key(snapshot_from(replace(known, statements={each.id: each for each in stated})), list(ranges))
    assert [(lead.words.partition(": ")[2], lead.taxa) for lead in found.couplets[0].leads] == [
        ("less than 45 cm", ("t0", "t2")),
        ("45 to less than 50 cm", ("t2",)),
        ("50 cm or more", ("t1", "t2")),
    ]


def test_command_gives_the_same_as_the_function(trees: Snapshot, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["next", "-o", "leaf-arrangement=opposite", "--season", "winter", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["looks"]
    assert main(["next", "-o", "leaf-arrangement=opposite", "--slips", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["likely"]
    assert main(["next", "-o", "fruit-type=paired-samara", "--slips", "--most", "2"]) == 0
    assert "if any observation may be a slip" in capsys.readouterr().out
    for form in ("text", "markdown", "html"):
        assert main(["key", "fraxinus", "--season", "summer", "--form", form]) == 0
        assert "Fraxinus nigra" in capsys.readouterr().out


def test_a_tool_that_is_named_as_at_hand_costs_less(trees: Snapshot) -> None:
    """Half of what it adds to a look; what needs no tool costs the same, and what needs another is not asked for."""
    anything = {each.character: each for each in following(trees, [], most=10**6).looks}
    equipped = {each.character: each for each in following(trees, [], sight=Sight(kit=("ruler",)), most=10**6).looks}
    assert {each.needs for each in equipped.values()} == {"eye", "ruler"}
    assert {each.effort for each in equipped.values() if each.needs == "ruler"} == {1.25}
    assert {each.effort for each in anything.values() if each.needs == "ruler"} == {1.5}
    assert {each.effort for each in equipped.values() if each.needs == "eye"} == {1.0}
