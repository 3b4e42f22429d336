"""The guide to the tables, printed from the schema and the rules themselves."""

from __future__ import annotations

from lenticel.build import COMPILED_RULES
from lenticel.check import rule_texts
from lenticel.rules import RULES
from lenticel.schema import TABLES

_FORM = {
    "id": "identifier",
    "text": "text",
    "choice": "one word of a list",
    "list": "words joined by `|`",
    "ref": "identifier in another table",
    "refs": "identifiers joined by `|`",
    "yesno": "`yes` or empty",
    "tristate": "`yes`, `no` or empty",
    "number": "number",
    "slack": "share or step",
    "condition": "condition",
    "date": "date",
    "iri": "web IRI",
}


def guide() -> str:
    """The guide as Markdown."""
    lines = [
        "# The tables",
        "",
        "Printed by `lenticel guide` from the schema that the check reads; a test keeps the two alike.",
        "",
        "A folder of knowledge holds these tables as CSV in UTF-8. A table is one file `<name>.csv`, or several files in a folder `<name>/`,",
        "each with the same header. The columns stand in the order given here. Empty cells mean: nothing to say.",
    ]
    for table in TABLES.values():
        lines += ["", f"## {table.name}", "", table.row, "", "| column | holds | must | meaning | example |", "| --- | --- | --- | --- | --- |"]
        for column in table.columns:
            form = _FORM[column.kind] + (f" of `{column.refers}`" if column.refers else "")
            if column.choices:
                form += f": {', '.join(column.choices)}"
            example = f"`{column.example}`" if column.example else ""
            must = "yes" if column.required else ""
            lines.append(f"| `{column.name}` | {_cell(form)} | {must} | {_cell(column.meaning)} | {_cell(example)} |")
    lines += ["", "## Rules", "", "Beyond the form of each cell, the check holds the tables to these:", ""]
    rules = [*rule_texts(), *((rule.__name__.replace("_", " "), (rule.__doc__ or "").strip()) for rule in COMPILED_RULES)]
    lines += [f"- **{name}**: {' '.join(text.split())}" for name, text in rules]
    lines += ["", "## Faults by name", "", "What each fault's name, in square brackets in the check's report, asks for:", ""]
    lines += [f"- `{name}`: {text}" for name, text in RULES.items()]
    return "\n".join(lines) + "\n"


def _cell(text: str) -> str:
    return text.replace("|", "\\|")
