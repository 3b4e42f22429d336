"""Practice questions to print: as text, Markdown and HTML, the questions first and the answers after them."""

from __future__ import annotations

from collections.abc import Iterator
from html import escape

from lenticel.model import Caution, Knowledge
from lenticel.practice import Practice, PracticeQuestion
from lenticel.text.page import in_markdown, page
from lenticel.text.parts import cited, warned


def practice_title(knowledge: Knowledge, answer: Practice) -> str:
    """The title of the list."""
    group = ", ".join(knowledge.taxa[each].label for each in answer.group) or "look-alikes"
    return f"Practice: {group}" + (f" in {answer.season}" if answer.season else "")


def practice_text(knowledge: Knowledge, answer: Practice) -> Iterator[str]:
    """The questions, then the answers, line by line."""
    yield practice_title(knowledge, answer)
    yield ""
    if not answer.questions:
        yield "There are no look-alikes on record here."
    for each in answer.questions:
        yield f"{each.number}. ({each.level}) {each.text}"
    if answer.questions:
        yield "\nAnswers"
    for each in answer.questions:
        yield f"\n{each.number}. {each.reason}"
        yield from (f"   {line}" for line in _because(knowledge, answer, each))
    yield from warned(knowledge, _cautions(answer))
    yield ""
    yield f"Seed {answer.seed}. Knowledge {answer.digest[:16]}."


def practice_markdown(knowledge: Knowledge, answer: Practice) -> Iterator[str]:
    """The list as Markdown, line by line."""
    yield f"# {in_markdown(practice_title(knowledge, answer))}"
    yield ""
    yield from (f"{each.number}. ({each.level}) {in_markdown(each.text)}" for each in answer.questions)
    yield ""
    yield "## Answers"
    for each in answer.questions:
        yield ""
        yield f"**{each.number}.** {in_markdown(each.reason)}"
        yield ""
        yield from (f"- {in_markdown(line.strip())}" for line in _because(knowledge, answer, each))
    yield from (f"\n{in_markdown(line.strip())}" for line in warned(knowledge, _cautions(answer)) if line)
    yield ""
    yield f"Seed {answer.seed}. Knowledge {answer.digest[:16]}."


def practice_html(knowledge: Knowledge, answer: Practice) -> str:
    """The list as a page of its own."""
    body = [f"<h1>{escape(practice_title(knowledge, answer))}</h1>", "<ol>"]
    body += [f'<li class="question">{escape(each.text)} <small>{each.level}</small></li>' for each in answer.questions]
    body += ["</ol>", "<h2>Answers</h2>", "<ol>"]
    for each in answer.questions:
        lines = "<br>".join(escape(line.strip()) for line in _because(knowledge, answer, each))
        body.append(f'<li class="question">{escape(each.reason)}<p class="answer notes">{lines}</p></li>')
    body.append("</ol>")
    cautions = [line.strip() for line in warned(knowledge, _cautions(answer)) if line]
    if cautions:
        body.append('<div class="caution">' + "".join(f"<p>{escape(line)}</p>" for line in cautions) + "</div>")
    body.append(f'<p class="notes">Seed {answer.seed}. Knowledge {answer.digest[:16]}.</p>')
    return page(practice_title(knowledge, answer), body)


def _cautions(answer: Practice) -> list[Caution]:
    """The cautions of all questions, each once."""
    return list({caution.id: caution for each in answer.questions for caution in each.cautions}.values())


def _because(knowledge: Knowledge, answer: Practice, each: PracticeQuestion) -> Iterator[str]:
    """The traits with whose word they rest on, and the warning of the source that sets the two against each other."""
    one, other = (knowledge.taxa[taxon].scientific_name for taxon in (each.one, each.other))
    for trait in each.traits:
        yield f"{knowledge.characters[trait.character].label} ({trait.force}): {one} {trait.one}; {other} {trait.other}"
        yield from cited(answer.citations, trait.statements, len(trait.statements), "   ")
    record = knowledge.lookalikes[each.lookalike]
    yield f"On record: {each.warning} ({knowledge.sources[record.source].short}, {record.locator})"
