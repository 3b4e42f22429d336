"""Random knowledge and random observations, for holding the engine against a reasoner and against laws.

The knowledge is made of every construct that the tables have: state trees with complete and open lists, grades,
confusable states, special cases of characters, conditions, ranges that touch at their ends, months round the year,
ranks that narrow, rare, denied and non-exhaustive statements, circumstantial characters. It may contradict itself.
"""

from __future__ import annotations

import random
from decimal import Decimal

from lenticel.curation import VERDICTS, Recorded, Review
from lenticel.errors import BadObservation, BadQuantity
from lenticel.model import MATCHES, NO_SLACK, About, Character, Knowledge, Match, Slack, Source, State, Statement, Taxon
from lenticel.observation import Observation, Part, Reader

ABOUT = About(
    "random",
    "Random",
    "Invented by a generator.",
    "https://example.org/random/",
    "https://example.org/licence",
    "nobody",
    "2026-01-01",
    "2026-01-01",
    "2026-01-01",
)
ENDS = [Decimal(each) for each in ("0", "1", "2", "3", "4", "5", "5.5", "6", "7.25", "8", "9", "10")]


def random_knowledge(rnd: random.Random) -> Knowledge:
    """A small body of knowledge: up to 7 taxa in up to 3 ranks, up to 8 characters."""
    known = Knowledge(ABOUT, sources={key: Source(key, "invented", "", "", key, "", "", "") for key in ("one", "two", "three")})
    _taxa(rnd, known)
    for number in range(rnd.randint(3, 8)):
        _character(rnd, known, f"c{number}")
    for character in list(known.characters.values()):
        for taxon in known.taxa:
            for source in known.sources:
                if rnd.random() < 0.28:
                    _statement(rnd, known, taxon, character, source)
    _curation(rnd, known)
    return known


def _curation(rnd: random.Random, known: Knowledge) -> None:
    """Who recorded some of the statements and who read some back, a few of them in a wording that is no more, or gone; and what matches elsewhere."""
    for each in list(known.statements.values()):
        if rnd.random() < 0.3:
            recorded = Recorded(each.taxon, rnd.choice(["", each.character]), rnd.choice(["", each.source]), rnd.choice(["one", "another"]), "2026-01-02")
            known.recorded.setdefault(recorded.id, recorded)
        if rnd.random() < 0.2:
            wording, statement = rnd.choice([each.wording, "w-0123456789ab"]), rnd.choice([each.id, each.id, f"{each.id}.gone"])
            review = Review(statement, wording, rnd.choice(VERDICTS), rnd.choice(["", "5"]), "invented", "one", f"2026-01-0{rnd.randint(1, 9)}")
            known.reviews.setdefault(review.id, review)
    for character in known.characters:
        state = rnd.choice(["", *(each.id for each in known.states.values() if each.character == character)])
        term = f"https://example.org/elsewhere/{rnd.randint(1, 3)}"
        if rnd.random() < 0.4:
            match = Match("", character, state, rnd.choice(MATCHES), term, "invented", rnd.choice(list(known.sources)), "invented")
            known.matches.setdefault(match.id, match)


def _taxa(rnd: random.Random, known: Knowledge) -> None:
    for number in range(rnd.randint(2, 7)):
        parent = rnd.choice(["", *list(known.taxa)[:3]])
        known.taxa[f"t{number}"] = Taxon(f"t{number}", "group", parent, f"Taxon {number}", "", "", (), "", "")


def _character(rnd: random.Random, known: Knowledge, key: str) -> None:
    kinds = [each.id for each in known.characters.values() if each.kind == "states"]
    numeric = [each.id for each in known.characters.values() if each.kind == "measure"]
    kind = rnd.choice(["states", "states", "states", "measure", "count", "month"])
    broader = (
        rnd.choice(kinds)
        if kind == "states" and kinds and rnd.random() < 0.3
        else rnd.choice(numeric)
        if kind == "measure" and numeric and rnd.random() < 0.3
        else ""
    )
    graded = kind == "states" and rnd.random() < 0.25
    force = known.characters[broader].force if broader else rnd.choice(["diagnostic"] * 5 + ["circumstantial"])
    conditions = [each for each in kinds if known.characters[each].force == "diagnostic"]
    condition = None
    if conditions and force == "diagnostic" and rnd.random() < 0.4:
        target = rnd.choice(conditions)
        states = [each.id for each in known.states_of(target)]
        condition = target, tuple(sorted(rnd.sample(states, rnd.randint(1, min(2, len(states))))))
    slack = rnd.choice([NO_SLACK, Slack(Decimal(1), False)]) if kind != "states" else NO_SLACK
    unit = {"states": "", "measure": "cm", "count": "1", "month": "mo"}[kind]
    complete = kind == "states" and not broader and rnd.random() < 0.5
    known.characters[key] = Character(
        key,
        f"Character {key}",
        kind,
        broader,
        "part",
        "",
        "",
        ("spring",),
        "eye",
        force,
        condition,
        None if complete else condition,
        unit,
        None,
        None,
        graded and not broader,
        complete,
        rnd.random() < 0.8,
        slack,
        slack,
        NO_SLACK,
        "because",
        (),
        f"Invented {key}.",
    )
    if kind == "states" and not broader:
        _states(rnd, known, key)


def _states(rnd: random.Random, known: Knowledge, character: str) -> None:
    names = [f"s{number}" for number in range(rnd.randint(2, 7))]
    for number, name in enumerate(names):
        parent = rnd.choice(["", *names[:number]]) if number > 1 and rnd.random() < 0.6 else ""
        confusable = tuple(each for each in names if each != name and each != parent and rnd.random() < 0.08)
        known.states[f"{character}.{name}"] = State(
            character, name, f"State {name}", parent, rnd.random() < 0.4, confusable, (), f"Invented {character} {name}."
        )
    known.__dict__.pop("_states_by_root", None)
    below = {each.parent for each in known.states.values() if each.character == character}
    for key, state in list(known.states.items()):
        if state.character == character and state.complete and state.id not in below:
            known.states[key] = State(character, state.id, state.label, state.parent, False, state.confusable_with, (), state.definition)
    known.__dict__.pop("_states_by_root", None)


def _statement(rnd: random.Random, known: Knowledge, taxon: str, character: Character, source: str) -> None:
    frequency = rnd.choice(["", "", "", "usually", "sometimes", "rarely", "cultivar", "never"])
    if character.kind == "states":
        states = [each.id for each in known.states_of(character.id)]
        value = "|".join(sorted(rnd.sample(states, rnd.randint(1, min(3, len(states))))))
    elif character.kind == "month":
        value = f"{rnd.randint(1, 12)}-{rnd.randint(1, 12)}"
    else:
        value = _range(rnd, whole=character.kind == "count")
    if character.kind != "states" and frequency == "never":
        frequency = ""
    statement = Statement(taxon, character.id, value, frequency, rnd.choice([None, None, None, True, False]), source, "p. 1", "", "")
    known.statements[statement.id] = statement


def _range(rnd: random.Random, *, whole: bool) -> str:
    ends = [each for each in ENDS if not whole or each == each.to_integral_value()]
    figures = sorted(rnd.choice(ends) for _ in range(4))
    low, high = figures[1], figures[2]
    form = rnd.random()
    if form < 0.12:
        return f"<={high}"
    if form < 0.24:
        return f">={low}"
    left = f"({figures[0]}-)" if rnd.random() < 0.3 else ""
    right = f"(-{figures[3]})" if rnd.random() < 0.3 else ""
    return f"{left}{low}-{high}{right}" if low != high else f"{left}{low}{right}"


def random_observation(rnd: random.Random, reader: Reader) -> Observation:
    """One observation of any kind; one in six is of the form "this or that character"."""
    return Observation(tuple(random_part(rnd, reader) for _ in range(2 if rnd.random() < 1 / 6 else 1)))


def random_part(rnd: random.Random, reader: Reader) -> Part:
    """What was seen of one character: a state, several, a denial, an absence, a value, an interval, a bound, a span of months."""
    known = reader.knowledge
    while True:
        character = rnd.choice(list(known.characters.values()))
        try:
            return reader.part(character, _value(rnd, known, character))
        except (BadObservation, BadQuantity):
            continue  # a denial that leaves nothing, or a value beyond what is plausible


def _value(rnd: random.Random, known: Knowledge, character: Character) -> str:
    if character.kind == "states":
        states = [each.id for each in known.states_of(character.id)]
        if "absent" in states and rnd.random() < 0.2:
            return "absent"
        return ("not " if rnd.random() < 0.2 else "") + "|".join(rnd.sample(states, rnd.randint(1, min(3, len(states)))))
    if character.kind == "month":
        return f"{rnd.randint(1, 12)}-{rnd.randint(1, 12)}"
    ends = _ends(known, character)
    low, high = sorted((rnd.choice(ends), rnd.choice(ends)))
    form = rnd.random()
    if form < 0.15:
        return f"<={high}"
    if form < 0.3:
        return f">={low}"
    if form < 0.5:
        return f"{low}-{low}"
    return ("not " if form > 0.85 else "") + f"{low}-{high}"


def _ends(known: Knowledge, character: Character) -> list[Decimal]:
    """Figures at, just below and just above the bounds that statements print, where mistakes would show."""
    step = Decimal(1) if character.kind == "count" else Decimal("0.01")
    figures = {Decimal(0), *ENDS}
    for statement in known.statements.values():
        if statement.character == character.id:
            figures |= {Decimal(word) for word in "".join(each if each.isdigit() or each == "." else " " for each in statement.value).split()}
    near = sorted({each + shift for each in figures for shift in (-step, Decimal(0), step) if each + shift >= 0})
    return [each for each in near if character.kind != "count" or each == each.to_integral_value()]
