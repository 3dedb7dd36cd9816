"""Run a program that the kernel kills as soon as it, or a child of its, makes an internet socket.

    python internet_forbidden.py PROGRAM ARGUMENT...
    python internet_forbidden.py --may-serve PROGRAM ARGUMENT...

With --may-serve it may take connections (TCP), and is killed as soon as it makes one of any kind,
or a socket that needs none.

A seccomp filter sees system calls whoever makes them, so native libraries are watched as well as
Python. Local (unix) sockets stay allowed: a sound server has one. Linux on x86-64 or ARM64.
The filter's layout: Linux kernel documentation, 'Seccomp BPF'.
"""

from __future__ import annotations

import ctypes
import os
import platform
import socket
import struct
import sys

# Numbers of the system calls `socket` and `connect`, and AUDIT_ARCH, by machine (linux/audit.h,
# asm/unistd.h).
SOCKET_CALL, CONNECT_CALL, ARCHITECTURE = {
    "x86_64": (41, 42, 0xC000003E),
    "aarch64": (198, 203, 0xC00000B7),
}[platform.machine()]
KILL, ALLOW = 0x80000000, 0x7FFF0000
PR_SET_NO_NEW_PRIVS, PR_SET_SECCOMP, SECCOMP_MODE_FILTER = 38, 22, 2

LOAD, JUMP_IF_EQUAL, AND, RETURN = 0x20, 0x15, 0x54, 0x06
PROGRAM = (
    # code, jump if true, jump if false, value; offsets into struct seccomp_data
    (LOAD, 0, 0, 4),  # arch
    (JUMP_IF_EQUAL, 0, 5, ARCHITECTURE),
    (LOAD, 0, 0, 0),  # system call number
    (JUMP_IF_EQUAL, 0, 4, SOCKET_CALL),
    (LOAD, 0, 0, 16),  # first argument, low half: the address family
    (JUMP_IF_EQUAL, 1, 0, int(socket.AF_INET)),
    (JUMP_IF_EQUAL, 0, 1, int(socket.AF_INET6)),
    (RETURN, 0, 0, KILL),
    (RETURN, 0, 0, ALLOW),
)
SERVER = (
    (LOAD, 0, 0, 4),  # arch
    (JUMP_IF_EQUAL, 0, 9, ARCHITECTURE),
    (LOAD, 0, 0, 0),  # system call number
    (JUMP_IF_EQUAL, 7, 0, CONNECT_CALL),
    (JUMP_IF_EQUAL, 0, 7, SOCKET_CALL),
    (LOAD, 0, 0, 16),  # the address family
    (JUMP_IF_EQUAL, 1, 0, int(socket.AF_INET)),
    (JUMP_IF_EQUAL, 0, 4, int(socket.AF_INET6)),
    (LOAD, 0, 0, 24),  # second argument, low half: the kind, with flags above it
    (AND, 0, 0, 0xF),
    (JUMP_IF_EQUAL, 1, 0, int(socket.SOCK_STREAM)),
    (RETURN, 0, 0, KILL),
    (RETURN, 0, 0, ALLOW),
)


class Filter(ctypes.Structure):
    """``struct sock_fprog``."""

    _fields_ = (("length", ctypes.c_ushort), ("program", ctypes.c_char_p))


def forbid(program: tuple[tuple[int, int, int, int], ...] = PROGRAM) -> None:
    """Put a filter on this process and everything it starts."""
    code = b"".join(struct.pack("HBBI", *step) for step in program)
    libc = ctypes.CDLL(None, use_errno=True)
    wanted = Filter(len(program), code)
    for call in (
        (PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0),
        (PR_SET_SECCOMP, SECCOMP_MODE_FILTER, ctypes.byref(wanted), 0, 0),
    ):
        if libc.prctl(*call) != 0:
            raise OSError(ctypes.get_errno(), "the kernel took no seccomp filter")


if __name__ == "__main__":
    command = sys.argv[1:]
    if command[0] == "--may-serve":
        forbid(SERVER)
        command = command[1:]
    else:
        forbid()
    os.execvp(command[0], command)
