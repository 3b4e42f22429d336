"""Published measurements, turned into tables and put through the whole pipeline: every specimen keeps its species.

iris: Anderson 1935 and Fisher 1936, as scikit-learn carries it (`sklearn.datasets.load_iris`).
penguins: Gorman, Williams & Fraser 2014, PLoS ONE 9(3): e90081, as the package palmerpenguins carries it.
Expected figures: ranges built from all specimens leave, for iris, 124 of 150 with exactly one species and 1.17 on
average; for penguins, 294 of 344 and 1.15 (recomputed here from the data by plain comparisons, not by Lenticel).
"""

from __future__ import annotations

import csv
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

import pytest

from lenticel.build import snapshot_of
from lenticel.identify import identify
from lenticel.observation import Reader, read_observations
from lenticel.schema import TABLES


@dataclass(frozen=True)
class Specimens:
    """Measured specimens: the unit of each character, and for each specimen its species and figures (None if not taken)."""

    units: dict[str, str]
    figures: list[tuple[str, dict[str, str | None]]]

    @property
    def species(self) -> list[str]:
        return sorted({species for species, _ in self.figures})


def _iris() -> Specimens:
    from sklearn.datasets import load_iris

    data = load_iris()
    names = ("sepal-length", "sepal-width", "petal-length", "petal-width")
    rows = [(str(data.target_names[kind]), dict(zip(names, map(str, row.tolist()), strict=True))) for row, kind in zip(data.data, data.target, strict=True)]
    return Specimens(dict.fromkeys(names, "cm"), rows)


def _penguins() -> Specimens:
    import palmerpenguins

    frame = palmerpenguins.load_penguins()
    units = {"bill_length_mm": "mm", "bill_depth_mm": "mm", "flipper_length_mm": "mm", "body_mass_g": "g"}
    keys = {name: name.rsplit("_", 1)[0].replace("_", "-") for name in units}
    rows: list[tuple[str, dict[str, str | None]]] = [
        (str(row["species"]).lower(), {key: None if row[name] != row[name] else str(row[name]) for name, key in keys.items()}) for _, row in frame.iterrows()
    ]
    return Specimens({keys[name]: unit for name, unit in units.items()}, rows)


def _write(folder: Path, name: str, rows: Iterable[dict[str, str]]) -> None:
    columns = [column.name for column in TABLES[name].columns]
    with (folder / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, columns, restval="", lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


def _tables(folder: Path, specimens: Specimens) -> None:
    """Write the tables of a body of knowledge in which each species has the range of its own specimens, with no slack."""
    days = {"version": "2026-01-01", "created": "2026-01-01", "issued": "2026-01-01"}
    about = {
        "id": "measured",
        "title": "Measured",
        "description": "From a data set.",
        "iri": "https://example.org/measured/",
        "licence": "https://example.org/l",
        "creator": "x",
    }
    _write(folder, "about", [about | days])
    _write(folder, "sources", [{"id": "data", "kind": "dataset", "authors": "see the test", "year": "2014", "title": "The data set"}])
    _write(folder, "taxa", [{"id": each, "rank": "species", "scientific_name": each} for each in specimens.species])
    common = {"organ": "body", "seasons": "spring", "needs": "ruler", "force": "diagnostic", "exhaustive": "yes", "kind": "measure"}
    _write(folder, "characters", [common | {"id": each, "label": each, "unit": unit, "definition": each} for each, unit in specimens.units.items()])
    statements = []
    for species in specimens.species:
        for character, unit in specimens.units.items():
            values = sorted((row[character] for name, row in specimens.figures if name == species and row[character]), key=lambda each: float(each or 0))
            statements.append({"taxon": species, "character": character, "value": f"{values[0]}-{values[-1]} {unit}", "source": "data", "locator": "all rows"})
    _write(folder, "statements", statements)


def _by_hand(specimens: Specimens) -> list[int]:
    """How many species remain for each specimen, by plain comparisons of floats."""
    ranges = {
        (species, key): [float(row[key] or "nan") for name, row in specimens.figures if name == species and row[key]]
        for species in specimens.species
        for key in specimens.units
    }
    return [
        sum(
            all(value is None or min(ranges[species, key]) <= float(value) <= max(ranges[species, key]) for key, value in figures.items())
            for species in specimens.species
        )
        for _, figures in specimens.figures
    ]


@pytest.mark.parametrize(("name", "unique", "mean"), [("iris", 124, 1.17), ("penguins", 294, 1.15)])
def test_every_specimen_keeps_its_species(tmp_path: Path, name: str, unique: int, mean: float) -> None:
    specimens = {"iris": _iris, "penguins": _penguins}[name]()
    _tables(tmp_path, specimens)
    snapshot = snapshot_of(tmp_path)
    reader = Reader(snapshot)
    sizes, lost, single, wrong = [], 0, 0, 0
    for species, figures in specimens.figures:
        rows = [(key, f"{value}-{value}") for key, value in figures.items() if value is not None]
        left = [each.taxon for each in identify(snapshot, read_observations(reader, rows)).consistent]
        sizes.append(len(left))
        lost += species not in left
        single += len(left) == 1
        wrong += len(left) == 1 and left != [species]
    print(f"{name}: {len(sizes)} specimens, {lost} lost, {single} left with one, {wrong} of those wrong, {sum(sizes) / len(sizes):.2f} left on average")
    assert lost == 0
    assert wrong == 0
    assert sizes == _by_hand(specimens)
    assert single == unique
    assert round(sum(sizes) / len(sizes), 2) == mean


def test_petal_length_alone_separates_setosa_from_the_other_irises(tmp_path: Path) -> None:
    """Fisher 1936, Annals of Eugenics 7: 179-188: Iris setosa stands apart in its petals."""
    from lenticel.compare import compare

    _tables(tmp_path, _iris())
    answer = compare(snapshot_of(tmp_path), ["setosa", "versicolor", "virginica"])
    petal = next(each for each in answer.separators if each.character == "petal-length")
    assert petal.force == "decisive"
    assert set(petal.pairs) == {("setosa", "versicolor"), ("setosa", "virginica")}
