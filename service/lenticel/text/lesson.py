"""A lesson's table as Markdown, HTML and CSV."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from html import escape

from lenticel.lesson import Lesson, LessonCell
from lenticel.model import Knowledge
from lenticel.spreadsheet import neutral
from lenticel.text.page import in_markdown, page
from lenticel.text.parts import warned

LEGEND = "Marked cells tell. Decisive: no plant of the others here can show this. Typical: their usual plants do not. Partly: apart from some of them."


def lesson_title(answer: Lesson) -> str:
    """The title of the table."""
    return f"What tells apart {', '.join(answer.labels)}" + (f" in {answer.season}" if answer.season else "")


def lesson_markdown(knowledge: Knowledge, answer: Lesson) -> Iterator[str]:
    """The table as Markdown (GitHub's tables), line by line."""
    yield f"# {in_markdown(lesson_title(answer))}"
    yield ""
    yield "| | " + " | ".join(map(in_markdown, answer.labels)) + " |"
    yield "| --- |" + " --- |" * len(answer.labels)
    for row in answer.rows:
        yield f"| {in_markdown(row.label)} ({in_markdown(row.needs)}) | " + " | ".join(_markdown_cell(cell) for cell in row.cells) + " |"
    yield ""
    yield LEGEND
    yield ""
    yield from (in_markdown(line) for line in _below(knowledge, answer))
    if answer.notes:
        yield ""
        yield "Sources:"
        yield ""
        yield from (f"{place}. {in_markdown(note)}" for place, note in enumerate(answer.notes, 1))
    yield from (f"\n{in_markdown(line.strip())}" for line in warned(knowledge, answer.cautions) if line)


def _markdown_cell(cell: LessonCell) -> str:
    strong = "**" if cell.telling in ("decisive", "typical") else ""
    mark = f" ({cell.telling})" if cell.telling else ""
    notes = f" [{', '.join(map(str, cell.notes))}]" if cell.notes else ""
    return f"{strong}{in_markdown(cell.shown)}{strong}{mark}{in_markdown(notes)}"


def lesson_html(knowledge: Knowledge, answer: Lesson) -> str:
    """The table as a page of its own, to print and for a phone."""
    body = [f"<h1>{escape(lesson_title(answer))}</h1>", "<table>", "<thead><tr><th></th>"]
    body += [f'<th scope="col">{escape(label)}</th>' for label in answer.labels]
    body += ["</tr></thead>", "<tbody>"]
    for row in answer.rows:
        body.append(f'<tr><th scope="row">{escape(row.label)}<small>{escape(row.organ)}; {escape(row.needs)}</small></th>')
        body += [_html_cell(label, cell) for label, cell in zip(answer.labels, row.cells, strict=True)]
        body.append("</tr>")
    body += ["</tbody>", "</table>", f"<p>{escape(LEGEND)}</p>"]
    body += [f"<p>{escape(line)}</p>" for line in _below(knowledge, answer)]
    lines = [line.strip() for line in warned(knowledge, answer.cautions) if line]
    if lines:
        body.append('<div class="caution">' + "".join(f"<p>{escape(line)}</p>" for line in lines) + "</div>")
    if answer.notes:
        body.append('<h2>Sources</h2>\n<ol class="notes">' + "".join(f"<li>{escape(note)}</li>" for note in answer.notes) + "</ol>")
    body.append(f'<p class="notes">Knowledge {answer.digest[:16]}.</p>')
    return page(lesson_title(answer), body)


def _html_cell(label: str, cell: LessonCell) -> str:
    notes = f"<sup>{', '.join(map(str, cell.notes))}</sup>" if cell.notes else ""
    mark = f"<small>{escape(cell.telling)}</small>" if cell.telling else ""
    return f'<td class="{cell.telling or "plain"}" data-taxon="{escape(label)}">{escape(cell.shown)}{notes}{mark}</td>'


def lesson_csv(knowledge: Knowledge, answer: Lesson) -> str:
    """The table as CSV (RFC 4180), two columns a taxon: what it shows, and whether that tells; then a row a note and a caution."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    width = 2 + 3 * len(answer.labels)

    def write(*cells: str) -> None:
        writer.writerow([neutral(cell) for cell in (*cells, *[""] * (width - len(cells)))])

    write("character", "needs", *(word for label in answer.labels for word in (label, "telling", "sources")))
    for row in answer.rows:
        write(row.label, row.needs, *(word for cell in row.cells for word in (cell.shown, cell.telling, " ".join(map(str, cell.notes)))))
    for line in _below(knowledge, answer):
        write("note", line)
    for place, note in enumerate(answer.notes, 1):
        write(f"source {place}", note)
    for line in warned(knowledge, answer.cautions):
        if line.strip():
            write("caution", line.strip())
    return out.getvalue()


def _below(knowledge: Knowledge, answer: Lesson) -> Iterator[str]:
    """What stands below the table: what nothing separates, and where it is idle to look."""
    when = f" in {answer.season}" if answer.season else ""
    for pair in answer.unseparated:
        one, other = (knowledge.taxa[taxon].scientific_name for taxon in pair)
        yield f"Nothing here separates {one} and {other}{when}."
    if answer.shared:
        yield f"Alike in all of them, so do not look there: {'; '.join(answer.shared)}."
