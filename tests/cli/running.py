"""Runs kitbuilder as a process: in a pipe, and on a pseudo-terminal."""

import fcntl
import os
import pty
import select
import struct
import subprocess
import sys
import termios
import time
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import NamedTuple

KITBUILDER = (sys.executable, "-m", "kitbuilder.cli")
#: Only what hangs takes so long.
_PATIENCE_S = 240


class Ran(NamedTuple):
    """How a command ended."""

    code: int
    out: str
    err: str

    @property
    def said(self) -> str:
        """Standard error without its line breaks."""
        return " ".join(self.err.split())


def run(folder: Path, *words: str, typed: str | bytes = b"", **environment: str) -> Ran:
    """A command in a folder, with standard input and output as pipes."""
    given = typed.encode() if isinstance(typed, str) else typed
    done = subprocess.run(
        [*KITBUILDER, *words], cwd=folder, env={**os.environ, **environment}, input=given, capture_output=True,
        timeout=_PATIENCE_S, check=False)
    return Ran(done.returncode, done.stdout.decode(), done.stderr.decode())


def on_terminal(command: Sequence[str], folder: Path, dialogue: Sequence[tuple[str, str]] = (), columns: int = 80,
                environment: Mapping[str, str] | None = None) -> tuple[int, str]:
    """A command on a pseudo-terminal: its exit code, and all that appeared there.

    `dialogue` is what to wait for, and then to type, in turn.
    """
    ours, theirs = pty.openpty()
    fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", 24, columns, 0, 0))
    process = subprocess.Popen(
        command, cwd=folder, env={**os.environ, "TERM": "xterm", **(environment or {})}, stdin=theirs, stdout=theirs,
        stderr=theirs, start_new_session=True)
    os.close(theirs)
    shown, screen, seen = b"", "", 0
    waiting = list(dialogue)
    end = time.monotonic() + _PATIENCE_S
    try:
        while time.monotonic() < end:
            while waiting and (at := screen.find(waiting[0][0], seen)) >= 0:
                seen = at + len(waiting[0][0])
                os.write(ours, waiting.pop(0)[1].encode())
            if not select.select([ours], [], [], 0.2)[0]:
                continue
            try:
                read = os.read(ours, 65536)
            except OSError:  # the other end is closed: the command has ended
                read = b""
            if not read:
                break
            # the whole of it: a read may end within a line's end, or within a character
            shown += read
            screen = shown.decode(errors="ignore").replace("\r\n", "\n")
        assert not waiting, f"never saw {waiting[0][0]!r} in:\n{screen}"
        return process.wait(_PATIENCE_S), screen
    finally:
        process.kill()
        process.wait()
        os.close(ours)
