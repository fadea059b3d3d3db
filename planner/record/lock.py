"""A lock file that the system frees when its holder dies."""

from __future__ import annotations

import os
import sys
from pathlib import Path
from types import TracebackType

if sys.platform == "win32":
    import msvcrt
else:
    import fcntl


class Lock:
    """A lock on one file; other processes, and other `Lock`s of this one, are kept out."""

    def __init__(self, path: Path) -> None:
        self._file = os.open(path, os.O_RDWR | os.O_CREAT | getattr(os, "O_CLOEXEC", 0), 0o600)

    def __enter__(self) -> Lock:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        os.close(self._file)  # which frees it

    def try_now(self) -> bool:
        """Take it if it is free; False where somebody holds it."""
        try:
            if sys.platform == "win32":
                msvcrt.locking(self._file, msvcrt.LK_NBLCK, 1)
            else:
                fcntl.flock(self._file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            return False
        return True

    def release(self) -> None:
        """Let the next one in."""
        if sys.platform == "win32":
            msvcrt.locking(self._file, msvcrt.LK_UNLCK, 1)
        else:
            fcntl.flock(self._file, fcntl.LOCK_UN)
