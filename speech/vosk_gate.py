"""The one gate to vosk: imported here, late and without its web library; its folders checked here.

Vosk ends the whole program over some of what it does not like, so that must be asked beforehand.
"""

import sys
from collections.abc import Sequence
from pathlib import Path
from types import ModuleType
from typing import Any, Final

from speech.trouble import Trouble

AGAIN: Final = "Install Wordhearth again, or name another folder."
_QUIET = -3  # vosk's own messages; what goes wrong is raised here, in our words


class ListenerTrouble(Trouble):
    """Vosk, or the folder of a model for it, is missing, damaged or of another kind."""


def load() -> ModuleType:
    """Import vosk.

    Vosk imports requests to fetch models, which this program never does; and importing that makes
    an internet socket, to see whether IPv6 works (urllib3's ``util/connection.py``). So vosk finds
    an empty module of that name.

    Raises
    ------
    ListenerTrouble
        It is not installed, or has no library for this system.
    """
    absent = "requests" not in sys.modules
    if absent:
        sys.modules["requests"] = ModuleType("requests")
    try:
        import vosk
    except (ImportError, OSError, TypeError) as error:
        raise ListenerTrouble(
            "The live listener cannot be used",
            f"vosk, the library it runs on, is not there ({error})",
            "Run `pip install vosk`. Recordings are judged without it.",
        ) from error
    finally:
        if absent:
            del sys.modules["requests"]
    vosk.SetLogLevel(_QUIET)
    return vosk  # type: ignore[no-any-return]


def whole(folder: Path, wanted: Sequence[str], what: str, mend: str = AGAIN) -> None:
    """Raise ``ListenerTrouble`` unless ``folder`` holds the files ``wanted``, none empty."""
    if not folder.is_dir():
        raise ListenerTrouble(f"{what} is not there", f"there is no folder {folder}", mend)
    for name in wanted:
        file = folder / name
        if not file.is_file() or not file.stat().st_size:
            raise ListenerTrouble(
                f"{what} is not complete", f"{folder} has no {name}, or an empty one", mend
            )


def model(folder: Path, what: str, mend: str = AGAIN, source: Path | None = None) -> Any:
    """Let vosk load a folder whose files have been looked at; a ``vosk.Model``.

    ``source`` is the folder to name in messages, where it is another one.
    """
    try:
        return load().Model(str(folder))
    except Trouble:
        raise
    except Exception as error:  # vosk raises plain Exception
        raise ListenerTrouble(
            f"{what} cannot be opened", f"vosk refuses the files in {source or folder}", mend
        ) from error


def recogniser(loaded: Any, rate: int) -> Any:
    """A ``vosk.KaldiRecognizer`` that hears one turn, at ``rate`` samples a second."""
    try:
        return load().KaldiRecognizer(loaded, float(rate))
    except Trouble:
        raise
    except Exception as error:  # vosk raises plain Exception
        raise ListenerTrouble(
            "The model does not fit its settings",
            "vosk cannot start listening with it: its network and its features differ",
            AGAIN,
        ) from error
