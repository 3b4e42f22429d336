"""Bodies that are JSON, but ask for what cannot be: wrong types, fields at odds, unknown words, impossible figures."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

from tests.hostile.case import Case, asking, post


def wrong_types() -> Iterator[Case]:
    """Every field of the body with values of every other type."""
    number = (True, False, [], {}, [5], "", "abc", " ", "5 mm", "5-8", ">=5", "not 5", "absent", "NaN", "Infinity", "1e5", "0x10", "1_000", "--5", "5,5")
    words: tuple[Any, ...] = ("thread", [], [1], [None], [True], [""], [[]], [{}], {}, 5, True)
    wrong: dict[str, tuple[Any, ...]] = {
        "character": (None, 1, 1.5, True, [], ["thread"], {}, ""),
        "value": (1, 7.5, True, False, [], ["present"], {}),
        "states": (*words, ["a|b"], ["not present"], ["!present"]),
        "not_states": (*words, ["a|b"], ["not present"]),
        "measured": number,
        "low": number,
        "high": number[:9],
        "uncertainty": number[:9],
        "unit": (1, 2.5, True, [], {}, "", "cm mm", "±3 mm", "mm\n", "<=1"),
        "absent": (False, "yes", "true", 1, 0, [], {}),
    }
    for name, values in wrong.items():
        whole: dict[str, Any] = {"character": "length"} | ({"measured": 5} if name in ("unit", "uncertainty") else {})
        whole |= {"value": "5"} if name == "character" else {}
        for value in values:
            yield asking(f"{name} is {value!r}", "bad-request", {**whole, name: value})
    for value in (None, {}, "thread=present", 5, True, [None], [5], [True], ["thread=present"], [[]], [{}], [{"value": "present"}]):
        yield post(f"observations is {value!r}", "bad-request", json.dumps({"observations": value}).encode())
    for name in ("wild", "every_rank"):
        for value in (None, 0, 1, 1.0, "true", "", [], {}):
            yield asking(f"{name} is {value!r}", "bad-request", **{name: value})


def conflicts() -> Iterator[Case]:
    """Fields that each are sound but do not go together, are missing, or are not known."""
    rows: tuple[dict[str, Any], ...] = (
        {"character": "length"},
        {"value": "5"},
        {"character": "length", "value": "5", "measured": 5},
        {"character": "length", "value": None, "measured": None},
        {"character": "thread", "states": ["present"], "not_states": ["absent"]},
        {"character": "thread", "states": ["present"], "absent": True},
        {"character": "length", "measured": 5, "low": 4, "high": 6},
        {"character": "length", "low": 4, "value": "5"},
        {"character": "length", "uncertainty": 1},
        {"character": "length", "low": 5, "uncertainty": 1},
        {"character": "thread", "states": ["present"], "unit": "mm"},
        {"character": "thread", "absent": True, "unit": "mm"},
        {"character": "length", "unit": "mm"},
        {"character": "length", "value": "5", "note": "seen today"},
        {"character": "length", "Value": "5"},
        {"character": "length", "value": "5", "": ""},
        {"character": "length", "value": "5", "__class__": "int"},
        {"character": "length", "value": "5", "k" * 5000: 1},
        {"character": "length", "value": "5", "\N{DECIDUOUS TREE}" * 2000: 1},
        {"character": "length", "value": "5", "a/b~c": 1},
    )
    for row in rows:
        yield asking(f"fields {', '.join(row)[:60]}", "bad-request", row)
    yield post("no observations", "bad-request", b'{"wild": true}')
    yield post("an empty object", "bad-request", b"{}")
    yield asking("an unknown question", "bad-request", season="winter")
    yield asking("2,000 unknown fields", "bad-request", **{f"field{number}": number for number in range(2000)})
    yield asking("200 unknown fields named in trees", "bad-request", **{f"{number}{'🌳' * 100}": number for number in range(200)})
    yield asking("2,000 unknown fields with long names", "bad-request", **{f"{'x' * 400}{number}": number for number in range(2000)})


def unknown_terms() -> Iterator[Case]:
    """Words that the knowledge does not have, and values that say nothing."""
    for word in ("thraed", "acer-rubrum", "*", "%", "../thread", "thread;drop", "<b>thread</b>", "${thread}", "{{thread}}", "' or 1=1 --", "thread.present"):
        yield asking(f"the character {word}", "unknown-term", {"character": word, "value": "present"})
        yield asking(f"the state {word}", "unknown-term", {"character": "thread", "states": [word]})
    for word in ("thread|nothing", "nothing|thread", "a" * 200, "|a|"):
        yield asking(f"the characters {word[:20]}", "unknown-term", {"character": word, "value": "present"})
    yield asking("a state of another character", "unknown-term", {"character": "thread", "value": "flat"})
    yield asking("a number for states", "unknown-term", {"character": "thread", "value": "5"})
    yield asking("a measure for states", "unknown-term", {"character": "thread", "measured": 5})
    yield asking("half of a list of states", "unknown-term", {"character": "thread", "value": "present|"})
    yield asking("many gaps", "unknown-term", {"character": "thread", "value": "|" * 300})
    yield asking("a denial of a denial", "unknown-term", {"character": "thread", "value": "not not present"})
    for character in ("|", " ", "||||", "\t", "\u00a0", "\u2003"):
        yield asking(f"a character of {character!r}", "bad-observation", {"character": character, "value": "present"})
    for value in ("", " ", "\n", "\u00a0"):
        yield asking(f"a value of {value!r}", "bad-observation", {"character": "thread", "value": value})
    yield asking("nothing left", "bad-observation", {"character": "thread", "not_states": ["present", "absent"]})
    yield asking("not absent of what cannot be absent", "bad-observation", {"character": "length", "value": "not absent"})
    yield asking("absence of what cannot be absent", "bad-observation", {"character": "length", "absent": True})
    yield asking("states of a measure", "bad-quantity", {"character": "length", "states": ["long"]})


def quantities() -> Iterator[Case]:
    """Numbers and ranges that descend, have wrong units, are beyond belief or cannot be read."""
    texts = (
        "8-5", "8-5 mm", "0.5-0.25", "5±", "±5", "5--8", "5-8-9", "5 5", "5 mm 6", "mm", "five", "-5", "+5", "- 5", "5e1", "1e400", "1e-400", "NaN", "nan",
        "inf", "Infinity", "-Infinity", "0x1F", "1_000", "5,5", "5.", ".5", "5..8", ">=", "<= mm", ">5", "<>5", ">=5-8", "1/0", "5 1/0", "1/2/3", "5 ± 1/0",
        "5 kg", "5 deg", "5 mo", "5 parsec", "5 1", "9" * 31, "0." + "1" * 30, "9" * 5000, "1-" + "9" * 199, "(3-)5-8", "5 mm|6 mm", "not 8-5", "not",
        "\u00b2", "5\u2044", "٥٫٥", "Ⅴ", "五", "99999", "0.001", "501", "40 m", "5\u00005",
    )  # fmt: skip
    for text in texts:
        code = "bad-request" if len(text) > 400 else "bad-quantity"
        yield asking(f"a length of {text[:20]!r} ({len(text)})", code, {"character": "length", "value": text})
    for text in ("2.5", "1/2", "5 mm", "1.0001", "101", "-1", "8-5", "2±0.5"):
        yield asking(f"turns of {text}", "bad-quantity", {"character": "turns", "value": text})
    for text in ("0", "13", "1-13", "0-12", "1.5", "5 mm", "May", "2026-05-01", "not 1-12"):
        yield asking(f"months of {text}", "bad-observation" if text == "not 1-12" else "bad-quantity", {"character": "stocked", "value": text})
    rows: tuple[dict[str, Any], ...] = (
        {"low": 8, "high": 5},
        {"low": "8", "high": 7.99},
        {"low": 5, "high": 8, "unit": "kg"},
        {"measured": -5},
        {"measured": -0.5},
        {"measured": 5, "uncertainty": -1},
        {"measured": 10**29},
        {"measured": 501},
        {"measured": 5, "unit": "parsec"},
        {"measured": 5, "unit": "MM"},
        {"low": 1000},
    )
    for row in rows:
        yield asking(f"a length with {row}", "bad-quantity", {"character": "length", **row})
    for value in (10**30, -(10**30), 10**300, 1e300, 1e-300, 5e-324, "9" * 31, "1/" + "3" * 40):
        yield asking(f"a figure of {len(str(value))} digits, {str(value)[:8]}", "bad-request", {"character": "length", "measured": value})
