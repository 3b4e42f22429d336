"""What the one who runs the service may set, by environment; every setting is told by `lenticel serve --settings` and in README.md."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from difflib import get_close_matches

from pydantic import Field, ValidationError
from pydantic_settings import BaseSettings, SettingsConfigDict

from lenticel.errors import BadSetting

PREFIX = "LENTICEL_"


class Settings(BaseSettings):
    """The settings; each is read from the environment variable of its name in capitals with `LENTICEL_` before it."""

    model_config = SettingsConfigDict(env_prefix=PREFIX, frozen=True, extra="ignore")

    body_limit: int = Field(1 << 20, ge=1024, le=1 << 30, description="Largest body of a request, in bytes.")
    batch_lines: int = Field(100000, ge=1, le=1 << 40, description="Most lines of a request that holds many.")
    batch_line_bytes: int = Field(65536, ge=256, le=1 << 30, description="Longest line of such a request, in bytes.")
    batch_seconds: float = Field(300, ge=0.1, le=86400, description="How long such a request may take, in seconds.")
    batch_requests: int = Field(2, ge=1, le=1000, description="How many such requests of one client may be under way.")
    address_limit: int = Field(16384, ge=256, le=65536, description="Longest address (path and query) of a request, in bytes.")
    drain_seconds: float = Field(10, ge=0, le=600, description="How long requests in flight may take after SIGTERM, in seconds.")
    keep_alive_seconds: int = Field(5, ge=0, le=600, description="How long an idle connection is kept, in seconds.")
    backlog: int = Field(2048, ge=16, le=65535, description="How many connections may wait to be accepted.")
    log_requests: bool = Field(True, description="Write a line of JSON a request to standard error.")
    metrics: bool = Field(True, description="Answer /metrics in the Prometheus text format.")
    older_releases: int = Field(3, ge=0, le=100, description="How many older releases are held ready to be asked at a time; 0 for the one in force alone.")
    queries: bool = Field(True, description="Answer SPARQL.")
    query_seconds: float = Field(2, ge=0.1, le=600, description="Deadline of a query that asks for none, in seconds.")
    query_ceiling: float = Field(30, ge=0.1, le=600, description="Longest deadline that a query may ask for, in seconds.")
    query_memory: int = Field(512, ge=64, le=65536, description="Memory that a query may take, in MiB.")
    query_rows: int = Field(50000, ge=1, le=10000000, description="Most rows or triples of an answer to a query.")
    query_bytes: int = Field(32 << 20, ge=1024, le=1 << 30, description="Largest answer to a query, in bytes.")
    query_workers: int = Field(2, ge=1, le=64, description="How many queries run at a time.")
    query_queue: int = Field(8, ge=0, le=1000, description="How many queries may wait.")
    client_seconds: float = Field(20, ge=0.1, le=60000, description="Time at work that the queries of one client may take in a minute, in seconds.")
    client_errors: int = Field(30, ge=1, le=1000000, description="Faulty queries that one client may send in a minute.")
    base_url: str = Field(
        "",
        pattern=r"^(https?://[^/?#\s]+(/[^?#\s]*)?)?$",
        description="Where the service is reached from outside, such as https://example.org; if empty, as each request has it.",
    )
    cache: str = Field("", description="Folder for what is derived from releases and may be deleted; if empty, the user's cache folder.")


def settings_from_environment() -> Settings:
    """The settings as the environment has them.

    Raises:
        BadSetting: a variable holds what the setting does not take.
    """
    try:
        return Settings()
    except ValidationError as error:
        first = error.errors(include_url=False, include_input=False)[0]
        name = PREFIX + str(first["loc"][0]).upper()
        raise BadSetting(f"{name} does not fit: {first['msg'].lower()}.", f"Change it, or unset {name} for the default.") from None


def misspelt(names: Iterable[str]) -> Iterator[str]:
    """What to say of each name of a variable that is near that of a setting but is none; platforms set others that begin alike."""
    known = [PREFIX + name.upper() for name in Settings.model_fields]
    for name in sorted(set(names).difference(known)):
        near = get_close_matches(name, known, n=1, cutoff=0.9) if name.startswith(PREFIX) else []
        if near:
            yield f"{name} is no setting and changes nothing. Did you mean {near[0]}?"


def settings_table() -> Iterator[str]:
    """All settings as a Markdown table."""
    yield "| variable | default | meaning |"
    yield "| --- | --- | --- |"
    for name, field in Settings.model_fields.items():
        default = str(field.default).lower() if isinstance(field.default, bool) else str(field.default)
        yield f"| `{PREFIX}{name.upper()}` | {default or 'none'} | {field.description} |"
