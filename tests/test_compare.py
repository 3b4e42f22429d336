"""What separates taxa, in which order, what they share, and what is wanting."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import pytest

from lenticel.cli import main
from lenticel.compare import ALIKE, FIRST, PARTING, compare, lookalikes_among
from lenticel.direct import snapshot_from
from lenticel.model import SEASONS
from lenticel.prominence import prominence
from lenticel.snapshot import Snapshot
from lenticel.telling import TENDENCY, Evidence, Weigher, lacking, topic
from lenticel.text.compare import reasons

PAIRS_NAMED = (["acer-macrophyllum", "acer-platanoides"], ["ailanthus-altissima", "juglans-nigra"], ["morus-alba", "morus-rubra"])

SUGAR, NORWAY, RED, SILVER = "acer-saccharum", "acer-platanoides", "acer-rubrum", "acer-saccharinum"


def test_the_sap_of_the_leaf_stalk_comes_first_between_sugar_and_norway_maple(trees: Snapshot) -> None:
    answer = compare(trees, [SUGAR, NORWAY], season="summer")
    first = answer.separators[0]
    assert (first.character, first.force) == ("petiole-sap", "decisive")
    assert first.named
    assert all(each in trees.knowledge.lookalikes for each in first.named)


def test_a_character_whose_usual_ranges_overlap_may_tend_to_differ_but_decides_nothing(trees: Snapshot) -> None:
    answer = compare(trees, ["pinus-resinosa", "pinus-sylvestris"])
    tending = [each for each in answer.separators if each.force == "tendency"]
    assert tending
    assert all(each.apart >= TENDENCY or each.named for each in tending)
    only = compare(trees, [SILVER, RED])
    sure = {pair for each in only.separators if each.force in PARTING for pair in each.pairs}
    assert bool(sure) != bool(only.inseparable)


@pytest.mark.parametrize("other", [NORWAY, RED])
def test_the_first_three_are_on_three_topics_and_the_others_go_by_their_score(trees: Snapshot, other: str) -> None:
    """So that milky sap of the leaf stalk is not sent to the end of the list by milky sap of the bud."""
    separators = compare(trees, [SUGAR, other]).separators
    topics = [topic(trees.knowledge, each.character) for each in separators]
    assert len(set(topics[:FIRST])) == FIRST == 3
    decided = [each.score for each in separators[FIRST:] if trees.knowledge.characters[each.character].force == "diagnostic"]
    assert decided == sorted(decided, reverse=True)


def test_circumstantial_characters_come_last(trees: Snapshot) -> None:
    known = trees.knowledge.characters
    forces = [known[each.character].force for each in compare(trees, ["pinus-resinosa", "pinus-sylvestris"]).separators]
    assert "circumstantial" in forces
    assert forces == sorted(forces, key=lambda each: each == "circumstantial")


def test_what_a_taxon_has_shed_is_not_offered_in_winter(trees: Snapshot) -> None:
    """A larch and a ginkgo are bare: neither the kind of leaf nor a needle parts them or is shared; pines keep theirs, whose needles still part them."""
    known = trees.knowledge.characters
    shed = {key for key, each in known.items() if each.winter_if and each.winter_if[0] == "leaf-persistence"}
    assert {"leaf-kind", "needle-length"} <= shed
    for pair in (["larix-laricina", "ginkgo-biloba"], ["larix-laricina", "larix-decidua"], ["larix-decidua", "pinus-sylvestris"]):
        summer, winter = (compare(trees, pair, season=season) for season in ("summer", "winter"))
        assert shed & {each.character for each in (*summer.separators, *summer.shared)}
        assert not shed & {each.character for each in (*winter.separators, *winter.shared)}
    pines = compare(trees, ["pinus-nigra", "pinus-resinosa"], season="winter")
    assert "needle-snap" in {each.character for each in pines.separators}
    group = compare(trees, ["larix-decidua", "pinus-nigra", "pinus-resinosa"], season="winter")
    assert {each.pairs for each in group.separators if each.character == "needle-snap"} == {(("pinus-nigra", "pinus-resinosa"),)}


def test_flowers_and_fruit_are_offered_while_both_bear_them_and_not_when_they_are_past(trees: Snapshot) -> None:
    """Elms ripen in May, as red and silver maple do, which flower before; sugar maple and oaks ripen in autumn and can be looked at before; cones last."""
    for pair, character, when in (
        (["ulmus-americana", "ulmus-rubra"], "fruit-hair", ("spring", "summer")),
        ([RED, SILVER], "samara-length", ("spring", "summer")),
        ([RED, SILVER], "petals", ("spring",)),
        ([SUGAR, SILVER], "samara-length", ("summer",)),
        (["quercus-rubra", "quercus-alba"], "acorn-ripening", ("summer", "autumn")),
        (["picea-glauca", "picea-mariana"], "cone-length", ("spring", "summer", "autumn")),
    ):
        offered = {season: {each.character for each in compare(trees, pair, season=season).separators} for season in SEASONS[:3]}
        assert tuple(season for season, found in offered.items() if character in found) == when
        seasons = next(each.seasons for each in compare(trees, pair).separators if each.character == character)
        assert tuple(season for season in seasons if season != "winter") == when


def test_a_season_in_which_only_what_is_shed_would_part_a_pair_is_a_gap(trees: Snapshot) -> None:
    known = trees.knowledge
    kept = {key: replace(each, seasons=SEASONS if key == "leaf-kind" else ("summer",)) for key, each in known.characters.items() if key != "height"}
    said = {key: each for key, each in known.statements.items() if each.character in kept}
    snapshot = snapshot_from(replace(known, characters=kept, statements=said, lookalikes={}))
    (gap,) = compare(snapshot, ["larix-laricina", "ginkgo-biloba"]).gaps
    assert gap.seasons == ("winter",)
    assert "leaf-kind" in {each.character for each in compare(snapshot, list(gap.pair), season="spring").separators}


def test_what_is_shared_separates_nothing_and_is_said_of_all(trees: Snapshot) -> None:
    answer = compare(trees, [SUGAR, NORWAY, RED])
    shared = {each.character for each in answer.shared}
    assert "leaf-arrangement" in shared
    assert not shared & {each.character for each in answer.separators}
    weigher = Weigher(trees)
    for character in shared:
        evidence = weigher.evidence(SUGAR, NORWAY, character)
        assert evidence is not None
        assert evidence.apart <= ALIKE


def test_a_pair_that_nothing_separates_in_a_season_is_said_to_be_one(trees: Snapshot) -> None:
    answers = [compare(trees, [one, "acer-x-freemanii"]) for one in (RED, SILVER)]
    told = [gap for answer in answers for gap in answer.gaps]
    assert told
    for gap in told:
        for season in SEASONS:
            there = compare(trees, list(gap.pair), season=season)
            assert (gap.pair in there.undecided) == (season in gap.undecided)
            diagnostic = [each for each in there.separators if each.force in PARTING and trees.knowledge.characters[each.character].force == "diagnostic"]
            assert bool(diagnostic) == (season not in gap.seasons)


def test_the_text_says_where_to_look_first_and_where_not(trees_folder: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["compare", "sugar maple", "Norway maple", "--season", "summer", "--knowledge", str(trees_folder)]) == 0
    said = capsys.readouterr().out
    assert "  1. sap of the broken leaf stalk (no plant can be both; named as what tells them apart; differing so in " in said
    assert "Alike, so do not look there: " in said


def test_one_scar_is_not_taken_for_two(trees: Snapshot) -> None:
    """A lone count stands for itself, though what may be counted is wider."""
    weigher = Weigher(trees)
    found = weigher.evidence("larix-laricina", "ginkgo-biloba", "bundle-scar-count")
    assert found is not None
    assert found.apart >= 0.8
    same = weigher.evidence("larix-laricina", "larix-decidua", "bundle-scar-count")
    assert same is not None
    assert same.apart == 0


def test_in_full_leaf_leaves_come_before_twigs_more_often_than_at_no_season(trees: Snapshot) -> None:
    """Handbooks go by the leaves while there are any; a leaf that goes before a twig without a season goes before it in summer too."""
    looked = moved = 0
    for pair in (["quercus-imbricaria", "quercus-muehlenbergii"], ["acer-saccharinum", "acer-saccharum"], ["ulmus-rubra", "ulmus-americana"]):
        places = [{each.character: place for place, each in enumerate(compare(trees, pair, season=season).separators)} for season in ("", "summer")]
        for leaf, twig in product(*([key for key in places[1] if trees.knowledge.characters[key].organ == organ] for organ in ("leaf", "twig"))):
            before = [place[leaf] < place[twig] for place in places]
            looked += 1
            moved += before[1] > before[0]
            assert before[1] >= before[0]
    assert looked >= 20
    assert moved >= 2


def test_what_lies_further_apart_goes_first_and_what_decides_before_what_does_not(trees: Snapshot) -> None:
    weigher = Weigher(trees)
    plain = Evidence("leaf-outline", 0.5, 1, 0.1)
    scores = [weigher.score(replace(plain, apart=apart), "typical", "summer") for apart in (0.0, 0.3, 0.5, 1.0)]
    assert scores == sorted(set(scores))
    assert weigher.score(plain, "decisive") > weigher.score(plain, "typical") == weigher.score(plain, "tendency")


def test_a_record_counts_for_the_characters_by_which_it_tells_its_taxa_apart_and_for_no_other(trees: Snapshot) -> None:
    pair = ["celtis-occidentalis", "ulmus-americana"]
    records = [each for each in lookalikes_among(trees, pair) if each.source == "gleason-1918"]
    assert len(records) == 1
    named = {each.character for each in compare(trees, pair).separators if records[0].id in each.named}
    assert named == set(records[0].told_by) == {"leaf-texture", "leaf-margin", "leaf-outline"}


def test_what_one_is_said_not_to_show_tells_it_from_one_that_shows_it(trees: Snapshot) -> None:
    """Of paper birch no smell is stated, only that its twig lacks that of wintergreen, by which several sources tell it from yellow birch."""
    weigher, pair, smell = Weigher(trees), ("betula-alleghaniensis", "betula-papyrifera"), "twig-smell"
    shown, denied = (weigher.said(taxon, smell) for taxon in pair)
    assert {word for each in shown for word in each.states} == {word for each in denied for word in each.states} == {"wintergreen"}
    assert {each.frequency for each in denied} == {"never"}
    records = lookalikes_among(trees, pair)
    said = weigher.evidence(*pair, smell, records)
    assert said is not None
    assert said.apart == 1
    assert said.contrasted == weigher.evidence(*reversed(pair), smell, records).contrasted  # type: ignore[union-attr]
    assert "otis-1915" in said.contrasted
    assert {trees.knowledge.lookalikes[each].source for each in said.named} >= {"otis-1915", "maine-forest-service-2008"}
    assert weigher.evidence("betula-papyrifera", "betula-populifolia", smell) is None, "both lack it, and nothing else is said"
    assert weigher.evidence("betula-papyrifera", "prunus-serotina", smell) is None, "what it lacks is another smell than the one shown"


def test_a_second_source_that_names_a_character_counts_and_a_second_record_of_the_same_does_not(trees: Snapshot) -> None:
    weigher, records = Weigher(trees), list(trees.knowledge.lookalikes.values())
    one, same = [each for each in records if each.source == "otis-1915"][:2]
    other = next(each for each in records if each.source != one.source)
    plain = Evidence("leaf-margin", 0.5, 2, 0.07)
    scores = [weigher.score(replace(plain, named=named), "typical") for named in ((), (one.id,), (one.id, same.id), (one.id, other.id))]
    assert scores[0] < scores[1] == scores[2] < scores[3]


def test_what_records_name_often_is_prominent_and_what_they_never_name_is_not(trees: Snapshot) -> None:
    """Margins and lobes are named more often than most, heights hardly ever though they differ; where nothing is recorded all are alike."""
    found = prominence(trees)
    assert min(found["leaf-margin"], found["leaf-lobing"], found["leaf-arrangement"]) > 0.5
    assert max(found["height"], found["trunk-diameter"], found["flowering-month"]) < -0.5
    unnamed = replace(trees.body, knowledge=replace(trees.knowledge, lookalikes={}))
    assert set(prominence(replace(trees, load_body=lambda: unnamed, memo={})).values()) == {0.0}


def test_a_mark_said_of_one_alone_is_listed_as_that_and_parts_nothing(trees: Snapshot) -> None:
    """Spicy twigs are said of the sassafras and of no other tree here; of the smell of poison ivy nothing is said, so it may be no difference."""
    answer = compare(trees, ["toxicodendron-radicans", "sassafras-albidum"], season="summer")
    smell = next(each for each in answer.separators if each.character == "twig-smell")
    assert (smell.force, smell.apart, smell.sources) == ("one-sided", 0, 0)
    assert [each.shown for each in smell.shown] == ["unknown", "spicy"]
    assert not [each for each in compare(trees, ["toxicodendron-radicans", "cornus-alternifolia"]).separators if each.character == "twig-smell"]


def test_that_a_mark_is_lacking_or_is_common_is_no_mark(trees: Snapshot) -> None:
    """A lack is known by the name of its state, or by a definition that denies; a naked bud shows its leaves and is a mark."""
    weigher, states = Weigher(trees), trees.knowledge.states
    lacks = ("bud-resin.dry", "sunken-buds.not-sunken", "terminal-bud.no-true-terminal-bud", "rachis-wing.absent", "twig-smell.no-smell", "twig-hair.hairless")
    assert all(lacking(states[each]) for each in lacks)
    assert not any(lacking(states[each]) for each in ("bud-resin.sticky", "bud-scales.naked", "thorns.present", "twig-smell.spicy"))
    assert weigher.mark("toxicodendron-radicans", "sassafras-albidum", "twig-smell")
    for character, shown in (("bud-resin", "dry"), ("bud-resin", "sticky")):
        one = next(taxon for taxon in trees.knowledge.terminal if {word for each in weigher.said(taxon, character) for word in each.states} == {shown})
        assert not weigher.said("nyssa-sylvatica", character)
        assert weigher.mark(one, "nyssa-sylvatica", character) is None


def test_common_practice_counts_for_two_sources_and_memory_for_one(trees: Snapshot) -> None:
    weigher, records = Weigher(trees), trees.knowledge.lookalikes.values()
    practice, memory, otis, sargent = (
        next(each.id for each in records if each.source == source) for source in ("common-practice", "memory", "otis-1915", "sargent-1922")
    )
    plain = Evidence("leaf-margin", 0.5, 2, 0.07)
    scores = [weigher.score(replace(plain, named=named), "typical") for named in ((memory,), (otis,), (practice,), (otis, sargent), (practice, memory))]
    assert scores[0] == scores[1] < scores[2] == scores[3] < scores[4]


def test_a_rare_mark_counts_while_no_record_names_it(trees: Snapshot) -> None:
    weigher, record = Weigher(trees), next(iter(trees.knowledge.lookalikes))
    common, rare = (Evidence("twig-smell", 1.0, 1, 0.1, rarity=bits) for bits in (0.5, 5.0))
    assert weigher.score(common, "typical") < weigher.score(rare, "typical") < weigher.score(replace(common, named=(record,)), "typical")
    assert weigher.score(replace(common, named=(record,)), "typical") == weigher.score(replace(rare, named=(record,)), "typical")
    spicy, hairless = (
        weigher.rarity(character, weigher.said(taxon, character)) for taxon, character in (("sassafras-albidum", "twig-smell"), ("ginkgo-biloba", "twig-hair"))
    )
    assert spicy > hairless >= 0
    assert weigher.rarity("needle-length", weigher.said("pinus-strobus", "needle-length")) == 0


def test_by_what_a_record_names_one_side_is_enough_unless_the_other_is_said_by_a_special_case(trees: Snapshot) -> None:
    """Many trees have glands on the leaf stalk, so that they are no mark; of those of sweet birch nothing is said."""
    pair = ["betula-lenta", "prunus-serotina"]
    glands = next(each for each in compare(trees, pair).separators if each.character == "petiole-glands")
    assert glands.force == "one-sided"
    assert glands.named
    unnamed = replace(trees.body, knowledge=replace(trees.knowledge, lookalikes={}))
    bare = replace(trees, load_body=lambda: unnamed, memo={})
    assert not [each for each in compare(bare, pair).separators if each.character == "petiole-glands"]
    barks = {each.character: each.force for each in compare(trees, ["carpinus-caroliniana", "ostrya-virginiana"]).separators if each.organ == "bark"}
    assert "bark-texture-mature" in barks
    assert "one-sided" not in {force for character, force in barks.items() if character.startswith("bark-texture")}


@pytest.mark.parametrize(
    ("season", "first", "last"), [("spring", "petals", "leaf-margin"), ("autumn", "fruit-type", "leaf-margin"), ("winter", "bud-shape", "bark-colour")]
)
def test_each_season_has_what_is_looked_at_then_go_up(trees: Snapshot, season: str, first: str, last: str) -> None:
    weigher = Weigher(trees)
    early, late = (Evidence(character, 0.8, 2, 0.1) for character in (first, last))
    gain = [weigher.score(each, "typical", season) - weigher.score(each, "typical") for each in (early, late)]
    assert gain[0] > gain[1]


def test_the_text_says_whether_common_practice_or_memory_alone_names_a_character(trees: Snapshot) -> None:
    known = trees.knowledge
    seen = {separator.named: reasons(known, separator) for pair in PAIRS_NAMED for separator in compare(trees, pair).separators if separator.named}
    kinds = {named: {known.sources[known.lookalikes[each].source].kind for each in named} for named in seen}
    for named, text in seen.items():
        published = any(known.sources[known.lookalikes[each].source].published for each in named)
        wanted = "" if published else " by common practice" if "common-practice" in kinds[named] else " from memory"
        assert f"named as what tells them apart{wanted}" in f"{text};"
        assert ("by common practice" in text, "from memory" in text) == (wanted == " by common practice", wanted == " from memory")
    assert {frozenset({"memory"}), frozenset({"common-practice"})} <= {frozenset(each) for each in kinds.values()}
