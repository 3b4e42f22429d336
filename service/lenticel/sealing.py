"""What keeps a process that runs strangers' queries in bounds: no sockets, no more memory than allowed, no core, no new files.

The filter is a classic BPF program for seccomp (Linux, `man 2 seccomp`); system call numbers are those of the kernel's own tables.
"""

from __future__ import annotations

import ctypes
import errno
import os
import platform
import resource
import signal
import struct
import sys

ARCHITECTURES = {"x86_64": (0xC000003E, 41), "aarch64": (0xC00000B7, 198)}  # AUDIT_ARCH_*, and the number of socket(2)
IO_URING_SETUP = 425  # the same on both; it would open sockets without socket(2)
X32 = 0x40000000  # calls of the x32 ABI have this bit; they are refused as a whole
PR_SET_PDEATHSIG, PR_SET_SECCOMP, PR_SET_NO_NEW_PRIVS, SECCOMP_MODE_FILTER = 1, 22, 38, 2
ALLOW, REFUSE, KILL = 0x7FFF0000, 0x00050000 | errno.EPERM, 0x80000000
LOAD, IF_EQUAL, IF_AT_LEAST, RETURN = 0x20, 0x15, 0x35, 0x06
MIB = 1 << 20


class _Program(ctypes.Structure):
    _fields_ = (("length", ctypes.c_ushort), ("filter", ctypes.c_void_p))


def deny_sockets() -> bool:
    """Have the kernel refuse sockets to this process and its threads, for good. Returns whether it does."""
    if sys.platform != "linux" or platform.machine() not in ARCHITECTURES:
        return False
    architecture, socket_call = ARCHITECTURES[platform.machine()]
    steps = (
        (LOAD, 0, 0, 4), (IF_EQUAL, 1, 0, architecture), (RETURN, 0, 0, KILL),
        (LOAD, 0, 0, 0), (IF_AT_LEAST, 3, 0, X32), (IF_EQUAL, 2, 0, socket_call), (IF_EQUAL, 1, 0, IO_URING_SETUP),
        (RETURN, 0, 0, ALLOW), (RETURN, 0, 0, REFUSE),
    )  # fmt: skip
    code = b"".join(struct.pack("HBBI", *step) for step in steps)
    held = ctypes.create_string_buffer(code, len(code))
    program = _Program(len(steps), ctypes.cast(held, ctypes.c_void_p))
    libc = ctypes.CDLL(None, use_errno=True)
    return not (libc.prctl(PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0) or libc.prctl(PR_SET_SECCOMP, SECCOMP_MODE_FILTER, ctypes.byref(program), 0, 0))


def bound(memory: int, stack: int) -> None:
    """Bound this process: it dies with its parent, gets `memory` more bytes than it has and a stack of `stack`, and writes no file."""
    if sys.platform == "linux":
        ctypes.CDLL(None, use_errno=True).prctl(PR_SET_PDEATHSIG, signal.SIGKILL, 0, 0, 0)
        with open("/proc/self/statm", encoding="ascii") as file:
            has = int(file.read().split()[0]) * os.sysconf("SC_PAGE_SIZE")
        most = has + stack + memory
        resource.setrlimit(resource.RLIMIT_AS, (most, most))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    resource.setrlimit(resource.RLIMIT_FSIZE, (0, 0))
