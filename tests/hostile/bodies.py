"""Bodies that are no sound JSON, or are odd, too long, too deep, or sent as something else."""

from __future__ import annotations

from collections.abc import Iterator

from lenticel.notation import MOST_DEPTH, MOST_SIGNS
from tests.hostile.case import IDENTIFY, JSON, Case, asking, post

MEBIBYTE = 1 << 20


def broken_json() -> Iterator[Case]:
    """Bodies that are no JSON, or JSON that lax readers let pass."""
    row = b'{"observations": [{"character": "length", "measured": %s}]}'
    for word in ("NaN", "Infinity", "-Infinity", "nan", "inf", "+1", "01", ".5", "1.", "0x10", "1e", "--1", "'5'", "True", "None", "undefined", "5mm"):
        yield post(f"measured {word}", "bad-json", row % word.encode())
    for word in (b"1" * 5000, b"-" + b"1" * 5000, b"9" * 100_000):
        yield post(f"a whole number of {len(word)} digits", "bad-json", row % word)
    for word in (b"1e400", b"-1e400", b"1" * 5000 + b".5", b"1e999999999", b"1E+4000"):
        yield post(f"the figure {word[:12].decode()} of {len(word)} characters", "bad-request", row % word)
    texts = (
        b"", b" ", b"{", b"}", b"[", b'"', b"{]", b'{"observations": [}', b'{"observations": []', b'{"observations": [],}', b'{"observations": [1,]}',
        b"{'observations': []}",
        b"{observations: []}", b'{"observations": []} {}', b'{"observations": []}x', b'// note\n{"observations": []}', b'{"observations": /* none */ []}',
        b'{"observations" []}', b'{"observations": [] "wild": true}', b'{"observations": ["\\x41"]}', b'{"observations": ["\\u12"]}',
        b'{"observations": ["a\nb"]}',
        b'{"observations": ["\x00"]}', b'{"observations": []}\x00', b"\x00", b"tru", b"observations=thread", b"<observations/>", b"---\nobservations: []\n",
        b"seen=thread%3Dpresent", b"\x1f\x8b\x08\x00", b"PK\x03\x04", b"{" * 50,
    )  # fmt: skip
    for text in texts:
        yield post(f"the body {text[:40]!r}", "bad-json", text)
    for text in (b"null", b"true", b"5", b'"thread"', b"[]", b"[[]]", b'[{"observations": []}]', b"1e400", b'""'):
        yield post(f"the body {text!r} is no object", "bad-request", text)
    twice = (
        b'{"observations": [], "observations": []}',
        b'{"observations": [], "wild": false, "wild": true}',
        b'{"observations": [{"character": "thread", "value": "present", "value": "absent"}]}',
        b'{"observations": [{"character": "thread", "character": "head", "value": "flat"}]}',
        b'{"observations": [], "\\u0077ild": true, "wild": false}',
        b'{"observations": [], "' + b"k" * 3000 + b'": 1, "' + b"k" * 3000 + b'": 2}',
        b"{" + b", ".join(b'"%d": 0' % number for number in range(32)) + b', "7": 1}',
    )
    for text in twice:
        yield post(f"a name twice in {text[:60]!r}", "bad-json", text)


def encodings() -> Iterator[Case]:
    """Bodies that are not UTF-8, or begin with a byte order mark."""
    sound = '{"observations": [{"character": "thread", "value": "présent"}]}'
    for name in ("utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "utf-32", "utf-32-le", "latin-1", "cp437", "cp037"):
        yield post(f"a body in {name}", "bad-json", sound.encode(name))
    for mark in (
        b"\xff",
        b"\xc0\x80",
        b"\xe0\x80\x80",
        b"\xed\xa0\x80",
        b"\xed\xa0\xbd\xed\xb8\x80",
        b"\xf4\x90\x80\x80",
        b"\xf8\x88\x80\x80\x80",
        b"\xe2\x82",
        b"\x80",
        b"\xfe\xff",
    ):
        yield post(f"the bytes {mark.hex()}", "bad-json", b'{"observations": [{"character": "thread", "value": "' + mark + b'"}]}')


def odd_characters() -> Iterator[Case]:
    """Characters that hide, turn or combine, in every place where a word may stand."""
    for sign in (
        "\u0000",
        "\u0007",
        "\u001b[31m",
        "\u200b",
        "\u200d",
        "\u200e",
        "\u200f",
        "\u202e",
        "\u2066",
        "\ufeff",
        "\ufffd",
        "\uffff",
        "\u0301",
        "\U000e0041",
        "\U0001f333",
    ):
        name = " ".join(f"U+{ord(each):04X}" for each in sign[:1])
        yield asking(f"{name} in a character", "unknown-term", {"character": f"thr{sign}ead", "value": "present"})
        yield asking(f"{name} in a state", "unknown-term", {"character": "thread", "states": [f"pre{sign}sent"]})
        yield asking(f"{name} in a number", "bad-request", {"character": "length", "measured": f"5{sign}5"})
        yield asking(f"{name} in a name", "bad-request", {"character": "thread", "value": "present", f"no{sign}te": 1})
    half = b'"\\ud800"'
    yield post("half a surrogate pair as a character", "bad-request", b'{"observations": [{"character": %s, "value": "present"}]}' % half)
    yield post("half a surrogate pair as a value", "bad-request", b'{"observations": [{"character": "thread", "value": %s}]}' % half)
    yield post("half a surrogate pair as a state", "bad-request", b'{"observations": [{"character": "thread", "states": [%s]}]}' % half)
    yield post("half a surrogate pair as a number", "bad-request", b'{"observations": [{"character": "length", "measured": %s}]}' % half)
    yield post("half a surrogate pair as a name", "bad-request", b'{"observations": [], %s: 1}' % half)
    yield post("half a surrogate pair as a name twice", "bad-json", b'{"observations": [], %s: 1, %s: 2}' % (half, half))
    yield post("halves of a pair in the wrong order", "bad-request", b'{"observations": [{"character": "\\udc00\\ud800", "value": "present"}]}')


def sizes() -> Iterator[Case]:
    """Too long, too many, too deep."""
    row = {"character": "thread", "value": "present"}
    long = "w" * 1_000_000
    yield asking("a character of 1 MB", "bad-request", {"character": long, "value": "present"})
    yield asking("a value of 1 MB", "bad-request", {"character": "thread", "value": long})
    yield asking("a state of 1 MB", "bad-request", {"character": "thread", "states": [long]})
    yield asking("a number of 1 MB", "bad-request", {"character": "length", "measured": "7" * 1_000_000})
    yield asking("a unit of 1 MB", "bad-request", {"character": "length", "measured": 5, "unit": long})
    yield asking("a name of 1 MB", "bad-request", {**row, long: 1})
    yield asking("a character of 201 letters", "bad-request", {"character": "t" * 201, "value": "present"})
    yield asking("a value of 401 letters", "bad-request", {"character": "thread", "value": "p" * 401})
    yield asking("61 states", "bad-request", {"character": "thread", "states": ["present"] * 61})
    yield asking("50,000 states", "bad-request", {"character": "thread", "states": ["present"] * 50_000})
    for count in (201, 1000, 15_000):
        yield asking(f"{count} observations", "bad-request", *[row] * count)
    yield asking("170,000 nulls", "bad-request", *[None] * 170_000)
    yield asking("200 observations, each with a fault", "bad-request", *[{"character": "thread", "states": ["a|b"], "k" * 300: 1}] * 200)
    for pair in ("[]", "{}"):
        opening = {"[]": b"[", "{}": b'{"a":'}[pair]
        for depth in (1000, 100_000):
            code = "bad-json" if depth <= MOST_SIGNS else "bad-request"
            yield post(f"{depth} deep in {pair}", code, opening * depth)
            yield post(f"{depth} deep in {pair} and closed", code, b'{"observations": ' + opening * depth + b"1" + pair[1].encode() * depth + b"}")
    for depth in (MOST_DEPTH, MOST_DEPTH + 1):
        code = "bad-json" if depth > MOST_DEPTH else "bad-request"
        yield post(f"{depth} deep", code, b'{"observations": ' + b"[" * (depth - 1) + b"]" * (depth - 1) + b"}")
    for name, body in (("blanks", b" "), ("zeros", b"\x00"), ("brackets", b"["), ("letters", b"a")):
        yield post(f"one byte too many, of {name}", "too-large", body * (MEBIBYTE + 1))
    yield post("a sound question padded beyond the limit", "too-large", b'{"observations": []}' + b" " * MEBIBYTE)
    yield Case("a body beyond the limit for GET", "too-large", "GET", "/v1/stats", b"a" * (MEBIBYTE + 1))
    yield Case("a body beyond the limit at no address", "too-large", "POST", "/nothing", b"a" * (MEBIBYTE + 1))


def costly() -> Iterator[Case]:
    """Bodies of which reading or refusing each part would take long."""
    for name, part in (("objects", b"{}"), ("arrays", b"[]"), ("texts", b'""'), ("numbers", b"1e9"), ("objects with a name twice", b'{"a":1,"a":2}')):
        count = (MEBIBYTE - 100) // (len(part) + 1)
        yield post(f"{count} {name}", "bad-request", b'{"observations": [' + b",".join([part] * count) + b"]}")
    yield post("50,000 names, one of them twice", "bad-request", b"{" + b", ".join(b'"%d": 0' % number for number in range(50_000)) + b', "7": 1}')
    for count in (20, 33, 80):
        names = b"{" + b",".join(b'"n%d":0' % number for number in range(count)) + b"}"
        yield post(f"200 observations of {count} unknown names", "bad-request", b'{"observations": [' + b",".join([names] * 200) + b"]}")
    yield post("240 numbers of 4,300 digits", "bad-json", b'{"observations": [' + b",".join([b"9" * 4300] * 240) + b"]}")
    yield post("1,000 numbers of 999 digits", "bad-request", b'{"observations": [' + b",".join([b"9" * 999] * 1000) + b"]}")
    full = b'{"observations": [' + b'{"a":0,"b":0},' * ((MOST_SIGNS - 2) // 3)
    yield post("as many commas as there may be, then a fault", "bad-json", b'{"observations": [' + b"0," * (MOST_SIGNS - 2) + b"x]}")
    yield post("as many members as there may be, then a fault", "bad-json", full + b"NaN]}")
    yield post("150,000 colons, then a byte that is no UTF-8", "bad-json", b":" * 150_000 + b"\xff")
    yield post(
        "as many members as there may be, then a byte that is no UTF-8",
        "bad-json",
        full + b"\xff",
    )


def content_types() -> Iterator[Case]:
    """A sound body sent as something else."""
    body = b'{"observations": []}'
    kinds = (
        "text/plain", "text/json", "application/x-www-form-urlencoded", "multipart/form-data; boundary=x", "application/xml", "application/x-json",
        "application/ld+json",
        "application", "json", "*/*", "application/*", "", "application/json; charset=latin-1", "application/json; charset=utf-16",
        "application/json, text/plain",
        "application/json;" + "x" * 3000, "a" * 3000,
    )  # fmt: skip
    for kind in kinds:
        yield post(f"sent as {kind[:40]!r} ({len(kind)})", "wrong-type", body, {"content-type": kind})
    yield Case("sent as nothing", "wrong-type", "POST", IDENTIFY, body)
    yield post("sent packed", "bad-json", b"\x1f\x8b\x08\x00\x00\x00\x00\x00\x00\x03\xab\x56", {**JSON, "content-encoding": "gzip"})
