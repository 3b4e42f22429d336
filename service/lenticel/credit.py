"""How to cite a body of knowledge, and under what licence it may be used: the two files that say so in a release."""

from __future__ import annotations

import json

from lenticel.model import About

CITATION = "CITATION.cff"
LICENCE = "LICENSE"
SPDX = {  # https://spdx.org/licenses/, by the address of the licence without its scheme
    "creativecommons.org/licenses/by/4.0": "CC-BY-4.0",
    "creativecommons.org/licenses/by-sa/4.0": "CC-BY-SA-4.0",
    "creativecommons.org/publicdomain/zero/1.0": "CC0-1.0",
}


def spdx(about: About) -> str:
    """The SPDX identifier of the licence, "" if it is none of those that are known here."""
    return SPDX.get(about.licence.partition("://")[2].rstrip("/"), "")


def citation(about: About) -> str:
    """CITATION.cff, by the Citation File Format 1.2.0 (https://doi.org/10.5281/zenodo.5171937): YAML, each text as a JSON string, which YAML reads."""
    known = spdx(about)
    words = {
        "message": "If you use this knowledge, please cite it as below; each statement in it has a source of its own.",
        "type": "dataset",
        "title": about.title,
        "abstract": about.description,
        "version": about.version,
        "date-released": about.issued,
        "url": about.iri,
        "license" if known else "license-url": known or about.licence,
    }
    lines = ["cff-version: 1.2.0", *(f"{name}: {json.dumps(text, ensure_ascii=False)}" for name, text in words.items())]
    return "\n".join([*lines, "authors:", f"  - name: {json.dumps(about.creator, ensure_ascii=False)}"]) + "\n"


def licence(about: About) -> str:
    """LICENSE: which licence holds for the whole release, where its text stands, and whom to name."""
    known = spdx(about)
    return (
        f"{about.title}, version {about.version}\n\n"
        f"All files of this release: {about.licence}{f' (SPDX {known})' if known else ''}, where the text of the licence stands.\n"
        f"Attribute it to {json.dumps(about.creator, ensure_ascii=False)}, with the version date.\n"
    )
