"""What an endpoint says of itself: what its dataset says, where it is reached, and its saved questions, ready to be run.

Each question is a SPARQL-based executable (SHACL Advanced Features, W3C Working Group Note of 8 June 2017, section 5: `sh:select`, `sh:ask`,
`sh:construct`, `sh:prefixes`), under the address at which it is answered, with the endpoint that it is meant for as its target.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from lenticel.saved import XSD, Saved
from lenticel.terms import iri_text, literal_text
from lenticel.tokens import keywords

DESCRIPTION = """CONSTRUCT {{ ?s ?p ?o }} WHERE {{
  {{ ?s ?p ?o }}
  UNION {{ ?s a sd:Service . BIND(sd:endpoint AS ?p) BIND({endpoint} AS ?o) }}
  UNION {{ ?service sd:defaultDataset ?s . BIND(void:sparqlEndpoint AS ?p) BIND({endpoint} AS ?o) }}
  UNION {{ VALUES (?s ?p ?o) {{
{rows}
  }} }}
}}
"""
SCHEMA = "https://schema.org/"


def description(address: str, questions: Iterable[Saved], prefixes: Mapping[str, str]) -> str:
    """The query whose answer describes an endpoint, for its default graph alone.

    Args:
        address: where the service is reached, without a slash at the end.
        questions: the saved questions, each with a query that runs as it stands.
        prefixes: those that a query need not declare.

    Raises:
        NoTerm: the address holds a character that no IRI may hold.
    """
    endpoint = iri_text(f"{address}/sparql")
    rows = [*_prefixes(address, prefixes), *(row for each in questions for row in _question(address, endpoint, each))]
    return DESCRIPTION.format(endpoint=endpoint, rows="\n".join(f"    ({' '.join(row)})" for row in rows))


def _question(address: str, endpoint: str, question: Saved) -> Iterator[tuple[str, str, str]]:
    """The triples of a saved question."""
    form = _form(question.query)
    subject = iri_text(f"{address}/v1/questions/{question.name}")
    yield subject, "rdf:type", "sh:SPARQLExecutable"
    yield subject, "rdf:type", f"sh:SPARQL{form}Executable"
    yield subject, "rdfs:label", literal_text(question.title)
    yield subject, "rdfs:comment", literal_text(question.about)
    yield subject, f"sh:{form.lower()}", literal_text(question.query)
    yield subject, "sh:prefixes", iri_text(f"{address}/prefixes")
    yield subject, iri_text(f"{SCHEMA}target"), endpoint


def _form(query: str) -> str:
    """Select, Ask or Construct: which form a query has."""
    words = keywords(query)
    return next((form for form in ("Construct", "Ask") if form.upper() in words), "Select")


def _prefixes(address: str, prefixes: Mapping[str, str]) -> Iterator[tuple[str, str, str]]:
    """The triples that declare prefixes (SHACL, section 5.2.1)."""
    for prefix, iri in prefixes.items():
        declared = iri_text(f"{address}/prefixes#{prefix}")
        yield iri_text(f"{address}/prefixes"), "sh:declare", declared
        yield declared, "rdf:type", "sh:PrefixDeclaration"
        yield declared, "sh:prefix", literal_text(prefix)
        yield declared, "sh:namespace", literal_text(iri, f"{XSD}anyURI")
