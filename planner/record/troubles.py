"""What can go wrong while the record is opened or written, in words that say what to do.

Without the database library, which pages that record nothing need not wait for.
"""

from __future__ import annotations

from planner.faults import Fault, FaultyInput, Place

NOTHING_LOST = "Nothing that was acknowledged is lost."


class RecordTrouble(FaultyInput):
    """The record could not be opened or written; `code` says which trouble, the message what to do.

    What was handed in and not acknowledged is not recorded: it may be sent again, with the same
    tokens, as often as needed.
    """

    def __init__(self, code: str, message: str, hint: str = "", *, file: str = "the record") -> None:
        super().__init__([Fault(Place(file), code, message, hint)])
        self.code = code
        self.message = f"{message} {hint}".strip()


_WORDS = (
    (("disk is full", "no space left", "disk i/o error", "could not extend file"), "disk-full",
     "the disk is full, or writing to it failed: this was not recorded", "Make room, then send it again."),
    (("database is locked", "lock timeout", "deadlock detected"), "locked",
     "another program holds the record: this was not recorded", "Close it, then send it again."),
    (("readonly database", "unable to open database", "permission denied", "read-only"), "read-only",
     "the record may not be written here: this was not recorded",
     "Change who may write in the study's folder."),
    (("malformed", "not a database"), "damaged",
     "the record's file is damaged", "Restore the last backup; keep the damaged file."),
    (("already exists", "no such table", "no such column"), "foreign",
     "the record's file holds tables of another program", "Move that file away; keep it."),
    (("connection", "could not connect", "server closed", "timeout expired"), "no-connection",
     "the database cannot be reached: this was not recorded", "Check the network, then send it again."),
)  # fmt: skip


def in_words(error: Exception) -> RecordTrouble:
    """The trouble behind a database's or the system's error."""
    said = str(getattr(error, "orig", None) or error).casefold()
    for signs, code, message, hint in _WORDS:
        if any(sign in said for sign in signs):
            return RecordTrouble(code, message, f"{hint} {NOTHING_LOST}")
    if isinstance(error, OSError):
        return of_system(error)
    kind = type(getattr(error, "orig", None) or error).__name__
    return RecordTrouble(
        "database", f"the database refused: {kind}", f"This was not recorded. {NOTHING_LOST}"
    )


def of_system(error: OSError) -> RecordTrouble:
    """The trouble behind an error of the operating system."""
    import errno

    if error.errno in (errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EIO):
        return RecordTrouble("disk-full", _WORDS[0][2], f"{_WORDS[0][3]} {NOTHING_LOST}")
    if error.errno in (errno.EACCES, errno.EPERM, errno.EROFS):
        return RecordTrouble("read-only", _WORDS[2][2], f"{_WORDS[2][3]} {NOTHING_LOST}")
    return RecordTrouble("system", f"the system refused: {error.strerror}", NOTHING_LOST)
