"""Which errors of the database and of the system are caught, to be told in words."""

from __future__ import annotations

from sqlalchemy.exc import DBAPIError

CAUGHT = (DBAPIError, OSError)


def is_lost(error: Exception) -> bool:
    """Whether it says that the database had let go of a kept connection: asked again, a new one is made."""
    return isinstance(error, DBAPIError) and error.connection_invalidated
