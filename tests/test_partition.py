"""States as a partition into atoms."""

from __future__ import annotations

import random

from lenticel.partition import ROOT, from_tree

TREE = {"entire": ROOT, "toothed": ROOT, "serrate": "toothed", "crenate": "toothed"}


def test_an_open_list_leaves_an_atom_for_another_kind() -> None:
    partition = from_tree(TREE, [ROOT])
    assert partition.atoms == ("entire", "serrate", "crenate", "toothed+")
    assert partition.union(["toothed"]) == partition.union(["serrate", "crenate"]) | 0b1000


def test_a_complete_list_leaves_none_so_that_denying_all_but_one_affirms_that_one() -> None:
    partition = from_tree(TREE, [ROOT, "toothed"])
    assert partition.full & ~partition.union(["entire", "crenate"]) == partition.union(["serrate"])


def test_siblings_share_no_atom_and_a_parent_holds_its_kinds() -> None:
    for seed in range(200):
        rnd = random.Random(seed)
        names = [f"s{number}" for number in range(rnd.randint(1, 12))]
        parents = {name: rnd.choice([ROOT, *names[:place]]) for place, name in enumerate(names)}
        partition = from_tree(parents, [name for name in [ROOT, *names] if rnd.random() < 0.5])
        for name in names:
            mask = partition.masks[name]
            assert mask, "a state without atoms could never be seen"
            assert mask & ~partition.masks[parents[name]] == 0
            for other in names:
                if other != name and parents[other] == parents[name]:
                    assert mask & partition.masks[other] == 0


def test_a_mask_is_described_by_states_whose_union_it_is() -> None:
    partition = from_tree(TREE, [ROOT])
    for mask in range(1, partition.full + 1):
        names = partition.describe(mask)
        rebuilt = partition.union(name for name in names if not name.endswith("+"))
        for name in names:
            if name.endswith("+"):
                rebuilt |= 1 << partition.atoms.index(name)
        assert rebuilt == mask
