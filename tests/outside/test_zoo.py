"""A foreign body of knowledge, zoo animals (Forsyth 1990), loads by tables alone; facts of the data set are reproduced through it.

The facts expected were counted on the data set apart from Lenticel.
"""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from lenticel import owl
from lenticel.build import examined
from lenticel.cli import main
from lenticel.identify import Context, identify
from lenticel.observation import Reader, read_observations
from lenticel.proof import Hermit
from lenticel.rows import write_tables
from lenticel.snapshot import Snapshot
from tests.generators import random_observation
from tests.outside.zoo import animals, zoo


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    try:
        animals()
    except LookupError as error:  # it comes without its own dependencies, so that the extra `test` cannot name it
        pytest.skip(str(error))
    where = tmp_path_factory.mktemp("zoo") / "tables"
    write_tables(zoo(), where)
    return where


@pytest.fixture(scope="module")
def snapshot(folder: Path) -> Snapshot:
    faults, _, found = examined(folder)
    assert faults == []
    assert found is not None
    return found


def left(snapshot: Snapshot, *rows: tuple[str, str]) -> set[str]:
    """The rows of the data set that remain: a taxon with all its names."""
    known = snapshot.knowledge
    taxa = {each.taxon for each in identify(snapshot, read_observations(Reader(snapshot), list(rows))).consistent}
    return {known.taxa[each].id for each in taxa} | {each.name for each in known.names if each.taxon in taxa}


def test_the_facts_of_the_data_set_are_found(snapshot: Snapshot) -> None:
    kinds = {each["name"]: each["type"] for each in animals()}
    assert len(kinds) == 101
    assert left(snapshot, ("milk", "present")) == {each for each, kind in kinds.items() if kind == "mammal"}
    assert len(left(snapshot, ("milk", "present"))) == 41
    assert left(snapshot, ("feathers", "present")) == {each for each, kind in kinds.items() if kind == "bird"}
    assert len(left(snapshot, ("feathers", "present"))) == 20
    assert left(snapshot, ("milk", "present"), ("feathers", "present")) == set()
    assert left(snapshot, ("eggs", "present"), ("milk", "present")) == {"platypus"}
    assert left(snapshot, ("milk", "present"), ("airborne", "present")) == {"fruitbat", "vampire"}
    assert left(snapshot, ("venomous", "present"), ("legs", "0"), ("fins", "absent")) == {"pitviper", "seasnake", "seawasp"}
    assert len(left(snapshot, ("backbone", "absent"))) == 18


def test_each_animal_keeps_itself_and_forty_are_told_from_all_others(snapshot: Snapshot) -> None:
    """59 distinct rows of traits, 40 of which name one animal; the largest group has ten."""
    groups = [left(snapshot, *((trait, value if trait == "legs" else "present" if value == "1" else "absent")
                               for trait, value in row.items() if trait not in ("name", "type"))) for row in animals()]  # fmt: skip
    assert all(row["name"] in group for row, group in zip(animals(), groups, strict=True))
    assert len({frozenset(each) for each in groups}) == 59
    assert sum(len(each) == 1 for each in groups) == 40
    assert max(map(len, groups)) == 10


def test_hermit_gives_the_same_verdicts(snapshot: Snapshot) -> None:
    rnd, reader = random.Random(1990), Reader(snapshot)
    sets = [[random_observation(rnd, reader) for _ in range(rnd.randint(1, 4))] for _ in range(30)]
    hermit = Hermit(owl.write(snapshot.knowledge), snapshot.knowledge, sets)
    compared = 0
    for place, observations in enumerate(sets):
        answer = identify(snapshot, observations, Context(False), every_rank=True)
        said = hermit.answer(place, wild=False)
        assert {each.taxon for each in answer.excluded} == said.excluded
        compared += len(said.excluded)
    hermit.close()
    assert compared > 100
    print(f"\n{len(sets)} sets, {compared} exclusions by both")


def test_every_command_answers_about_animals(folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for command in (
        ["check"], ["stats"], ["terms"], ["coverage"], ["disagreements"], ["account", "platypus"], ["compare", "platypus", "fruitbat"],
        ["identify", "-o", "milk=present"], ["export", "--to", str(tmp_path / "m.nex")],
    ):  # fmt: skip
        assert main([*command, "--knowledge", str(folder)]) == 0
        assert capsys.readouterr().out
