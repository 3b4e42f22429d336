"""Whether each value of one JSON schema fits another, and what in the two schemas says that it does not."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

Schema = Mapping[str, Any]

UPPER = ("maximum", "exclusiveMaximum", "maxLength", "maxItems", "maxProperties")
LOWER = ("minimum", "exclusiveMinimum", "minLength", "minItems", "minProperties")
SAME = ("pattern", "format", "multipleOf", "uniqueItems")
KINDS = ("null", "boolean", "integer", "number", "string", "array", "object")


@dataclass
class Fitting:
    """Compares schemas of two documents, each of which may refer to the components of its own.

    It is built for one direction: the values of the schemas of `inner` are held against the schemas of `outer`. Where the two may be
    read in one way only, it says what is wrong; where a value may take several forms, it says that none takes it.

    Args:
        inner: the document of the schemas whose values must fit.
        outer: the document of the schemas that they must fit.
        inner_is_old: whether `inner` is the older one; it decides which of two differing lists of properties has lost one.
    """

    inner: Schema
    outer: Schema
    inner_is_old: bool
    _seen: dict[tuple[int, int], tuple[Schema, Schema]] = field(default_factory=dict)  # by identity, which holds as long as the schemas are kept here

    def faults(self, inner: Schema, outer: Schema, where: str) -> Iterator[str]:
        """What keeps values of the inner schema out of the outer one, each with its place; nothing if all fit."""
        wide = list(_forms(outer, self.outer))
        for form in _forms(inner, self.inner):
            yield from self._form(form, wide, where)

    def _form(self, form: Schema, wide: list[Schema], where: str) -> Iterator[str]:
        """What keeps values of one form out of all the forms there are."""
        taking = [each for each in wide if _kinds(form) <= _kinds(each)]
        if not taking:
            yield f"{where}: {_named(form)} is not among {', '.join(map(_named, wide))}"
        elif len(taking) == 1:
            yield from self._values(form, taking[0], where)
        else:
            found = [list(Fitting(self.inner, self.outer, self.inner_is_old, dict(self._seen))._values(form, each, where)) for each in taking]
            if all(found):
                yield from min(found, key=len)

    def _values(self, inner: Schema, outer: Schema, where: str) -> Iterator[str]:
        pair = (id(inner), id(outer))
        if pair in self._seen:
            return  # it was told where the two were met first, or is being told above
        self._seen[pair] = (inner, outer)
        yield from _limits(inner, outer, where)
        yield from self._properties(inner, outer, where)
        for key in ("items", "additionalProperties"):
            narrow, wide = inner.get(key, {}), outer.get(key, {})
            if isinstance(wide, Mapping) and wide and narrow is not False:
                yield from self.faults(narrow if isinstance(narrow, Mapping) else {}, wide, f"{where}/*")
            elif wide is False and narrow and "properties" not in inner:
                yield f"{where}: no longer takes what had no name of its own"
        for index, (narrow, wide) in enumerate(zip(inner.get("prefixItems", ()), outer.get("prefixItems", ()), strict=False)):
            yield from self.faults(narrow, wide, f"{where}/{index}")

    def _properties(self, inner: Schema, outer: Schema, where: str) -> Iterator[str]:
        mine, others = inner.get("properties", {}), outer.get("properties", {})
        before, after = (mine, others) if self.inner_is_old else (others, mine)
        yield from (f"{where}/{name}: is gone" for name in before if name not in after)
        for name in outer.get("required", ()):
            if name not in inner.get("required", ()) and (name in mine or self.inner_is_old):
                yield f"{where}/{name}: {'has become required' if self.inner_is_old else 'may be left out'}"
        for name in mine:
            if name in others:
                yield from self.faults(mine[name], others[name], f"{where}/{name}")


def _limits(inner: Schema, outer: Schema, where: str) -> Iterator[str]:
    """The limits and lists of values of the outer schema that the inner one does not keep to."""
    for names, kept in ((UPPER, lambda a, b: a <= b), (LOWER, lambda a, b: a >= b), (SAME, lambda a, b: a == b)):
        for name in names:
            if name in outer and not (name in inner and kept(inner[name], outer[name])):
                yield f"{where}: {name} {inner.get(name, 'none')} does not keep to {outer[name]}"
    allowed, given = _listed(outer), _listed(inner)
    if allowed is not None:
        lost = ["any value"] if given is None else [each for each in given if each not in allowed]
        if lost:
            yield f"{where}: {', '.join(map(str, lost))} is not among the values {', '.join(map(str, allowed))}"


def _listed(schema: Schema) -> list[Any] | None:
    return [schema["const"]] if "const" in schema else schema.get("enum")


def _forms(schema: Schema, document: Schema) -> Iterator[Schema]:
    """The forms that a value may take: references followed, alternatives and lists of types taken apart."""
    if "$ref" in schema:
        found: Any = document
        for step in schema["$ref"].removeprefix("#/").split("/"):
            found = found[step]
        yield from _forms(found, document)
    elif "anyOf" in schema or "oneOf" in schema:
        for each in schema.get("anyOf") or schema["oneOf"]:
            yield from _forms(each, document)
    elif "allOf" in schema:
        raise NotImplementedError("allOf is not compared; no document of the service has it")
    elif isinstance(schema.get("type"), list):
        for kind in schema["type"]:
            yield {**schema, "type": kind}
    else:
        yield schema


def _kinds(schema: Schema) -> set[str]:
    kind = schema.get("type")
    return {"integer", "number"} if kind == "number" else {kind} if kind else set(KINDS)


def _named(schema: Schema) -> str:
    return str(schema.get("title") or schema.get("type") or "anything")
