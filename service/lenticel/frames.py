"""How the service and its workers talk: frames of a JSON head and a body of bytes, each with its length before it."""

from __future__ import annotations

import json
import struct
from typing import Any, BinaryIO

HEAD = struct.Struct(">II")  # length of the JSON head, length of the body


def read_frame(file: BinaryIO) -> tuple[dict[str, Any], bytes] | None:
    """The next frame, or None at the end."""
    head = file.read(HEAD.size)
    if len(head) < HEAD.size:
        return None
    first, second = HEAD.unpack(head)
    return json.loads(file.read(first)), file.read(second)


def frame(head: dict[str, Any], body: bytes = b"") -> bytes:
    """A frame."""
    text = json.dumps(head).encode()
    return HEAD.pack(len(text), len(body)) + text + body
