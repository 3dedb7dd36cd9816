"""The one gate to PortAudio: it is opened here, late, and its errors are put into words here."""

import sys
from types import ModuleType

from speech.trouble import Trouble

INSTALL_PORTAUDIO = (
    "On Debian or Ubuntu run `sudo apt install libportaudio2`; on Windows and macOS run "
    "`pip install --force-reinstall sounddevice`, which brings it along."
)
# PaErrorCode of portaudio.h, version 19
_INVALID_DEVICE = -9996
_DEVICE_UNAVAILABLE = -9985
_BAD_RATE = -9997


def load(kind: type[Trouble], device: str) -> ModuleType:
    """Import sounddevice, which opens PortAudio.

    Parameters
    ----------
    kind : type of Trouble
        What to raise when PortAudio is not there.
    device : str
        "microphone" or "loudspeaker", for the message.

    """
    try:
        import sounddevice
    except OSError as error:
        raise kind(
            f"The {device} cannot be used",
            f"PortAudio, the part that talks to sound cards, is not installed ({error})",
            INSTALL_PORTAUDIO + " Everything that does not need it still works.",
        ) from error
    return sounddevice  # type: ignore[no-any-return]


def explain(kind: type[Trouble], device: str, error: Exception) -> Trouble:
    """Put a PortAudio error into words.

    Parameters
    ----------
    kind : type of Trouble
        The class of the error returned.
    device : str
        "microphone" or "loudspeaker".
    error : Exception
        As sounddevice raised it: `PortAudioError(text, code, ...)` or `ValueError`.

    """
    code = error.args[1] if len(error.args) > 1 else None
    said = str(error.args[0] if error.args else error).rstrip(".")
    if isinstance(error, ValueError) or code == _INVALID_DEVICE or "querying device" in said:
        return kind(
            f"No {device} was found",
            f"the computer lists none that can be used ({said})",
            f"Plug a {device} in or switch it on in the sound settings, then try again.",
        )
    if code == _DEVICE_UNAVAILABLE:
        return kind(
            f"The {device} is busy",
            f"another program is holding it, or it is being set up ({said})",
            "Close calls, recorders and browser tabs that use it, then try again.",
        )
    allow = " and that programs may use it" if sys.platform in ("darwin", "win32") else ""
    return kind(
        f"The {device} would not start",
        said,
        f"Check that it is plugged in{allow}, then try again; if it still fails, unplug it, wait "
        "a moment and plug it back.",
    )
