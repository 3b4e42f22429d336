"""The log of the process that serves: a line that its reader does not take is lost and counted, and nobody waits for it."""

from __future__ import annotations

import logging
import os
import select
from collections.abc import Callable
from typing import TextIO

PATIENCE = 50  # milliseconds that a reader who kept up so far is waited for


class Unhurried(logging.Handler):
    """Writes each record as a line, as long as whoever reads the stream keeps up.

    A process that waits for the reader of its log answers nobody when that reader stalls. Once a line was lost, the next are
    tried without waiting, until the stream takes lines again.
    """

    def __init__(self, stream: TextIO, lost: Callable[[], None]) -> None:
        """`stream` has a file descriptor, which is written to without a buffer; `lost` is called for each line not written whole."""
        super().__init__()
        self._target, self._lost, self._stalled = stream.fileno(), lost, False
        self._room = select.poll()
        self._room.register(self._target, select.POLLOUT)

    def emit(self, record: logging.LogRecord) -> None:
        """Write a record as one line, or count it as lost."""
        line = f"{self.format(record)}\n".encode(errors="backslashreplace")
        try:
            for start in range(0, len(line), select.PIPE_BUF):  # so much is taken at once where there is room
                if not self._room.poll(0 if self._stalled else PATIENCE):
                    raise BlockingIOError
                os.write(self._target, line[start : start + select.PIPE_BUF])
            self._stalled = False
        except OSError:  # the reader stalls, or is gone
            self._stalled = True
            self._lost()
