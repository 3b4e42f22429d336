"""The process in which strangers' queries run, one at a time, on a store that it can only read: `python -m lenticel.worker STORE MEMORY`.

It speaks in frames over its standard input and output. It bounds itself before it takes the first query; whoever started it kills it when
a query has had its time, and the kernel does so half a second later if that fails.
"""

from __future__ import annotations

import itertools
import os
import resource
import signal
import sys
import threading
import time
from collections.abc import Iterable
from typing import Any, BinaryIO

import pyoxigraph as ox

from lenticel.frames import frame, read_frame
from lenticel.nearest import unknown_terms
from lenticel.sealing import bound, deny_sockets
from lenticel.solutions import ROWS, TRUTHS

STACK = 256 << 20  # bytes; the parser descends once for each opened bracket of a query
GRACE = 0.5  # seconds beyond the deadline after which the kernel ends the process
GRAPH_FORMATS = {
    "ttl": ox.RdfFormat.TURTLE, "nt": ox.RdfFormat.N_TRIPLES, "rdf": ox.RdfFormat.RDF_XML, "jsonld": ox.RdfFormat.JSON_LD,
    "nq": ox.RdfFormat.N_QUADS, "trig": ox.RdfFormat.TRIG,
}  # fmt: skip


class TooMuch(Exception):
    """A result has more rows or bytes than may be sent."""


class Asked:
    """One query, as a frame brings it."""

    def __init__(self, head: dict[str, Any]) -> None:
        self.text: str = head["query"]
        self.prefixes: dict[str, str] = head["prefixes"]
        self.base: str = head["base"]
        self.solution_format, self.graph_format = head["solutions"], head["graphs"]
        self.rows, self.bytes = head["rows"], head["bytes"]
        self.options: dict[str, Any] = {"base_iri": self.base, "prefixes": self.prefixes}
        default, named = head["default_graphs"], head["named_graphs"]
        if default is not None or named is not None:
            self.options["default_graph"] = [ox.NamedNode(each) for each in default or ()]
            self.options["named_graphs"] = [ox.NamedNode(each) for each in named or ()]
        elif head["union"]:
            self.options["use_default_graph_as_union"] = True


def answer(store: Any, head: dict[str, Any]) -> tuple[dict[str, Any], bytes]:
    """Run a query. The head of the answer says how it went (`outcome`), and of what kind the result is."""
    try:
        asked = Asked(head)
        result = store.query(asked.text, **asked.options)
        kind = "graph" if isinstance(result, ox.QueryTriples) else "solutions"
        form = asked.graph_format if kind == "graph" else asked.solution_format
        if form is None:
            return {"outcome": "unacceptable", "kind": kind}, b""
        body, rows = _written(result, form, asked)
    except SyntaxError as error:
        return {"outcome": "syntax", "message": str(error)}, b""
    except TooMuch as error:
        return {"outcome": "too-much", "message": str(error)}, b""
    except MemoryError:
        return {"outcome": "memory"}, b""
    except (OSError, ValueError, RuntimeError) as error:
        return {"outcome": "failed", "message": str(error)[:500]}, b""
    unknown = unknown_terms(store, asked.text, asked.base, asked.prefixes) if rows == 0 else []
    return {"outcome": "done", "kind": kind, "format": form, "rows": rows, "unknown": unknown}, body


def _written(result: Any, form: str, asked: Asked) -> tuple[bytes, int]:
    if isinstance(result, ox.QueryBoolean):
        return TRUTHS[form]("true" if result else "false").encode(), int(bool(result))
    if isinstance(result, ox.QueryTriples):
        triples = list(dict.fromkeys(itertools.islice(result, asked.rows + 1)))
        _few_enough(len(triples), asked.rows)
        body = ox.serialize(triples, format=GRAPH_FORMATS[form], prefixes=asked.prefixes) or b""
        if len(body) > asked.bytes:
            raise TooMuch(f"The answer exceeds {asked.bytes} bytes.")
        return body, len(triples)
    names = [each.value for each in result.variables]
    counted = itertools.count(1)

    def rows() -> Iterable[list[Any]]:
        for row in result:
            _few_enough(next(counted), asked.rows)
            yield [row[place] for place in range(len(names))]

    return _joined(ROWS[form](names, rows()), asked.bytes), next(counted) - 1


def _few_enough(rows: int, most: int) -> None:
    if rows > most:
        raise TooMuch(f"The answer has more than {most} rows.")


def _joined(parts: Iterable[str], most: int) -> bytes:
    body = bytearray()
    for part in parts:
        body += part.encode("utf-8", "replace")
        if len(body) > most:
            raise TooMuch(f"The answer exceeds {most} bytes.")
    return bytes(body)


def serve(store: Any, source: BinaryIO, sink: BinaryIO) -> None:
    """Answer queries until there are no more."""
    while (received := read_frame(source)) is not None:
        head, _ = received
        signal.setitimer(signal.ITIMER_REAL, head["seconds"] + GRACE)
        began = time.process_time()
        head, body = answer(store, head)
        signal.setitimer(signal.ITIMER_REAL, 0)
        head["cpu"] = time.process_time() - began
        head["peak"] = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
        sink.write(frame(head, body))
        sink.flush()


def main() -> None:
    """Open the store, give up what is not needed, tell that it is ready, and serve."""
    source, sink = sys.stdin.buffer, os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # nothing but frames goes to the parent
    store = ox.Store.read_only(sys.argv[1])
    bool(store.query("ASK { ?s ?p ?o }", use_default_graph_as_union=True))
    bound(int(sys.argv[2]), STACK)
    sealed = deny_sockets()
    sink.write(frame({"outcome": "ready", "sealed": sealed}))
    sink.flush()
    threading.stack_size(STACK)
    thread = threading.Thread(target=serve, args=(store, source, sink))
    thread.start()
    thread.join()


if __name__ == "__main__":
    main()
