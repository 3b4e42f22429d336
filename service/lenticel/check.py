"""The rules that whole tables must keep, beyond the form of single cells.

Each rule is a function from the loaded tables to the faults it finds; its docstring is what the guide says of it.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator
from graphlib import CycleError, TopologicalSorter

from lenticel.curation import Review, recorded_keys
from lenticel.errors import Fault, suggest
from lenticel.model import UNPUBLISHED, Character
from lenticel.quantity import SPELLINGS, UNITS
from lenticel.spelling import folded
from lenticel.tables import Loaded, Row
from lenticel.values import one_of, statement_value, states_taken, with_what_fits

Rule = Callable[[Loaded], Iterator[Fault]]
UNSOURCED = frozenset({*UNPUBLISHED, "invented"})


def table_faults(loaded: Loaded) -> list[Fault]:
    """Every fault of the tables: those met on reading, then those of each rule whose ground is sound."""
    faults = list(with_what_fits(loaded))
    for rule in RULES:
        faults += rule(loaded)
    if not faults:  # these walk the hierarchies, so they need sound references and no circles
        faults += connected(loaded)
    return sorted(set(faults))


def known_reference(loaded: Loaded) -> Iterator[Fault]:
    """Every identifier that a cell refers to stands in its table."""
    ids = {name: {row.cells.get("id", "") for row in rows} for name, rows in loaded.rows.items()}
    for rows in loaded.rows.values():
        for row in rows:
            for column in row.table.columns:
                if column.kind not in ("ref", "refs") or not row.cells[column.name]:
                    continue
                for word in row.cells[column.name].split("|") if column.kind == "refs" else [row.cells[column.name]]:
                    if word not in ids[column.refers]:
                        hint = suggest(word, ids[column.refers]) or f"Add it to the table {column.refers!r}."
                        yield row.fault(column.name, "unknown-term", f"{word[:60]!r} is not in the table {column.refers!r}.", hint)


def no_cycle(loaded: Loaded) -> Iterator[Fault]:
    """No taxon, character or state lies above itself, and no character applies only if it applies."""
    known = loaded.knowledge
    state_parents = {key: f"{state.character}.{state.parent}" if state.parent else "" for key, state in known.states.items()}
    conditions = {key: each.applies_if[0] if each.applies_if else "" for key, each in known.characters.items()}
    for table, column, up in (
        ("taxa", "parent", {key: taxon.parent for key, taxon in known.taxa.items()}),
        ("characters", "broader", {key: each.broader for key, each in known.characters.items()}),
        ("states", "parent", state_parents),
        ("characters", "applies_if", conditions),
    ):
        for key in up:
            seen, at = {key}, up[key]
            while at in up and at not in seen:
                seen.add(at)
                at = up[at]
            if at == key:
                yield loaded.origins[table, key].fault(column, "cycle", f"{key!r} lies above itself.", "Break the circle.")
    links = {key: {each.broader, *(each.applies_if or ())[:1]} & known.characters.keys() for key, each in known.characters.items()}
    try:
        TopologicalSorter(links).prepare()
    except CycleError as error:
        key, *others = error.args[1]
        message = f"{key!r} applies only if it applies, by way of {', '.join(map(repr, others))}."
        yield loaded.origins["characters", key].fault("applies_if", "cycle", message, "Break the circle.")


def character_kind(loaded: Loaded) -> Iterator[Fault]:
    """A character's unit, states, slack and broader character fit its kind."""
    known = loaded.knowledge
    with_states = {state.character for state in known.states.values()}
    for key, each in known.characters.items():
        row = loaded.origins["characters", key]
        yield from _unit_faults(row, each)
        if each.kind == "states" and each.broader == "" and key not in with_states:
            yield row.fault("kind", "no-states", f"{key!r} has no states.", "Add its states to the table 'states'.")
        if key in with_states and (each.kind != "states" or each.broader):
            yield row.fault(
                "kind", "stray-states", f"{key!r} has states of its own but must not.", "Give the states to the broadest character, or make the kind 'states'."
            )
        broader = known.characters.get(each.broader)
        if broader and (broader.kind, broader.unit, broader.force) != (each.kind, each.unit, each.force):
            yield row.fault("broader", "unlike-broader", f"{key!r} differs from {each.broader!r} in kind, unit or force.", "Make them agree, or drop the link.")
        loose = each.slack_low.amount or each.slack_high.amount or each.slack_extreme.amount
        if loose and not each.slack_reason:
            yield row.fault("slack_reason", "slack-reason", "Slack is given without a reason.", "Say why this much.")
        if loose and each.kind == "states":
            yield row.fault("slack_low", "slack-kind", "A character with states takes no slack.", "Use `graded` or `confusable_with`.")
        if each.applies_if and "circumstantial" in (each.force, getattr(known.characters.get(each.applies_if[0]), "force", "")):
            fix = "Take the condition out, or make both characters diagnostic."
            yield row.fault("applies_if", "condition-force", "A condition joins only diagnostic characters.", fix)
        if each.graded and each.kind != "states":
            yield row.fault("graded", "graded-kind", "Only states can be graded.", "Leave it empty.")
        if each.kind == "month" and (each.slack_low.relative or each.slack_high.relative or each.slack_extreme.relative):
            yield row.fault("slack_low", "slack-kind", "Months take whole months of slack.", "Write 1, not a share.")


def _unit_faults(row: Row, each: Character) -> Iterator[Fault]:
    due = {"states": ("",), "count": ("1",), "month": ("mo",), "measure": tuple(unit for unit in UNITS if unit not in ("1", "mo"))}[each.kind]
    if each.unit not in due:
        better = SPELLINGS.get(each.unit, "")
        fix = f"Write {better!r}." if better in due and better else f"Use one of: {', '.join(due)}." if due != ("",) else "Leave it empty."
        yield row.fault("unit", "bad-unit", f"The unit {each.unit!r} does not fit a character of kind {each.kind!r}.", fix)


def state_links(loaded: Loaded) -> Iterator[Fault]:
    """Parents, confusable states and conditions name states of the right character."""
    known = loaded.knowledge
    for key, state in known.states.items():
        row = loaded.origins["states", key]
        siblings = {each.id for each in known.states.values() if each.character == state.character} - {state.id}
        for column, words in (("parent", (state.parent,) if state.parent else ()), ("confusable_with", state.confusable_with)):
            for word in words:
                if word not in siblings:
                    yield row.fault(
                        column,
                        "unknown-state",
                        f"{word!r} is no other state of {state.character!r}.",
                        suggest(word, siblings) or one_of(siblings, "Leave it empty."),
                    )
    for key, each in known.characters.items():
        row = loaded.origins["characters", key]
        for column, condition in (("applies_if", each.applies_if), ("winter_if", each.winter_if)):
            if condition is not None:
                yield from _condition_faults(loaded, row, column, *condition)


def _condition_faults(loaded: Loaded, row: Row, column: str, target: str, words: tuple[str, ...]) -> Iterator[Fault]:
    known = loaded.knowledge.characters
    if target not in known:
        yield row.fault(column, "unknown-term", f"{target!r} is no character.", suggest(target, known) or "Name a character with states.")
        return
    allowed = states_taken(loaded, target)
    for word in words:
        if word not in allowed:
            message, fix = f"{word!r} is no state of {target!r}.", suggest(word, allowed) or one_of(allowed, "Name a character with states.")
            yield row.fault(column, "unknown-state", message, fix)


def sourced(loaded: Loaded) -> Iterator[Fault]:
    """Every published source has author, year and title; every source is cited."""
    known = loaded.knowledge
    cited = {row.cells["source"] for rows in loaded.rows.values() for row in rows if "source" in row.cells}
    for key, source in known.sources.items():
        row = loaded.origins["sources", key]
        if source.kind in UNSOURCED:
            continue
        for column in ("authors", "year"):
            if not getattr(source, column):
                yield row.fault(column, "source-detail", f"The source {key!r} has no {column}.", "Add it from the title page or the page's foot.")
        if source.year and not re.fullmatch(r"\d{4}|n\.d\.", source.year):
            yield row.fault("year", "source-detail", f"{source.year!r} is not a year.", "Write four digits, or n.d. where none is printed.")
        if key not in cited:
            yield row.fault("id", "orphan", f"No row cites the source {key!r}.", "Cite it or take it out.")


def unique_words(loaded: Loaded) -> Iterator[Fault]:
    """No two taxa share a name, no word means two characters, and within a character no word means two states; an organ is written one way."""
    known = loaded.knowledge
    yield from _shared_names(loaded)
    terms = [(key, column, word) for key, each in known.characters.items() for column, word in (("id", key), ("label", each.label))]
    terms += [(key, "synonyms", word) for key, each in known.characters.items() for word in each.synonyms]
    first: dict[str, str] = {}
    for key, column, word in terms:
        other = first.setdefault(word.casefold(), key)
        if other != key:
            yield loaded.origins["characters", key].fault(column, "same-label", f"{word!r} is also the {column} of {other!r}.", "Make them differ.")
    organs: dict[str, str] = {}
    for key, each in known.characters.items():
        organ = organs.setdefault(folded(each.organ), each.organ)
        if organ != each.organ:
            yield loaded.origins["characters", key].fault("organ", "same-label", f"The organ {organ!r} is written {each.organ!r} here.", f"Write {organ!r}.")
    words: dict[tuple[str, str], str] = {}
    for key, state in known.states.items():
        for word in {state.id, state.label.casefold(), *(each.casefold() for each in state.synonyms)}:
            other = words.setdefault((state.character, word), key)
            if other != key:
                yield loaded.origins["states", key].fault("synonyms", "same-label", f"{word!r} also means {other!r}.", "Keep the word for one state.")


def _shared_names(loaded: Loaded) -> Iterator[Fault]:
    """Taxa of one name, but for a genus called like its species. Further common names may be shared, as books share them: `changes` tells of those."""
    known = loaded.knowledge
    uses = [(key, column, getattr(each, column)) for column in ("scientific_name", "common_name") for key, each in known.taxa.items()]
    first: dict[str, str] = {}
    for key, column, word in uses:
        other = first.setdefault(word.casefold(), key) if word else key
        if other != key and key != known.taxa[other].parent and other != known.taxa[key].parent:
            fix = "Make them differ; what only some books call it goes to the table 'names'." if column == "common_name" else "Make them differ."
            yield loaded.origins["taxa", key].fault(column, "same-label", f"{word!r} is also a name of {other!r}.", fix)
    accepted = {each.scientific_name.casefold(): key for key, each in known.taxa.items()}
    for each in known.names:
        other = accepted.get(each.name.casefold(), each.taxon)
        if each.kind == "synonym" and other != each.taxon:
            row = loaded.origins["names", f"{each.taxon}.{each.name}.{each.source}"]
            yield row.fault(
                "name", "same-label", f"{each.name!r} is the accepted name of {other!r}.", "Add its author if another plant was meant, else take the row out."
            )


def sensible_frames(loaded: Loaded) -> Iterator[Fault]:
    """The base IRI ends in a slash, a plausible range ascends, and only a state with states below it has a complete list."""
    known = loaded.knowledge
    if known.about.iri and not known.about.iri.endswith("/"):
        yield loaded.rows["about"][0].fault("iri", "base-iri", f"{known.about.iri!r} does not end in a slash.", "Add the slash.")
    for key, each in known.characters.items():
        if each.plausible_min is not None and each.plausible_max is not None and each.plausible_min > each.plausible_max:
            yield loaded.origins["characters", key].fault("plausible_min", "implausible", "The plausible range descends.", "Write the lower figure first.")
    above = {(each.character, each.parent) for each in known.states.values()}
    for key, state in known.states.items():
        if state.complete and (state.character, state.id) not in above:
            yield loaded.origins["states", key].fault("complete", "no-states", f"{key!r} has no states below it that could be complete.", "Leave it empty.")


def connected(loaded: Loaded) -> Iterator[Fault]:
    """No term hangs loose: every lowest taxon is described, every character is used, no state list has a single state."""
    known = loaded.knowledge
    described = {statement.taxon for statement in known.statements.values()}
    for taxon in known.terminal:
        if not described & set(known.lineage(taxon)):
            yield loaded.origins["taxa", taxon].fault(
                "id", "orphan", f"Nothing is stated of {taxon!r} or of a rank above it.", "Add statements, or take the taxon out."
            )
    used = {statement.character for statement in known.statements.values()}
    used |= {each.applies_if[0] for each in known.characters.values() if each.applies_if}
    used |= {broader for key in used for broader in known.broadening(key)}
    for key in known.characters:
        if key not in used:
            yield loaded.origins["characters", key].fault(
                "id", "orphan", f"No statement uses the character {key!r}.", "State something with it, or take it out."
            )


def who_recorded(loaded: Loaded) -> Iterator[Fault]:
    """A row that says who recorded statements fits one that is there."""
    known = loaded.knowledge
    if not loaded.rows["statements"]:  # they could not be read, which is told already
        return
    made = {key for each in known.statements.values() for key in recorded_keys(each.taxon, each.character, each.source)}
    for key in known.recorded.keys() - made:
        yield loaded.origins["recorded", key].fault("character", "orphan", "There is no such statement.", "Mend the row, or take it out.")


def read_back(loaded: Loaded) -> Iterator[Fault]:
    """A review names the wording that was read, and says what is amiss where the verdict is not `right`."""
    for key, review in loaded.knowledge.reviews.items():
        yield from review_faults(loaded.origins["reviews", key], review)


def review_faults(row: Row, review: Review) -> Iterator[Fault]:
    """The faults of one review beyond the form of its cells."""
    if not re.fullmatch(r"[a-z0-9-]+(\.[a-z0-9-]+){2,}", review.statement):
        fix = "Write it as taxon.character.source, with the frequency behind another dot if it has one."
        yield row.fault("statement", "id-form", f"{review.statement[:80]!r} names no statement.", fix)
    if not re.fullmatch(r"w-[0-9a-f]{12}", review.wording):
        yield row.fault("wording", "wording", f"{review.wording[:60]!r} is no fingerprint of a wording.", "Copy it from the sheet that was read.")
    if review.verdict != "right" and not (review.note or review.correction):
        fix = "Write what the source says into `correction` or `note`."
        yield row.fault("note", "verdict-reason", f"The verdict is {review.verdict!r}, and nothing says why.", fix)


def matched(loaded: Loaded) -> Iterator[Fault]:
    """A match is of one taxon, one character or one state that the character takes."""
    known = loaded.knowledge
    for key, match in known.matches.items():
        row = loaded.origins["matches", key]
        if bool(match.taxon) == bool(match.character) or (match.state and not match.character):
            column = "character" if match.taxon else "taxon"
            yield row.fault(column, "match-of-one", "A match is of a taxon, or of a character or a state of it.", "Fill `taxon` or `character`, not both.")
        elif match.state and match.character in known.characters and match.subject[1] not in known.states:
            states = [each.id for each in known.states_of(match.character)]
            fix = suggest(match.state, states) or f"Its states are: {', '.join(states)}."
            yield row.fault("state", "unknown-term", f"{match.character!r} has no state {match.state!r} of its own.", fix)


def careful_words(loaded: Loaded) -> Iterator[Fault]:
    """Cautions and look-alikes never call anything safe, and a look-alike names at least two taxa."""
    for name in ("cautions", "lookalikes"):
        for row in loaded.rows[name]:
            for column, cell in row.cells.items():
                if column in ("harm", "advice", "reason", "note") and re.search(r"\b(safe|safely|harmless|edible)\b", cell, re.IGNORECASE):
                    yield row.fault(
                        column, "careful-words", "The text calls something safe.", "Say what can hurt and to leave the plant be; never that a thing is safe."
                    )
    for key, lookalike in loaded.knowledge.lookalikes.items():
        if len(lookalike.taxa) < 2:
            yield loaded.origins["lookalikes", key].fault("taxa", "too-few", "A look-alike needs two taxa.", "Name both.")


RULES: tuple[Rule, ...] = (
    known_reference,
    no_cycle,
    character_kind,
    state_links,
    statement_value,
    sourced,
    unique_words,
    sensible_frames,
    careful_words,
    who_recorded,
    read_back,
    matched,
)


def rule_texts(rules: Iterable[Rule] = (*RULES, connected)) -> list[tuple[str, str]]:
    """Name and sentence of each rule, for the guide."""
    return [(rule.__name__.replace("_", " "), (rule.__doc__ or "").strip()) for rule in rules]
