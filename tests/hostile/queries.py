"""Queries that mean harm: each ends an engine, starves it, floods it, or has it call elsewhere, unless somebody sees to it.

`{url}` stands for a listener on loopback that nobody may ever reach.
"""

from __future__ import annotations

LONG = 64 << 10


def _nested(opening: str, closing: str, before: str, middle: str, after: str, limit: int = LONG) -> str:
    """As deep as a query of the longest length can be."""
    depth = (limit - len(before) - len(middle) - len(after) - 64) // (len(opening) + len(closing))
    return before + opening * depth + middle + closing * depth + after


WIDE = "?a ?b ?c . ?d ?e ?f . ?g ?h ?i"
CROSSES = {
    "count of a cross product": f"SELECT (COUNT(*) AS ?n) {{ {WIDE} }}",
    "cross product, streamed": f"SELECT * {{ {WIDE} }}",
    "cross product, sorted": f"SELECT * {{ {WIDE} }} ORDER BY ?i ?a",
    "cross product, distinct": f"SELECT DISTINCT ?a ?d ?g {{ {WIDE} }}",
    "cross product, grouped": f"SELECT ?a ?d (COUNT(*) AS ?n) {{ {WIDE} }} GROUP BY ?a ?d ?g",
    "cross product, concatenated": f"SELECT (GROUP_CONCAT(CONCAT(STR(?a), STR(?d), STR(?g))) AS ?n) {{ {WIDE} }}",
    "cross product as a graph": f"CONSTRUCT {{ ?a ?b ?i }} WHERE {{ {WIDE} }}",
    "cross product that is never true": f"ASK {{ {WIDE} FILTER(STR(?a) = 'no' && STR(?i) = 'no') }}",
    "cross product, far down": f"SELECT * {{ {WIDE} }} OFFSET 2000000000 LIMIT 1",
    "described in a cross product": f"DESCRIBE ?a ?d ?g {{ {WIDE} }}",
    "values crossed": "SELECT (COUNT(*) AS ?n) { " + " ".join(f"VALUES ?v{i} {{ {' '.join(map(str, range(60)))} }}" for i in range(8)) + " }",
    "optional chain": "SELECT * { ?s0 ?p0 ?o0 " + " ".join(f"OPTIONAL {{ ?s{i} ?p{i} ?o{i - 1} }}" for i in range(1, 1200)) + " }",
    "union chain": "SELECT (COUNT(*) AS ?n) { " + " UNION ".join("{ ?s ?p ?o . ?o ?q ?r }" for _ in range(1500)) + " }",
    "minus of everything": "SELECT * { ?a ?b ?c MINUS { ?d ?e ?f . ?g ?h ?c . FILTER(STR(?d) > STR(?g)) } }",
    "exists in exists": "SELECT * { ?a ?b ?c FILTER EXISTS { ?d ?e ?f FILTER NOT EXISTS { ?g ?h ?i FILTER(STR(?g) = STR(?a)) } } } ORDER BY ?c",
    "paths to everywhere": "SELECT (COUNT(*) AS ?n) { ?a (!<x>)* ?b . ?c (!<x>)* ?d }",
    "paths there and back": "SELECT * { ?a ((!<x>)|^(!<x>))+ ?b } ORDER BY ?b",
    "paths one after another": "SELECT (COUNT(*) AS ?n) { ?a !<x>/^!<x>/!<x>/^!<x>/!<x>/^!<x> ?b }",
    "paths that stay where they are": "SELECT (COUNT(*) AS ?n) { ?a <x>? ?b . ?c <x>? ?d . ?e <x>? ?f }",
    "subqueries crossed": "SELECT (COUNT(*) AS ?n) { " + " ".join(f"{{ SELECT ?x{i} {{ ?x{i} ?p{i} ?o{i} }} ORDER BY ?o{i} }}" for i in range(4)) + " }",
    "graphs crossed": "SELECT (COUNT(*) AS ?n) { GRAPH ?g { ?a ?b ?c } GRAPH ?h { ?d ?e ?f } }",
    "filters over a cross product": "SELECT * { ?a ?b ?c . ?d ?e ?f FILTER(REGEX(CONCAT(STR(?c), STR(?f)), 'zzz.*yyy.*xxx')) }",
    "joined on nothing but inequality": "SELECT (COUNT(*) AS ?n) { ?a ?b ?c . ?d ?e ?f FILTER(?a != ?d && STR(?c) < STR(?f)) }",
    "aggregates of everything": "SELECT ?c (SAMPLE(?a) AS ?x) (MAX(STR(?d)) AS ?y) (COUNT(DISTINCT ?f) AS ?z) { ?a ?b ?c . ?d ?e ?f } GROUP BY ?c",
}
BOMBS = {
    "regex of a million states": "SELECT * { ?s ?p ?o FILTER(REGEX(STR(?o), '(((a{1,100}){1,100}){1,100})')) }",
    "regex of many turns": "SELECT * { ?s ?p ?o . ?a ?b ?c FILTER(REGEX(CONCAT(STR(?o), STR(?c)), '(a+)+b(c|d|e)*f$', 'i')) }",
    "regex of classes": "SELECT * { ?s ?p ?o FILTER(REGEX(STR(?o), '" + "\\\\p{L}{1,900}" * 20 + "')) }",
    "regex made of the data": "SELECT * { ?s ?p ?o . ?a ?b ?c FILTER(REGEX(STR(?o), STR(?c))) }",
    "text doubled": "SELECT (STRLEN(?z) AS ?n) { " + "BIND('0123456789abcdef' AS ?v0) "
    + " ".join(f"BIND(CONCAT(?v{i}, ?v{i}) AS ?v{i + 1})" for i in range(40)) + " BIND(?v40 AS ?z) }",
    "text replaced by more": "SELECT (STRLEN(?z) AS ?n) { BIND('aaaaaaaaaaaaaaaa' AS ?v0) "
    + " ".join(f"BIND(REPLACE(?v{i}, 'a', 'aaaaaaaaaaaaaaaa') AS ?v{i + 1})" for i in range(12)) + " BIND(?v12 AS ?z) }",
    "text encoded again and again": "SELECT (STRLEN(?z) AS ?n) { BIND('%%%%%%%%' AS ?v0) "
    + " ".join(f"BIND(ENCODE_FOR_URI(CONCAT(?v{i}, ?v{i})) AS ?v{i + 1})" for i in range(30)) + " BIND(?v30 AS ?z) }",
    "all text in one": "SELECT (GROUP_CONCAT(?t) AS ?all) { ?a ?b ?c . ?d ?e ?f BIND(CONCAT(STR(?a), STR(?c), STR(?d), STR(?f)) AS ?t) }",
    "large rows": "SELECT (CONCAT(?x, ?x, ?x, ?x, ?x, ?x, ?x, ?x) AS ?y) { ?s ?p ?o BIND('" + "x" * 8000 + "' AS ?x) }",
    "many columns": "SELECT * { ?s ?p ?o " + " ".join(f"BIND(STR(?o) AS ?v{i})" for i in range(1500)) + " }",
    "hashes of everything": "SELECT (MAX(SHA512(CONCAT(SHA512(STR(?a)), SHA512(STR(?d))))) AS ?n) { ?a ?b ?c . ?d ?e ?f }",
    "numbers without end": "SELECT (?x * ?x * ?x * ?x AS ?y) { BIND(" + "9" * 5000 + " AS ?x) }",
    "decimals without end": "SELECT (1.0 / " + "3" * 20000 + ".7 AS ?y) {}",
    "new nodes without end": "CONSTRUCT { [] <p> [ <q> [] ] } WHERE { ?a ?b ?c . ?d ?e ?f }",
    "random order": "SELECT * { ?a ?b ?c . ?d ?e ?f } ORDER BY RAND()",
    "everything in one list": "SELECT * { ?s ?p ?o FILTER(?o IN (" + ", ".join(str(i) for i in range(9000)) + ")) . ?a ?b ?c }",
}  # fmt: skip
NESTS = {
    "groups": _nested("{", "}", "SELECT * ", "", ""),
    "brackets": _nested("(", ")", "SELECT * { FILTER", "1", " }"),
    "negations": "SELECT * { FILTER(" + "!" * (LONG - 40) + "true) }",
    "minus signs": "SELECT (1" + "-1" * ((LONG - 60) // 2) + " AS ?x) {}",
    "plus signs before": "SELECT (" + "+ " * ((LONG - 60) // 2) + "1 AS ?x) {}",
    "nodes in nodes": _nested("[ <p> ", "]", "SELECT * { ?s <p> ", "1", " }"),
    "lists in lists": _nested("(", ")", "SELECT * { ?s <p> ", "1", " }"),
    "paths in brackets": _nested("(", ")", "SELECT * { ?s ", "<p>", " ?o }"),
    "paths turned round": "SELECT * { ?s " + "^" * (LONG - 60) + "<p> ?o }",
    "paths repeated": "SELECT * { ?s " + "(" * 20000 + "<p>" + ")*" * 20000 + " ?o }",
    "path alternatives": "SELECT * { ?s " + "|".join("<p>" for _ in range(15000)) + " ?o }",
    "optionals": _nested("OPTIONAL{?a ?b ?c ", "}", "SELECT * {", "", "}"),
    "unions": _nested("{{} UNION ", "}", "SELECT * {", "{}", "}"),
    "subqueries": _nested("{SELECT * ", "}", "SELECT * {", "{}", "}"),
    "exists": _nested("FILTER EXISTS{", "}", "SELECT * {", "", "}"),
    "graphs": _nested("GRAPH ?g{", "}", "SELECT * {", "", "}"),
    "minus": _nested("MINUS{", "}", "SELECT * {", "", "}"),
    "functions": _nested("STR(", ")", "SELECT (", "1", " AS ?x) {}"),
    "ifs": _nested("IF(true,", ",1)", "SELECT (", "1", " AS ?x) {}"),
    "ors": "SELECT * { FILTER(" + "||".join("true" for _ in range(10000)) + ") }",
    "comparisons": "SELECT * { FILTER(" + "(1=" * 12000 + "1" + ")" * 12000 + ") }",
    "opened and never closed": "SELECT * " + "{" * (LONG - 20),
    "triples about triples": _nested("<<", " <p> <o>>>", "SELECT * { ?s <p> ", "<a>", " }"),
}
CALLS = {
    "call": "SELECT * { SERVICE <{url}> { ?s ?p ?o } }",
    "silent call": "SELECT * { SERVICE SILENT <{url}> { ?s ?p ?o } }",
    "call to a variable": "SELECT * { BIND(<{url}> AS ?x) SERVICE ?x { ?s ?p ?o } }",
    "call in odd letters": "SELECT * { sErViCe <{url}> { ?s ?p ?o } }",
    "call behind a comment": "SELECT * { SERVICE # <x> {\n <{url}> { ?s ?p ?o } }",
    "call in an exists": "ASK { FILTER EXISTS { SERVICE <{url}> { ?s ?p ?o } } }",
    "call in escapes": "SELECT * { \\u0053\\u0045RVICE <{url}> { ?s ?p ?o } }",
    "from another site": "SELECT * FROM <{url}> { ?s ?p ?o }",
    "named from another site": "SELECT * FROM NAMED <{url}> { GRAPH ?g { ?s ?p ?o } }",
    "from a file": "SELECT * FROM <file:///etc/passwd> { ?s ?p ?o }",
    "load": "LOAD <{url}>",
    "insert": "INSERT DATA { <a> <b> <c> }",
    "insert behind a query": "SELECT * {} ; INSERT DATA { <a> <b> <c> }",
    "drop": "DROP ALL",
}
CORPUS = {f"{kind}: {name}": query for kind, table in (("cross", CROSSES), ("bomb", BOMBS), ("nest", NESTS), ("call", CALLS)) for name, query in table.items()}
