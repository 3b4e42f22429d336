"""What a request to the endpoint asks: the operations of the SPARQL 1.1 Protocol (W3C Recommendation, 21 March 2013, section 2)."""

from __future__ import annotations

from dataclasses import dataclass
from urllib.parse import parse_qsl, urljoin

from lenticel.hints import place_of, updates
from lenticel.negotiate import Form, chosen, named, sent_as
from lenticel.queries import Query
from lenticel.refused import Refused
from lenticel.tokens import keywords, readable

MOST_TEXT = 64 << 10  # bytes
SHORTEST = 0.05  # seconds
FORM, DIRECT, UPDATE = "application/x-www-form-urlencoded", "application/sparql-query", "application/sparql-update"
SOLUTIONS = (
    Form("json", "application/sparql-results+json", ("application/json",)),
    Form("xml", "application/sparql-results+xml", ("application/xml", "text/xml")),
    Form("csv", "text/csv", ("text/plain",), "; charset=utf-8; header=present"),
    Form("tsv", "text/tab-separated-values", (), "; charset=utf-8"),
)
GRAPHS = (  # SPARQLWrapper says in words of its own which form it wants, whatever it accepts
    Form("ttl", "text/turtle", ("application/x-turtle", "application/turtle"), "; charset=utf-8", ("turtle",)),
    Form("nt", "application/n-triples", ("text/plain",), words=("n3",)),
    Form("rdf", "application/rdf+xml", ("application/xml", "text/xml"), words=("xml", "rdf+xml")),
    Form("jsonld", "application/ld+json", ("application/json",), words=("json", "json-ld")),
    Form("nq", "application/n-quads", words=("nquads", "n-quads")),  # of quads all lie in the default graph: what a query makes has no other
    Form("trig", "application/trig", (), "; charset=utf-8"),
)
_WAYS = "Send it as ?query=..., as a form, or as the body with content-type application/sparql-query."


@dataclass(frozen=True, slots=True)
class Request:
    """A request as the protocol reads it; `query` is None where the service is asked to describe itself."""

    query: str | None
    default_graphs: tuple[str, ...] | None
    named_graphs: tuple[str, ...] | None
    seconds: float | None
    format: str


def read_request(method: str, address: bytes, content_type: str, body: bytes, ceiling: float) -> Request:
    """Read a request.

    Args:
        method: GET or POST.
        address: the query part of the address.
        content_type: the header of the body, or "".
        body: the body.
        ceiling: the longest deadline in seconds.

    Raises:
        Refused: `bad-query-request`, `query-too-large` or `read-only`.
    """
    given = _fields(address, "address")
    kind, direct = sent_as(content_type), None
    if method == "POST":
        if kind not in (FORM, DIRECT, UPDATE):
            raise Refused("bad-query-request", "The body is neither a form nor a query in UTF-8.", _WAYS)
        if kind == UPDATE:
            raise _read_only()
        if kind == FORM:
            given += _fields(body, "form")
        else:
            direct = _text(body)
    values: dict[str, list[str]] = {}
    for name, value in given:
        values.setdefault(name, []).append(value)
    if values.keys() & {"update", "using-graph-uri", "using-named-graph-uri"}:
        raise _read_only()
    queries = [*values.get("query", ()), *([] if direct is None else [direct])]
    if len(queries) > 1:
        raise Refused("bad-query-request", f"{len(queries)} queries are given.", "Send one at a time.")
    if not queries and (method == "POST" or values.keys() & {"default-graph-uri", "named-graph-uri", "timeout"}):
        raise Refused("bad-query-request", "There is no query.", _WAYS)
    if queries and len(queries[0].encode("utf-8", "replace")) > MOST_TEXT:
        raise Refused("query-too-large", f"The query is longer than {MOST_TEXT} bytes.", "Ask for less at a time.")
    graphs = {name: tuple(values[name]) if name in values else None for name in ("default-graph-uri", "named-graph-uri")}
    seconds = _seconds(values.get("timeout", []), ceiling)
    return Request(queries[0] if queries else None, graphs["default-graph-uri"], graphs["named-graph-uri"], seconds, values.get("format", [""])[-1])


def _fields(text: bytes, where: str) -> list[tuple[str, str]]:
    try:
        return parse_qsl(text.decode("ascii"), keep_blank_values=True, errors="strict", max_num_fields=1000)
    except ValueError:
        raise Refused("bad-query-request", f"The {where} is not in UTF-8 with percent signs, or has too many fields.", _WAYS) from None


def _text(body: bytes) -> str:
    try:
        return body.decode("utf-8")
    except UnicodeDecodeError:
        raise Refused("bad-query-request", "The query is not in UTF-8.", _WAYS) from None


def _read_only() -> Refused:
    return Refused("read-only", "This is an update.", "Ask with SELECT, ASK, CONSTRUCT or DESCRIBE.")


def _seconds(given: list[str], ceiling: float) -> float | None:
    if not given:
        return None
    try:
        seconds = float(given[-1])
    except ValueError:
        seconds = 0.0
    if not SHORTEST <= seconds <= ceiling:
        raise Refused("bad-query-request", "The timeout does not fit.", f"Give seconds from {SHORTEST:g} to {ceiling:g}.")
    return seconds


def query_of(request: Request, accept: str, base: str) -> Query:
    """The query of a request, with the formats that its client takes.

    Raises:
        Refused: `not-acceptable`, `no-federation`, `read-only`, or `bad-query-request`.
    """
    text = readable(request.query or "")
    words = keywords(text)
    if "SERVICE" in words:
        raise Refused("no-federation", "The query calls another service.", "Take SERVICE out; ask each service by itself, and join the answers.")
    if words & {"INSERT", "DELETE", "LOAD", "CLEAR", "CREATE", "DROP", "COPY", "MOVE", "ADD", "WITH"} and updates(text):
        raise _read_only()
    solutions, graphs = forms_for(request.format, accept)
    default, named_graphs = ([urljoin(base, each) for each in given] if given is not None else None for given in (request.default_graphs, request.named_graphs))
    return Query(
        text,
        solutions.name if solutions else None,
        graphs.name if graphs else None,
        tuple(default) if default is not None else None,
        tuple(named_graphs) if named_graphs is not None else None,
        union="FROM" not in words,
    )


def forms_for(word: str, accept: str) -> tuple[Form | None, Form | None]:
    """The form for rows and the form for graphs that a client takes.

    Args:
        word: the short name of a form, or media types as an Accept header has them; "" to go by that header.
        accept: the Accept header.

    Raises:
        Refused: `not-acceptable`; it takes neither.
    """
    by_word = word and "/" not in word
    found = (named(word, SOLUTIONS), named(word, GRAPHS)) if by_word else (chosen(word or accept, SOLUTIONS), chosen(word or accept, GRAPHS))
    if found == (None, None):
        raise not_acceptable()
    return found


def not_acceptable(kind: str = "") -> Refused:
    """That none of the forms is accepted, with those that there are for a kind of result."""
    forms = [form.media_type for each, table in (("solutions", SOLUTIONS), ("graph", GRAPHS)) if kind in ("", each) for form in table]
    return Refused("not-acceptable", "Nothing that the request accepts can be given.", f"Accept one of: {', '.join(forms)}.", forms=forms)


def content_type(kind: str, form: str) -> str:
    """The header of an answer."""
    found = named(form, GRAPHS if kind == "graph" else SOLUTIONS)
    assert found
    return found.content_type


def explained(error: Refused, query: str, prefixes: dict[str, str]) -> Refused:
    """The same refusal in words for the person: where reading stopped and why; or which forms there are."""
    if error.code == "not-acceptable":
        return not_acceptable(str(error.more.get("kind", "")))
    if error.code != "bad-query":
        return error
    place = place_of(query, error.message, prefixes)
    detail = f"Reading stopped at line {place.line}, column {place.column}."
    fix = place.hint or "Mend the query there; see https://www.w3.org/TR/sparql11-query/ for its grammar."
    return Refused("bad-query", detail, fix, line=place.line, column=place.column, near=place.near)
