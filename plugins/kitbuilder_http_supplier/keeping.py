"""Keeps answers that the service can tell to be unchanged, so that they needn't be sent again."""

import hashlib
import os
import tempfile
from pathlib import Path

import msgspec

#: So many answers are kept of a service; those used longest ago go first.
MOST = 32


class Kept(msgspec.Struct, frozen=True):
    """An answer: where it can be had again, what tells whether it has changed, and its body."""

    location: str
    tag: str
    body: bytes


class Answers:
    """The kept answers of one service, a file each in a folder (None: none are kept). What is damaged isn't there."""

    def __init__(self, folder: Path | None) -> None:
        self._folder = folder / "answers" if folder else None

    def find(self, question: bytes) -> Kept | None:
        """The answer to a question, if one is kept."""
        if self._folder is None:
            return None
        file = self._folder / _name(question)
        try:
            kept = msgspec.msgpack.decode(file.read_bytes(), type=Kept)
            os.utime(file)
        except (OSError, msgspec.DecodeError, UnicodeDecodeError):
            return None
        return kept

    def put(self, question: bytes, kept: Kept) -> None:
        """Keep an answer in place of the one before. What can't be kept isn't: that costs time only."""
        if self._folder is None:
            return
        put_whole(self._folder / _name(question), msgspec.msgpack.encode(kept))
        try:
            files = sorted(self._folder.glob("*.answer"), key=lambda file: file.stat().st_mtime)
            for file in files[:-MOST]:
                file.unlink(missing_ok=True)
        except OSError:
            pass  # another command tidies up as well

    def drop(self, question: bytes) -> None:
        """Keep the answer to a question no longer."""
        if self._folder is not None:
            (self._folder / _name(question)).unlink(missing_ok=True)


def _name(question: bytes) -> str:
    return f"{hashlib.sha256(question).hexdigest()[:32]}.answer"


def put_whole(file: Path, data: bytes) -> None:
    """Write a file whole or not at all; several commands may do so at once. Where it can't be, nothing is kept."""
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(dir=file.parent, prefix=".new-")
        with os.fdopen(handle, "wb") as new:
            new.write(data)
        os.replace(name, file)
    except OSError:
        pass  # a full disk or a read-only one is no reason to go without an answer
