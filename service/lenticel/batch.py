"""A file of many questions answered into a file, on several processes, chunk by chunk (needs the extra `bulk`).

What is finished lies in a journal beside the result. The same call after an interruption goes on where it stopped; the result gets its name only when all
of it is there, and is the same as without the interruption.
"""

from __future__ import annotations

import hashlib
import multiprocessing
import os
import shutil
import signal
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from dataclasses import asdict, dataclass, field
from functools import partial
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq

from lenticel.bulk import Bulk
from lenticel.chunks import Chunk, Source, kind_of
from lenticel.claims import Judging
from lenticel.columns import CLAIM_SCHEMA, SCHEMA, answer_batch, as_csv, check_columns, judge_batch
from lenticel.errors import BadFile, BadQuestion
from lenticel.identify import Context
from lenticel.journal import Journal, keep
from lenticel.lines import LIMITS, Answering, ClaimLines, Closing, PlantLines, as_lines
from lenticel.snapshot import Snapshot
from lenticel.store import load, save
from lenticel.version import __version__

Progress = Callable[[int, int], None]  # how much of the source was answered just now, and how much of it there is
PARTS = ".parts"  # after the name of the result: the folder of its journal
REMEMBERED = 1 << 15  # different observations, by each process; a survey with many measures has many
AHEAD = 2  # chunks that wait for each process


@dataclass(frozen=True, slots=True)
class Task:
    """What is asked of each plant, or that the file holds claims; and what is known of all plants."""

    claims: bool = False
    context: Context = field(default_factory=Context)


@dataclass(frozen=True, slots=True)
class Done:
    """What was answered: how many plants or claims, how many of them with a problem, how many chunks were finished before, and the cautions named."""

    answered: int
    problems: int
    resumed: int
    cautions: tuple[str, ...]


def batch(snapshot: Snapshot, source: Path, out: Path, task: Task, *, workers: int = 1, progress: Progress = lambda part, total: None) -> Done:
    """Answer a file, or go on with it.

    Args:
        snapshot: the knowledge.
        source: CSV or Parquet, as `columns.answer_batch` takes it, or for claims with the columns taxon, character and value; or lines of JSON.
        out: the result, CSV or Parquet for either of these, and lines for lines. Nothing may be there yet.
        task: what is asked.
        workers: how many processes; 1 for this one alone.
        progress: is told after each chunk.

    Raises:
        BadFile: a file cannot be read or written, or was begun otherwise.
        BadQuestion, UnknownTerm: the columns do not fit.
    """
    opened = Source(source, LIMITS.line_bytes)
    if (kind_of(out) == "ndjson") != (opened.kind == "ndjson"):
        raise BadFile(f"{opened.kind} is not answered as {kind_of(out)}.", "Answer lines as .ndjson, and tables as .csv or .parquet.")
    if out.exists():
        raise BadFile(f"The file {out.name!r} is there already.", "Delete it, or give another --out.")
    if opened.kind == "ndjson" and task.context != Context():
        raise BadQuestion("Of lines, each says itself whether the plant is wild, in which month it was seen and where.", "Leave that out here.")
    if opened.kind != "ndjson":
        check_columns(snapshot, opened.names, claims=task.claims)
    work = {"source": _digest(source), "knowledge": snapshot.digest, "code": __version__, "question": asdict(task), "form": kind_of(out)}
    with Journal(out.with_name(out.name + PARTS), work) as journal:
        try:
            notes, resumed = _answered(snapshot, opened, journal, Maker(task, kind_of(out)), workers, progress)
            done = _summed(notes, resumed)
            joined = journal.folder / "result"
            _join([journal.piece(number) for number in range(len(notes))], joined, kind_of(out), task, _closing(snapshot, done))
            os.replace(joined, out)
            journal.remove()
        except OSError as error:
            raise BadFile(f"The result cannot be written: {error.strerror}.", "Make room, then run the same command again to go on.") from None
    return done


def _digest(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


@dataclass(frozen=True, slots=True)
class Maker:
    """Makes finished pieces, in any process."""

    task: Task
    form: str

    def answerer(self, snapshot: Snapshot) -> Callable[[Any], tuple[bytes, dict[str, Any]]]:
        """What makes the content of a chunk a piece and its note."""
        if self.form == "ndjson":
            return partial(_of_lines, ClaimLines(snapshot) if self.task.claims else PlantLines(snapshot, remembered=REMEMBERED))
        if self.task.claims:
            judging = Judging(snapshot)
            return lambda content: self._of_rows(judge_batch(judging, content))
        bulk = Bulk(snapshot, self.task.context, remembered=REMEMBERED)
        return lambda content: self._of_rows(answer_batch(bulk, content))

    def _of_rows(self, answers: pa.RecordBatch) -> tuple[bytes, dict[str, Any]]:
        cautions = sorted(pc.unique(pc.list_flatten(answers.column("cautions"))).to_pylist())
        note = {"answered": answers.num_rows, "problems": answers.num_rows - answers.column("error").null_count, "cautions": cautions}
        sink = pa.BufferOutputStream()
        if self.form == "csv":
            sink.write(as_csv(answers, header=False))
        else:
            with pa.ipc.new_stream(sink, answers.schema) as stream:
                stream.write(answers)
        return sink.getvalue().to_pybytes(), note


def _of_lines(answering: Answering, content: Any) -> tuple[bytes, dict[str, Any]]:
    answers = answering.answer(content)
    cautions = sorted({key for each in answers for key in each.cautions})
    return as_lines(answers), {"answered": len(answers), "problems": sum(each.problem is not None for each in answers), "cautions": cautions}


def _answered(snapshot: Snapshot, source: Source, journal: Journal, maker: Maker, workers: int, progress: Progress) -> tuple[list[dict[str, Any]], int]:
    """See that each chunk is in the journal; returns their notes, and how many were there before."""
    resumed, count = 0, 0

    def missing() -> Iterator[Chunk]:
        nonlocal resumed, count
        for chunk in source.chunks():
            count += 1
            if journal.note(chunk.number) is None:
                yield chunk
            else:
                resumed += 1
                progress(chunk.size, source.total)

    if workers == 1:
        answer = maker.answerer(snapshot)
        for chunk in missing():
            keep(journal.piece(chunk.number), *answer(chunk.content))
            progress(chunk.size, source.total)
    else:
        _spread(snapshot, missing(), journal, maker, workers, lambda chunk: progress(chunk.size, source.total))
    notes = [note for number in range(count) if (note := journal.note(number))]
    if len(notes) < count:
        raise BadFile("A finished piece is gone again.", "Leave the folder alone, and run the same command again.")
    return notes, resumed


def _summed(notes: list[dict[str, Any]], resumed: int) -> Done:
    cautions = tuple(sorted({key for note in notes for key in note["cautions"]}))
    return Done(sum(note["answered"] for note in notes), sum(note["problems"] for note in notes), resumed, cautions)


def _closing(snapshot: Snapshot, done: Done) -> Closing:
    return Closing(done.answered, done.problems, snapshot.digest, tuple(snapshot.knowledge.cautions[key] for key in done.cautions))


def _spread(snapshot: Snapshot, chunks: Iterator[Chunk], journal: Journal, maker: Maker, workers: int, told: Callable[[Chunk], None]) -> None:
    """Have chunks answered by several processes; no more of the file is read than they are about to take."""
    knowledge = journal.folder / "knowledge"
    save(snapshot, knowledge)
    running: dict[Future[None], Chunk] = {}

    def settle(ended: set[Future[None]]) -> None:
        for future in ended:
            future.result()
            told(running.pop(future))

    try:
        with ProcessPoolExecutor(workers, multiprocessing.get_context("spawn"), _begin, (knowledge, maker)) as pool:
            for chunk in chunks:
                running[pool.submit(_work, journal.piece(chunk.number), chunk.content)] = chunk
                if len(running) >= AHEAD * workers:
                    settle(wait(running, return_when=FIRST_COMPLETED).done)
            settle(wait(running).done)
    except BrokenProcessPool:
        raise BadFile(
            "A process that answered was ended from outside.", "Run the same command again to go on; if memory is short, with fewer --workers."
        ) from None


_answer: Callable[[Any], tuple[bytes, dict[str, Any]]]  # of a process that answers


def _begin(knowledge: Path, maker: Maker) -> None:
    """Make a process ready to answer, and see that it ends with the one that began it, even if that is killed."""
    global _answer
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the one that began it is interrupted too, and ends it
    _answer = maker.answerer(load(knowledge))
    threading.Thread(target=_end_with_parent, daemon=True).start()


def _end_with_parent() -> None:
    parent = multiprocessing.parent_process()
    if parent:
        parent.join()
        os._exit(1)


def _work(piece: Path, content: Any) -> None:
    keep(piece, *_answer(content))


def _join(pieces: list[Path], out: Path, form: str, task: Task, closing: Closing) -> None:
    """Write the pieces, one after another, as the result, and have it on the disk."""
    schema = CLAIM_SCHEMA if task.claims else SCHEMA
    with out.open("wb") as file:
        if form == "parquet":
            with pq.ParquetWriter(file, schema) as writer:
                for piece in pieces:
                    with piece.open("rb") as part, pa.ipc.open_stream(part) as stream:
                        writer.write_table(stream.read_all())
        else:
            file.write(b"" if form == "ndjson" else as_csv(pa.RecordBatch.from_pylist([], schema=schema)))
            for piece in pieces:
                with piece.open("rb") as part:
                    shutil.copyfileobj(part, file)
            file.write(as_lines([closing]) if form == "ndjson" else b"")
        file.flush()
        os.fsync(file.fileno())
