"""What is known of the statements themselves: who wrote them into the tables and when, and who read them back against their source."""

from __future__ import annotations

from dataclasses import dataclass

VERDICTS = ("right", "unclear", "wrong")  # from light to grave


@dataclass(frozen=True, slots=True)
class Recorded:
    """Who wrote the statements on a taxon into the tables, and when: all of them, or those on one character, from one source."""

    taxon: str
    character: str
    source: str
    by: str
    date: str

    @property
    def id(self) -> str:
        """Taxon, character and source, with a hyphen for any."""
        return recorded_key(self.taxon, self.character, self.source)


def recorded_key(taxon: str, character: str = "", source: str = "") -> str:
    """The identity of a row of the table `recorded`; a hyphen, which is no identifier, stands for any."""
    return f"{taxon}.{character or '-'}.{source or '-'}"


def recorded_keys(taxon: str, character: str, source: str) -> tuple[str, ...]:
    """The identities of the rows that fit a statement, the closest first; one that names its source comes before one that names its character."""
    return tuple(recorded_key(taxon, *within) for within in ((character, source), ("", source), (character, ""), ("", "")))


@dataclass(frozen=True, slots=True)
class Review:
    """Somebody held a statement against its source.

    `wording` is the fingerprint of the statement as it was read (`Statement.wording`): when the statement changes, what was
    read is no longer what stands there. `correction` is the value that the source has instead, as the tables would spell it.
    """

    statement: str
    wording: str
    verdict: str
    correction: str
    note: str
    by: str
    date: str

    @property
    def id(self) -> str:
        """The statement as it was worded, the day, and who read it."""
        return f"{self.statement}.{self.wording}.{self.date}.{self.by}"

    @property
    def weight(self) -> tuple[str, int, str]:
        """Orders the reviews of one wording: a later day outweighs an earlier one, and on one day the graver verdict the lighter."""
        return self.date, VERDICTS.index(self.verdict), self.by
