"""Files of many plants: each line is answered as its plant is alone, and an interruption at any moment loses and doubles none."""

from __future__ import annotations

import contextlib
import csv
import io
import json
import os
import random
import re
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.csv as pa_csv
import pyarrow.parquet as pq
import pytest
from fastapi.testclient import TestClient
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from lenticel import chunks, owl
from lenticel.api import create_app
from lenticel.api.batch import CLAIMS, PLANTS
from lenticel.batch import PARTS, Done, Task, batch
from lenticel.chunks import Source, whole
from lenticel.claims import claims
from lenticel.cli import main
from lenticel.compiler import compile_graph
from lenticel.errors import BadFile, BadQuestion, LenticelError, UnknownTerm
from lenticel.identify import Context, identify
from lenticel.journal import Journal, keep
from lenticel.observation import Reader, read_observations
from lenticel.snapshot import Snapshot
from lenticel.spreadsheet import FORMULA
from tests.generators import random_knowledge
from tests.laws.test_bulk import seen_of

Plants = dict[str, list[tuple[str, str]]]


def made(snapshot: Snapshot, count: int, seed: int) -> Plants:
    """Plants with at least one observation each, some of them wrong, none of a character twice."""
    rnd, reader = random.Random(seed), Reader(snapshot)
    plants = {f"p{number}": list(dict(seen_of(rnd, reader, 6)).items()) for number in range(count)}
    return {plant: seen for plant, seen in plants.items() if seen}


def table_of(plants: Plants, form: str) -> pa.Table:
    if form == "long":
        rows = [(plant, *pair) for plant, seen in plants.items() for pair in seen]
        return pa.table([pa.array(column) for column in zip(*rows, strict=True)], ["plant", "character", "value"])
    names = list(dict.fromkeys(name for seen in plants.values() for name, _ in seen))
    return pa.Table.from_pylist([{"plant": plant, **dict.fromkeys(names), **dict(seen)} for plant, seen in plants.items()])


def written(plants: Plants, form: str, path: Path) -> Path:
    if path.suffix == ".ndjson":
        rows = ({"plant": plant, "observations": [{"character": name, "value": value} for name, value in seen]} for plant, seen in plants.items())
        path.write_text("".join(json.dumps(row) + "\n" for row in rows), encoding="utf-8")
    elif path.suffix == ".csv":
        pa_csv.write_csv(table_of(plants, form), path)
    else:
        pq.write_table(table_of(plants, form), path, row_group_size=7)
    return path


def answers(path: Path) -> list[dict[str, Any]]:
    """The answers in a file, with what they have in common: plant, consistent, first, share, cautions, and the code of an error."""
    if path.suffix == ".ndjson":
        rows = [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()][:-1]
        return [{**row, "error": row["problem"] and row["problem"]["code"]} for row in rows]
    if path.suffix == ".parquet":
        return [{**row, "error": row["error"] and row["error"]["code"]} for row in pq.read_table(path).to_pylist()]
    rows = list(csv.DictReader(io.StringIO(path.read_text(encoding="utf-8"))))
    return [{**row, **{name: row[name].split("|") if row[name] else [] for name in ("consistent", "cautions")}, "share": float(row["share"] or 0),
             "error": row["error_code"] or None} for row in rows]  # fmt: skip


def hold(snapshot: Snapshot, plants: Plants, context: Context, path: Path) -> None:
    """Compare each answer in a file with that to the plant alone."""
    reader, found = Reader(snapshot), answers(path)
    assert [each["plant"] for each in found] == list(plants)
    for each, seen in zip(found, plants.values(), strict=True):
        try:
            alone = identify(snapshot, read_observations(reader, seen), context)
        except LenticelError as error:
            refused = error.code
            assert (each["error"], each["consistent"] or [], each["cautions"] or []) == (refused, [], [])
            continue
        assert each["error"] is None
        assert sorted(each["consistent"]) == sorted(verdict.taxon for verdict in alone.consistent)
        assert (each["first"] or "") == (alone.consistent[0].taxon if alone.consistent else "")
        assert abs((each["share"] or 0) - (alone.consistent[0].share if alone.consistent else 0)) < 1.5e-4
        assert each["cautions"] == [caution.id for caution in alone.cautions]


@contextlib.contextmanager
def small_chunks() -> Iterator[None]:
    """Chunks of a few rows, so that small files fall into many."""
    with pytest.MonkeyPatch.context() as patch:
        for name, size in (("ROWS", 5), ("LONG_ROWS", 9), ("LINES", 5), ("PIECE", 300)):
            patch.setattr(chunks, name, size)
        yield


FORMS = [("wide", ".csv", ".parquet"), ("long", ".csv", ".csv"), ("wide", ".parquet", ".csv"), ("long", ".parquet", ".parquet"), ("", ".ndjson", ".ndjson")]


@settings(max_examples=20, deadline=None, phases=(Phase.reuse, Phase.generate))
@given(seed=st.integers(0, 10_000), wild=st.booleans(), form=st.sampled_from(FORMS))
def test_each_line_of_a_file_is_answered_as_its_plant_is_alone(
    tmp_path_factory: pytest.TempPathFactory, seed: int, wild: bool, form: tuple[str, str, str]
) -> None:
    snapshot = compile_graph(owl.write(random_knowledge(random.Random(seed))))
    plants, folder = made(snapshot, 23, seed), tmp_path_factory.mktemp("answers")
    context = Context(wild and form[1] != ".ndjson")
    with small_chunks():
        source = written(plants, form[0], folder / f"seen{form[1]}")
        done = batch(snapshot, source, folder / f"out{form[2]}", Task(context=context))
    hold(snapshot, plants, context, folder / f"out{form[2]}")
    assert done.answered == len(plants)
    assert done.problems == sum(each["error"] is not None for each in answers(folder / f"out{form[2]}"))
    assert not list(folder.glob(f"*{PARTS}"))


@pytest.mark.parametrize("form", FORMS)
def test_the_trees_are_answered_from_files_as_each_alone(trees: Snapshot, tmp_path: Path, form: tuple[str, str, str]) -> None:
    plants, context = made(trees, 40, 3), Context(month=5, region="ont") if form[1] != ".ndjson" else Context()
    with small_chunks():
        done = batch(trees, written(plants, form[0], tmp_path / f"seen{form[1]}"), tmp_path / f"out{form[2]}", Task(context=context))
    hold(trees, plants, context, tmp_path / f"out{form[2]}")
    assert done.cautions == tuple(sorted({key for each in answers(tmp_path / f"out{form[2]}") for key in each["cautions"] or ()}))


@pytest.mark.parametrize("claimed", [False, True])
def test_lines_in_a_file_and_over_http_are_answered_with_the_same_bytes(trees: Snapshot, tmp_path: Path, claimed: bool) -> None:
    source, out = tmp_path / "asked.ndjson", tmp_path / "out.ndjson"
    if claimed:
        rows = [{"taxon": "Norway maple", "character": "petiole-sap", "value": value} for value in ("milky", "clear", "sideways") * 7]
        source.write_text("\n".join(map(json.dumps, rows)), encoding="utf-8")
    else:
        written(made(trees, 40, 4), "", source)
    with small_chunks():
        batch(trees, source, out, Task(claims=claimed))
    path = CLAIMS if claimed else PLANTS
    told = TestClient(create_app(trees)).post(path, content=source.read_bytes(), headers={"content-type": "application/x-ndjson"})
    assert out.read_bytes() == told.content


def test_claims_in_a_table_are_judged_as_alone(trees: Snapshot, tmp_path: Path) -> None:
    rows = [("Norway maple", "petiole-sap", "milky"), ("sugar maple", "petiole-sap", "milky"), ("no such tree", "petiole-sap", "milky")]
    pa_csv.write_csv(pa.table([pa.array(column) for column in zip(*rows, strict=True)], ["taxon", "character", "value"]), tmp_path / "claims.csv")
    done = batch(trees, tmp_path / "claims.csv", tmp_path / "out.parquet", Task(claims=True))
    *found, bad = pq.read_table(tmp_path / "out.parquet").to_pylist()
    for row, alone in zip(found, claims(trees, rows).judged, strict=True):
        assert (row["verdict"], row["instead"], tuple(row["supporting"])) == (alone.verdict, alone.instead, alone.supporting)
    assert (bad["verdict"], bad["error"]["code"], bad["error"]["where"]) == (None, "unknown-term", "/taxon")
    assert (done.answered, done.problems) == (3, 1)


# --- interrupted


def run(source: Path, out: Path, *more: str) -> subprocess.Popen[str]:
    command = [sys.executable, "-m", "lenticel", "batch", str(source), "--out", str(out), *more]
    return subprocess.Popen(command, stderr=subprocess.PIPE, text=True)


def children(pid: int) -> list[int]:
    found = []
    for each in Path("/proc").glob("[0-9]*/stat"):
        with contextlib.suppress(OSError):
            words = each.read_text().rpartition(")")[2].split()
            if int(words[1]) == pid:
                found.append(int(each.parent.name))
    return found


def alive(pid: int) -> bool:
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False


def test_a_run_that_is_killed_again_and_again_goes_on_with_no_line_lost_or_doubled(tmp_path: Path) -> None:
    rnd = random.Random(11)
    values = ["opposite", "alternate", "whorled", "opposite|whorled", "not alternate", "sideways"]
    rows = [{"plant": f"p{number}", "observations": [{"character": "leaf-arrangement", "value": rnd.choice(values)}]} for number in range(50_000)]
    source, out, whole_out = tmp_path / "seen.ndjson", tmp_path / "out.ndjson", tmp_path / "whole.ndjson"
    source.write_text("".join(json.dumps(row) + "\n" for row in rows), encoding="utf-8")
    parts, kills = tmp_path / f"out.ndjson{PARTS}", 0
    for due in (1, 2, 3):
        process = run(source, out, "--workers", "2")
        while process.poll() is None and (len(list(parts.glob("[0-9]*.json"))) < due or len(children(process.pid)) < 2):
            time.sleep(0.01)
        if process.poll() is None:
            workers = children(process.pid)
            process.kill()
            process.wait()
            kills += 1
            assert len(workers) >= 2
            for _ in range(500):
                if not any(map(alive, workers)):
                    break
                time.sleep(0.01)
            left = [each for each in workers if alive(each)]
            for each in left:
                os.kill(each, signal.SIGKILL)
            assert not left, "processes are left behind"
            if process.stderr:
                process.stderr.close()
            assert not out.exists(), "half a result has the name of a whole one"
    assert kills == 3
    process = run(source, out, "--workers", "2")
    _, told = process.communicate(timeout=120)
    assert process.returncode == 0, told
    resumed = re.search(r"(\d+) answered, (\d+) of them with a problem; (\d+) chunks were finished before", told)
    assert resumed, told
    assert int(resumed[1]) == len(rows)
    assert 3 <= int(resumed[3]) <= 7
    found = answers(out)
    assert [(each["line"], each["plant"]) for each in found] == [(number + 1, f"p{number}") for number in range(len(rows))]
    process = run(source, whole_out)
    process.communicate(timeout=120)
    assert out.read_bytes() == whole_out.read_bytes()
    assert not parts.exists()


def test_ctrl_c_says_how_to_go_on_and_leaves_what_is_finished(tmp_path: Path) -> None:
    source, out = tmp_path / "seen.ndjson", tmp_path / "out.ndjson"
    source.write_text('{"observations":[{"character":"leaf-arrangement","value":"opposite"}]}\n' * 200_000, encoding="utf-8")
    process = subprocess.Popen(
        [sys.executable, "-m", "lenticel", "batch", str(source), "--out", str(out), "--workers", "2"],
        stderr=subprocess.PIPE, text=True, start_new_session=True,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),  # who runs the tests in the background has it ignored, which is inherited
    )  # fmt: skip
    while process.poll() is None and not list(tmp_path.glob(f"*{PARTS}/[0-9]*.json")):
        time.sleep(0.01)
    os.killpg(process.pid, signal.SIGINT)
    _, told = process.communicate(timeout=60)
    assert process.returncode == 130
    assert "Run the same command again to go on." in told
    assert "Traceback" not in told
    assert list(tmp_path.glob(f"*{PARTS}/[0-9]*.json"))


def test_a_piece_that_was_cut_is_not_finished(tmp_path: Path) -> None:
    with Journal(tmp_path / "j", {"a": 1}) as journal:
        keep(journal.piece(3), b"answers", {"answered": 2})
        assert (journal.note(3), journal.note(4)) == ({"answered": 2}, None)
        journal.piece(3).write_bytes(b"answ")
        assert journal.note(3) is None


def test_a_journal_belongs_to_one_work_and_one_run(tmp_path: Path) -> None:
    with Journal(tmp_path / "j", {"a": 1, "b": 2}), pytest.raises(BadFile, match="Another run"):
        Journal(tmp_path / "j", {"a": 1, "b": 2})
    with pytest.raises(BadFile, match="another b"):
        Journal(tmp_path / "j", {"a": 1, "b": 3})
    with Journal(tmp_path / "j", {"a": 1, "b": 2}):
        pass


@pytest.mark.parametrize("change", ["source", "question"])
def test_what_was_begun_is_not_gone_on_with_otherwise(trees: Snapshot, tmp_path: Path, change: str) -> None:
    source, out = written(made(trees, 12, 1), "wide", tmp_path / "seen.csv"), tmp_path / "out.csv"

    def stop(*_: int) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        batch(trees, source, out, Task(), progress=stop)
    if change == "source":
        written(made(trees, 12, 2), "wide", source)
    with pytest.raises(BadFile, match=f"another {change}"):
        batch(trees, source, out, Task(context=Context(wild=change == "question")))


def test_a_full_disk_is_told_and_what_is_finished_stays(trees: Snapshot, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    source, out = written(made(trees, 12, 1), "wide", tmp_path / "seen.csv"), tmp_path / "out.csv"

    def full(*_: Any) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr("lenticel.batch._join", full)
        with pytest.raises(BadFile, match="No space left"):
            batch(trees, source, out, Task())
    assert not out.exists()
    assert batch(trees, source, out, Task()).resumed == 1


# --- chunks


@given(st.lists(st.integers(1, 12), min_size=1, max_size=14), st.data())
@settings(deadline=None)
def test_no_plant_is_split_and_the_chunks_do_not_hang_on_how_the_file_was_read(rows_each: list[int], data: st.DataObject) -> None:
    plants = [f"p{number}" for number, rows in enumerate(rows_each) for _ in range(rows)]
    table = pa.table({"plant": plants, "value": list(range(len(plants)))})
    cuts = sorted({0, len(plants), *data.draw(st.lists(st.integers(0, len(plants)), max_size=8))})
    read = [batch for start, end in pairwise(cuts) for batch in table.slice(start, end - start).to_batches()]
    with small_chunks():
        found, plain = list(whole(read, plants=True)), list(whole(table.to_batches(), plants=True))
        rows = list(whole(read, plants=False))
    assert [each.to_pydict() for each in found] == [each.to_pydict() for each in plain]
    assert pa.Table.from_batches(found).equals(table)
    held = [set(each.column("plant").to_pylist()) for each in found]
    assert sum(map(len, held)) == len(set(plants))
    assert all(each.num_rows >= 9 for each in found[:-1])
    assert pa.Table.from_batches(rows).equals(table)
    assert all(each.num_rows == 5 for each in rows[:-1])


@pytest.mark.parametrize("name", ["=1+1", "+a", "-5", "@b", '=HYPERLINK("http://127.0.0.1/")'])
def test_a_name_that_a_spreadsheet_would_take_for_a_formula_is_neutralised_in_csv_and_kept_elsewhere(trees: Snapshot, tmp_path: Path, name: str) -> None:
    pa_csv.write_csv(pa.table({"plant": [name, "b"], "leaf-arrangement": ["opposite", name]}), tmp_path / "seen.csv")
    for out in ("out.csv", "out.parquet"):
        assert batch(trees, tmp_path / "seen.csv", tmp_path / out, Task()).answered == 2
    rows = list(csv.reader(io.StringIO((tmp_path / "out.csv").read_text(encoding="utf-8"))))
    assert [row[0] for row in rows] == ["plant", f"'{name}", "b"]
    assert not [cell for row in rows for cell in row if cell.startswith(FORMULA)]
    assert pq.read_table(tmp_path / "out.parquet").column("plant").to_pylist() == [name, "b"]


def test_rows_of_a_plant_that_do_not_stand_together_are_refused(trees: Snapshot, tmp_path: Path) -> None:
    rows = [("a", "opposite"), *[(f"p{number}", "alternate") for number in range(20)], ("a", "opposite")]
    (tmp_path / "seen.csv").write_text("plant,character,value\n" + "".join(f"{plant},leaf-arrangement,{value}\n" for plant, value in rows), encoding="utf-8")
    with small_chunks(), pytest.raises(BadFile, match="'a' do not stand together"):
        batch(trees, tmp_path / "seen.csv", tmp_path / "out.csv", Task())


BROKEN = {
    "no such form": ("seen.txt", b"plant,leaf-arrangement\n", "out.csv", BadFile),
    "another form out": ("seen.csv", b"plant,leaf-arrangement\na,opposite\n", "out.ndjson", BadFile),
    "nothing in it": ("seen.csv", b"", "out.csv", BadFile),
    "a row too short": ("seen.csv", b"plant,leaf-arrangement\na,opposite\nb\n", "out.csv", BadFile),
    "not UTF-8": ("seen.csv", b"plant,leaf-arrangement\na,\xff\n", "out.csv", BadFile),
    "no Parquet": ("seen.parquet", b"PAR1 nothing", "out.csv", BadFile),
    "no plants": ("seen.csv", b"leaf-arrangement\nopposite\n", "out.csv", BadQuestion),
    "a column twice": ("seen.csv", b"plant,petiole-sap,petiole-sap\na,milky,clear\n", "out.csv", BadQuestion),
    "no character": ("seen.csv", b"plant,notes\na,fine tree\n", "out.csv", UnknownTerm),
    "not there": ("", b"", "out.csv", BadFile),
}


@pytest.mark.parametrize("name", BROKEN)
def test_a_file_that_cannot_be_answered_is_refused_with_what_to_do(trees: Snapshot, tmp_path: Path, name: str) -> None:
    file, content, out, error = BROKEN[name]
    if file:
        (tmp_path / file).write_bytes(content)
    with pytest.raises(error) as raised:
        batch(trees, tmp_path / (file or "none.csv"), tmp_path / out, Task())
    assert raised.value.fix
    assert not (tmp_path / out).exists()


def test_what_is_there_is_not_written_over_and_options_for_tables_are_refused_with_lines(
    trees: Snapshot, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "seen.ndjson").write_text('{"observations": []}', encoding="utf-8")
    (tmp_path / "out.ndjson").write_text("mine", encoding="utf-8")
    arguments = ["batch", str(tmp_path / "seen.ndjson"), "--out", str(tmp_path / "out.ndjson")]
    assert main(arguments) == 1
    assert "is there already" in capsys.readouterr().err
    assert (tmp_path / "out.ndjson").read_text(encoding="utf-8") == "mine"
    (tmp_path / "out.ndjson").unlink()
    assert main([*arguments, "--wild"]) == 1
    assert main(arguments) == 0
    told = capsys.readouterr()
    assert "1 answered, 0 of them with a problem." in told.err
    assert "Caution:" in told.err


def test_an_empty_table_has_an_empty_answer_with_its_header(trees: Snapshot, tmp_path: Path) -> None:
    (tmp_path / "seen.csv").write_bytes(b"plant,leaf-arrangement\n")
    assert batch(trees, tmp_path / "seen.csv", tmp_path / "out.csv", Task()) == Done(0, 0, 0, ())
    assert (tmp_path / "out.csv").read_bytes().startswith(b'"plant","count","consistent"')
    assert Source(tmp_path / "seen.csv", 100).names == ["plant", "leaf-arrangement"]
