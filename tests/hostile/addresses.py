"""Methods, queries and paths that mean nothing here."""

from __future__ import annotations

import base64
from collections.abc import Iterator
from urllib.parse import quote

from tests.hostile.case import IDENTIFY, Case, link


def methods() -> Iterator[Case]:
    """Methods that a resource does not take."""
    for path in ("/", "/v1/taxa", "/v1/taxa/nail", "/v1/characters/head", "/v1/compare", "/problems/bad-json", "/healthz", "/openapi.json"):
        for method in ("POST", "PUT", "DELETE"):
            yield Case(f"{method} {path}", "not-allowed", method, path)
    for method in ("PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "PROPFIND", "QUERY", "G", "X" * 300):
        yield Case(f"{method[:20]} on identify", "not-allowed", method)
    preflight = {"origin": "https://example.org", "access-control-request-method": "POST"}
    for header, value in (("method", "DELETE"), ("method", "x" * 3000), ("headers", "authorization"), ("headers", "x" * 3000), ("private-network", "true")):
        headers = {**preflight, f"access-control-request-{header}": value}
        yield Case(f"a preflight for the {header} {value[:20]}", "not-allowed", "OPTIONS", IDENTIFY, headers=headers, status=400)


def queries() -> Iterator[Case]:
    """Query strings that misuse parameters."""
    misfits = (
        "wild=maybe", "wild=", "wild=2", "wild=true&wild=false", "wild=true&wild=true", "wild[]=true", "every_rank=perhaps", "seem=thread=present",
        "Seen=thread=present",
        "seen[]=thread=present", "seen%00=thread=present", "observations=thread", "season=winter", "q=1", "=", "=thread", "seen=thread%3Dpresent&x=1",
        "x" * 5000 + "=1",
        "seen=" + "w" * 601, "seen=thread=" + "w" * 60_000, "&".join(["seen=thread=present"] * 201), "&".join(["seen=thread=present"] * 3000),
        "&".join(f"p{each}=1" for each in range(5000)),
        "__proto__=1", "%ff%fe=1", "\u202e=1",
    )  # fmt: skip
    for query in misfits:
        yield link(f"the query {query[:40]!r} ({len(query)})", "bad-request", query)
    seen = {
        "thraed=present": "unknown-term", "thread=presnt": "unknown-term", "thread=present=absent": "unknown-term", "thread=%00": "unknown-term",
        "thread=%ff%fe": "unknown-term",
        "thread=%E2%80%AEpresent": "unknown-term", "thread=%ED%A0%80": "unknown-term", "thread%00=present": "unknown-term",
        "th%0Aread=present": "unknown-term",
        "thread": "bad-observation", "": "bad-observation", "=": "bad-observation", "=present": "bad-observation", "thread=": "bad-observation",
        "%20=%20": "bad-observation",
        "length=8-5": "bad-quantity", "length=NaN": "bad-quantity", "length=1e400": "bad-quantity", "length=" + "9" * 500: "bad-quantity",
        "length=1/0": "bad-quantity",
        "length=99999": "bad-quantity", "turns=2.5": "bad-quantity", "stocked=13": "bad-quantity", "length=5+parsec": "bad-quantity",
        "%ff": "bad-observation",
    }  # fmt: skip
    for query, code in seen.items():
        yield link(f"seen {query[:40]!r} ({len(query)})", code, f"seen={query}")
    nails = "taxa=wire-nail&taxa=rivet"
    compared = {
        "": "bad-request", "taxa=": "unknown-term", "taxa=nail": "bad-question", "taxa=nail&taxa=nail": "bad-question",
        "taxa=nail&taxa=nothing": "unknown-term",
        "taxa=nail&taxa=wire-nail": "bad-question", "taxa=nail|rivet": "unknown-term", "taxa=" + "w" * 201: "bad-request",
        "taxa=" + "w" * 200: "unknown-term",
        "&".join(["taxa=nail"] * 21): "bad-request",
        "&".join(["taxa=nail"] * 20): "bad-question", nails + "&season=monsoon": "bad-question", nails + "&season=WINTER": "bad-question",
        nails + "&season=" + "w" * 3000: "bad-request", nails + "&season=winter&season=spring": "bad-request", nails + "&wild=true": "bad-request",
        nails + "&season=%00": "bad-question",
        "taxa=%ff&taxa=%fe": "unknown-term", "taxa[]=nail": "bad-request",
    }  # fmt: skip
    for query, code in compared.items():
        yield link(f"compare with {query[:60]!r} ({len(query)})", code, query, "/v1/compare")
    for path in ("/v1/taxa", "/v1/taxa/nail", "/v1/stats", "/v1/characters/head"):
        yield link(f"{path} with a parameter", "bad-request", "format=xml", path)


def places() -> Iterator[Case]:
    """Cursors, releases and languages that are none, or of another place."""
    for release in ("0" * 15, "0" * 65, "A" * 16, "x", "..%2f..", "%00" * 16, "%ff", "0" * 3000, "current", "*"):
        yield link(f"the release {release[:20]} ({len(release)})", "bad-request", f"release={release}", "/v1/taxa")
    for path in ("/v1/taxa", "/v1/identify", "/v1/stats", "/v1/releases", "/taxa", "/lenticel/taxon/nail"):
        for release in ("0" * 16, "f" * 64):
            yield link(f"the release {release[:4]} at {path}", "unknown-release", f"release={release}", path)
    for lang in ("_", "fr,de", "x" * 9, "%00", "%ff", "w" * 3000, "-", "fr-"):
        yield link(f"the language {lang[:20]} ({len(lang)})", "bad-request", f"lang={lang}", "/v1/taxa")
    for cursor in ("x", "....", "%00", "%ff", "A" * 200, "A" * 201, "A" * 3000, "-_-_", _cursor("0" * 16, "x"), _cursor("0" * 16, "5" * 5000)):
        yield link(f"the cursor {cursor[:20]} ({len(cursor)})", "bad-request", f"cursor={cursor}", "/v1/taxa")
    for path in ("/v1/taxa", "/v1/characters", "/v1/sources", "/v1/statements", "/v1/lookalikes", "/v1/disagreements"):
        yield link(f"a cursor of another release at {path}", "stale-cursor", f"cursor={_cursor('0' * 16, 5)}", path)


def _cursor(release: str, place: object) -> str:
    return base64.urlsafe_b64encode(f"{release}.00000000.{place}".encode()).decode().rstrip("=")


def paths() -> Iterator[Case]:
    """Keys that name nothing, and addresses that do not exist."""
    keys = (
        "nothing", "%00", "%0a", "%ff", "%ED%A0%80", "%E2%80%AEnail", "nail%20%3Cb%3E", "nai%E2%83%A3l", "'--", "*", "w" * 200, "..%2e", "~",
        "%F0%9F%8C%B3", quote("nail\u200b"), "0", "NaN", "null", "[object%20Object]",
    )  # fmt: skip
    for table in ("taxa", "characters", "sources", "statements"):
        for key in keys:
            yield Case(f"the key {key[:20]} of {table}", "unknown-term", path=f"/v1/{table}/{key}", status=404)
        yield Case(f"a key of 60,000 letters of {table}", "bad-request", path=f"/v1/{table}/{'w' * 60_000}")
    for key in (each for each in keys if each != "..%2e"):  # which a client takes for the folder above
        yield Case(f"the word {key[:20]} of the vocabulary", "unknown-term", path=f"/lenticel/vocabulary/{key}", status=404)
    for accept in ("image/png", "text/html;q=0", "*/*;q=0", "text/turtle;q=0.0000001", "nonsense", ",,;;q=,", "*/turtle", "x" * 3000):
        yield Case(f"a form that there is not: {accept[:20]}", "not-acceptable", path="/lenticel/vocabulary", headers={"accept": accept})
    yield Case("an unknown problem", "unknown-term", path="/problems/nothing", status=404)
    addresses = (
        "/nothing", "/v1", "/v1/", "/v1/taxa/", "/v2/taxa", "/V1/TAXA", "/v1/taxa/nail/", "/v1/taxa/nail/rivet", "/v1/taxa/a%2Fb", "/v1//taxa",
        "/v1/taxa%2Fnail/x", "/.env", "/%2e%2e/%2e%2e/etc/passwd",
        "/docs", "/redoc", "/v1/identify/1", "/favicon.ico", "/" + "w" * 60_000, "/openapi.json/", "/%00", "/v1/statement",
    )  # fmt: skip
    for address in addresses:
        yield Case(f"the address {address[:40]} ({len(address)})", "not-found", path=address)
