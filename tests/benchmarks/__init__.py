"""Measurements of the engine beside its peers; `python -m tests.benchmarks.identify` runs them."""
