"""Requests that no honest caller sends, and what each of them must be told."""
