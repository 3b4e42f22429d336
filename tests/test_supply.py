"""What is handed out holds nothing that opens a door: no file that is tracked holds a key, a token or a password."""

from __future__ import annotations

import re
import subprocess

import pytest

from tests.conftest import ROOT

# Each with something that it must find, in two parts, so that this file holds none itself. The forms are those that the issuers document.
KEYS = {
    "private key": (rb"-----BEGIN (?:[A-Z]+ )*PRIVATE KEY", "-----BEGIN OPENSSH ", "PRIVATE KEY-----"),
    "key of AWS": (rb"\b(?:AKIA|ASIA)[0-9A-Z]{16}\b", "AKIA", "IOSFODNN7EXAMPLE"),
    "token of GitHub": (rb"\b(?:gh[pousr]_[0-9A-Za-z]{36}|github_pat_[0-9A-Za-z_]{60,})", "ghp_", "a1B2" * 9),
    "token of GitLab": (rb"\bglpat-[0-9A-Za-z_-]{20}", "glpat-", "a1B2" * 5),
    "token of a package index": (rb"\b(?:pypi-[0-9A-Za-z_-]{60,}|npm_[0-9A-Za-z]{36}\b)", "npm_", "a1B2" * 9),
    "token of Slack": (rb"\bxox[abeoprs]-[0-9A-Za-z-]{10,}", "xoxb-", "123456789012-abc"),
    "key of Google": (rb"\bAIza[0-9A-Za-z_-]{35}", "AIza", "a1B2c" * 7),
    "signed token": (rb"\beyJ[0-9A-Za-z_-]{10,}\.eyJ[0-9A-Za-z_-]{10,}\.[0-9A-Za-z_-]{10,}", "eyJhbGciOiJIUzI1NiJ9.", "eyJzdWIiOiIxMjM0In0.dBjftJeZ4CVP"),
    "password in an address": (rb"\b[a-z][a-z+]{1,9}://[^\s/:@\"'<>{}]+:[^\s/@\"'<>{}]+@[\w.-]+", "https://user:", "pass-word@example.org"),
    "password that is written out": (
        rb"(?i)\b(?:passw(?:or)?d|passphrase|secret|api[_-]?key|(?:access|auth)[_-]?token)\b[\"']?\s*[:=]\s*[\"'][^\s\"'{}$<>]{8,}[\"']",
        "api_key = ",
        '"a1B2c3D4e5"',
    ),
}


def found_in(content: bytes) -> list[str]:
    return [name for name, (pattern, *_) in KEYS.items() if re.search(pattern, content)]


@pytest.mark.parametrize("name", KEYS)
def test_each_kind_of_key_is_found(name: str) -> None:
    _, first, second = KEYS[name]
    assert found_in(b"x = 1\n" + (first + second).encode() + b"\n") == [name]


def test_no_tracked_file_holds_a_key_or_a_password() -> None:
    told = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, check=False)
    if told.returncode:
        pytest.skip("these files are not tracked by git")
    files = [ROOT / name for name in told.stdout.decode().split("\0") if name]
    assert len(files) > 500
    held = {path.relative_to(ROOT).as_posix(): found for path in files if path.is_file() and (found := found_in(path.read_bytes()))}
    assert held == {}
