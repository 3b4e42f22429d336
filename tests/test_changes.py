"""What a change did: each planted change is named with its effects and the rows that caused it, and nothing else."""

from __future__ import annotations

import json
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

from lenticel.change import Change, change
from lenticel.cli import main
from lenticel.difference import RowChange
from lenticel.errors import BadQuestion
from lenticel.observation import Reader
from lenticel.probing import probe_sets
from lenticel.snapshot import Snapshot
from lenticel.versions import Version, added_acknowledgements, opened, version
from tests.planted_changes import PLANTED
from tests.planting import Planted, copied


def because(causes: tuple[RowChange, ...]) -> str:
    return " <- " + ", ".join(sorted(f"{each.table} {each.key}" for each in causes))


def told(found: Change) -> Iterator[str]:
    """Every line of a report, in short."""
    for row in found.rows:
        yield f"row {row.how} {row.table} {row.key}" + (f" ({', '.join(row.columns)})" if row.columns else "")
    for cell in found.cells:
        yield f"cell {cell.taxon} {cell.character} {cell.tier} {cell.how}: {cell.old} -> {cell.new}{because(cell.causes)}"
    for each in found.answers:
        yield f"answers {each.taxon} {each.how} by {', '.join(each.characters)}{because(each.causes)}"
    for part in found.partings:
        yield f"pair {' '.join(part.pair)} {part.force} {part.how} in {len(part.seasons)} by {', '.join(part.characters)}{because(part.causes)}"
    for lost in found.lost:
        yield f"lost {' '.join(lost.pair)} {lost.character} {lost.force} [{lost.acknowledged}]{because(lost.causes)}"
    for stale in found.stale:
        yield f"stale {stale}"
    for dispute in found.disputes:
        yield f"dispute {dispute.how} {dispute.disagreement.one} {dispute.disagreement.other}{because(dispute.causes)}"
    for key in found.unused:
        yield f"unused {key}"
    for lone in found.alone:
        yield f"alone {' '.join(lone.pair)} {lone.character}{because((lone.row,))}"
    for shared in found.shared_names:
        yield f"name {shared.name} of {' '.join(shared.taxa)} means {shared.means}{because(shared.causes)}"


def report(old: Version, new: Version) -> list[str]:
    return list(told(change(old.snapshot, new.snapshot, added_acknowledgements(old.loaded, new.loaded))))


@pytest.mark.parametrize("case", PLANTED, ids=lambda each: each.name)
def test_a_planted_change_is_told_with_its_cause_and_nothing_else(case: Planted, workshop_tables: Path, tmp_path: Path) -> None:
    old = copied(workshop_tables, tmp_path / "old", case.before)
    new = copied(workshop_tables, tmp_path / "new", (*case.before, *case.edits))
    assert report(opened(old), opened(new)) == list(case.due)


def test_the_planted_changes_are_of_every_kind() -> None:
    assert len(PLANTED) >= 20
    kinds = {line.split()[0] for case in PLANTED for line in case.due}
    assert kinds == {"row", "cell", "answers", "pair", "lost", "stale", "dispute", "unused", "alone", "name"}


def test_a_change_and_its_reverse_cancel(workshop_tables: Path, tmp_path: Path) -> None:
    for number, case in enumerate(PLANTED[:12]):
        new = copied(workshop_tables, tmp_path / str(number), (*case.before, *case.edits))
        there, back = report(opened(workshop_tables), opened(new)), report(opened(new), opened(workshop_tables))
        assert sum(line.startswith("row") for line in there) == sum(line.startswith("row") for line in back)
        assert {"widened", "narrowed"} & set(" ".join(there).split()) <= {"widened", "narrowed"}
        assert sum("no longer separable" in line for line in there) == sum(" separable in" in line and "no longer" not in line for line in back)


def test_a_lost_separator_of_a_pair_that_can_hurt_ends_with_an_error_unless_it_is_accepted(
    workshop_tables: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    cases = {each.name: each for each in PLANTED}
    for name, status in (("a pair that can hurt loses a separator", 1), ("the loss is accepted with a reason", 0), ("what was not lost is accepted", 1)):
        new = copied(workshop_tables, tmp_path / name, cases[name].edits)
        assert main(["changes", str(workshop_tables), str(new)]) == status, name
        told = capsys.readouterr().out
        assert ("### Errors" in told) == bool(status)
        assert ("statements.csv:" in told) == (name != "what was not lost is accepted")


def test_where_nothing_parts_a_pair_no_list_of_what_does_is_begun(workshop_tables: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    cases = {each.name: each for each in PLANTED}
    new = copied(workshop_tables, tmp_path / "new", cases["a taxon that nothing separates from another"].edits)
    assert main(["changes", str(workshop_tables), str(new)]) == 0
    line = next(line for line in capsys.readouterr().out.splitlines() if "not separable" in line)
    assert line.endswith("in spring, summer, autumn, winter (because of taxa.csv:12)")
    new = copied(workshop_tables, tmp_path / "lost", cases["a pair that can hurt loses a separator"].edits)
    assert main(["changes", str(workshop_tables), str(new)]) == 1
    line = next(line for line in capsys.readouterr().out.splitlines() if "no longer separable" in line)
    assert ", by drive (because of statements.csv:" in line


def test_a_warning_is_shown_and_is_no_error(workshop_tables: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    cases = {each.name: each for each in PLANTED}
    lone, shared = cases["a pair gains what decides between it"], cases["a common name that is another taxon's first one too"]
    old = copied(workshop_tables, tmp_path / "old", lone.before)
    new = copied(workshop_tables, tmp_path / "new", (*lone.before, *lone.edits, *shared.edits))
    assert main(["changes", str(old), str(new)]) == 0
    warnings = capsys.readouterr().out.partition("### Warnings\n\n")[2].partition("\n\n")[0]
    assert "Coach bolt and Rivet: only thread tells them apart decisively, and it does so by one row alone (because of statements.csv:" in warnings
    assert "`wire nail` is now a name of Rivet, Wire nail; by itself it means Wire nail (because of names.csv:3)." in warnings


def test_it_says_so_if_no_pair_is_told_apart_otherwise_than_before(workshop_tables: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    same = "none can be told apart that could not be before, or no longer"
    new = Path(shutil.copytree(workshop_tables, tmp_path / "new"))
    with (new / "names.csv").open("a") as file:
        file.write("rivet,rivvet,common,en,shop-ledger,p. 9\n")
    assert main(["changes", str(workshop_tables), str(new)]) == 0
    assert same in capsys.readouterr().out
    new = copied(workshop_tables, tmp_path / "lost", {each.name: each for each in PLANTED}["a pair that can hurt loses a separator"].edits)
    assert main(["changes", str(workshop_tables), str(new)]) == 1
    assert same not in capsys.readouterr().out


def git(folder: Path, *words: str) -> None:
    who = ("-c", "user.name=a", "-c", "user.email=a@example.org")
    subprocess.run(["git", *who, "-C", str(folder), *words], check=True, capture_output=True)


def test_versions_may_be_git_revisions(workshop_tables: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    tables = copied(workshop_tables, tmp_path / "repository" / "tables", ())
    git(tmp_path / "repository", "init", "-q", "-b", "main")
    git(tmp_path / "repository", "add", "-A")
    git(tmp_path / "repository", "commit", "-q", "-m", "first")
    path = tables / "statements.csv"
    path.write_text(path.read_text().replace("wire-nail,length,20-100 mm", "wire-nail,length,10-100 mm"))
    assert main(["changes", "HEAD", "--knowledge", str(tables), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert [each["how"] for each in found["cells"]] == ["widened", "widened"]
    git(tmp_path / "repository", "commit", "-q", "-a", "-m", "second")
    assert main(["changes", "main~1", "main", "--knowledge", str(tables)]) == 0
    assert "statements.csv:" in capsys.readouterr().out
    for word in ("no-such-revision", "--output=x", "main:tables"):
        with pytest.raises(BadQuestion):
            version(word, tables)


def test_the_same_tables_of_the_real_knowledge_differ_in_nothing(tables: Path) -> None:
    one = opened(tables)
    found = change(one.snapshot, one.snapshot)
    assert list(told(found)) == []
    assert found.probes > 1000


def test_every_observation_of_the_fixed_sets_can_be_made(trees: Snapshot, reader: Reader) -> None:
    rows = [row for _, found in probe_sets(trees) for row in found]
    assert len(rows) > 5000
    for row in dict.fromkeys(rows):
        reader.observation(*row)


def test_new_statements_of_which_no_row_says_who_recorded_them_are_told(workshop_tables: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A row on their taxon speaks for what was there when it was written; once they have a row of their own, nothing is told."""
    folder = copied(workshop_tables, tmp_path / "new", ())
    with (folder / "statements.csv").open("a", encoding="utf-8") as file:
        file.write('wire-nail,head,flat,,,shop-ledger,"p. 4, invented",,\n')
    assert change(opened(workshop_tables).snapshot, opened(folder).snapshot).unrecorded == ("wire-nail.head.shop-ledger",)
    words = ["changes", str(workshop_tables), str(folder)]
    main(words)
    assert "1, such as `wire-nail.head.shop-ledger`" in capsys.readouterr().out
    assert main(["recorded", "--by", "A clerk", "--date", "2026-12-01", "--since", str(workshop_tables), "--knowledge", str(folder)]) == 0
    assert change(opened(workshop_tables).snapshot, opened(folder).snapshot).unrecorded == ()
