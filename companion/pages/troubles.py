"""What a reader can mend: every error that says what happened, why, and what to do next."""

from __future__ import annotations

from typing import Any

from companion.phonics.gpc import TableError
from companion.phonics.letters import WordError
from companion.phonics.wordlists import WordListError
from speech.trouble import Trouble

TROUBLES = (Trouble, TableError, WordError, WordListError)


def told(error: Trouble | TableError | WordError | WordListError) -> dict[str, Any]:
    """Its words, for a template."""
    return {"what": error.what, "why": error.why, "mend": error.mend}
