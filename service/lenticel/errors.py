"""The errors of Lenticel: each has a stable code, a sentence for the person, and a fix."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from difflib import get_close_matches


class LenticelError(Exception):
    """Something that the asker can mend.

    `code` is stable across releases, `message` says what is wrong, `fix` says what to do, and
    `where` points into the input (a JSON pointer, or "" when the input as a whole is meant).
    """

    code = "error"

    def __init__(self, message: str, fix: str, where: str = "") -> None:
        super().__init__(f"{message} {fix}".strip())
        self.message, self.fix, self.where = message, fix, where

    def at(self, where: str) -> LenticelError:
        """The same error, pointing to `where` (kept if it points somewhere already)."""
        self.where = self.where or where
        return self


class BadQuantity(LenticelError):
    """A number, range or unit that cannot be read."""

    code = "bad-quantity"


class UnknownTerm(LenticelError):
    """A taxon, character or state that the knowledge does not hold."""

    code = "unknown-term"


class BadObservation(LenticelError):
    """An observation that says nothing that can be tested."""

    code = "bad-observation"


class BadQuestion(LenticelError):
    """A question that cannot be asked in this form."""

    code = "bad-question"


class OutsideFragment(LenticelError):
    """The ontology says something in a way for which the engine is not proven; `axioms` names each."""

    code = "outside-fragment"

    def __init__(self, axioms: list[str]) -> None:
        self.axioms = axioms
        super().__init__(
            f"{len(axioms)} axioms lie outside the fragment that can be compiled: " + "; ".join(axioms[:20]),
            "Say them with the constructs listed in DEVELOPERS.md, or take them out.",
        )


class BadSnapshot(LenticelError):
    """A snapshot folder that is missing, damaged, or from another version of Lenticel."""

    code = "bad-snapshot"


class BadRelease(LenticelError):
    """A release that is missing, half written, altered, or from another version of Lenticel."""

    code = "bad-release"


class BadFile(LenticelError):
    """A file to be taken in that is missing, of an unknown form, or not sound."""

    code = "bad-file"


class BadSetting(LenticelError):
    """A setting of the service that does not fit."""

    code = "bad-setting"


class ProofUnavailable(LenticelError):
    """The second opinion was asked for, but its parts are not installed."""

    code = "proof-unavailable"


@dataclass(frozen=True, slots=True, order=True)
class Fault:
    """One fault in a table: file, row (1 is the header), column, the rule broken, what is wrong, what to do."""

    file: str
    row: int
    column: str
    rule: str
    message: str
    fix: str

    def __str__(self) -> str:
        return f"{self.file}:{self.row}: {self.column}: [{self.rule}] {self.message} Fix: {self.fix}"


class FaultyTables(LenticelError):
    """Tables with faults; `faults` holds every one of them, in the order of files and rows."""

    code = "faulty-tables"

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults = sorted(set(faults))
        super().__init__(
            f"{len(self.faults)} fault{'s' * (len(self.faults) != 1)} in the tables.\n" + "\n".join(map(str, self.faults)),
            "Mend each row as its fix says, then check again.",
        )


def suggest(word: str, known: Iterable[str], limit: int = 3) -> str:
    """A sentence that offers up to `limit` known words near `word`, or "" if none is near."""
    near = get_close_matches(word[:80].lower(), list(known), n=limit, cutoff=0.6)
    return f"Did you mean {', '.join(repr(each) for each in near)}?" if near else ""
