"""Files that must survive a power cut, and files that must be gone: the two ways of touching disk.

Overwriting before unlinking takes the bytes out of the file itself. A solid-state disk, a
journalling file system or a backup may still hold an older copy of a block; no program can reach
those, and the consent text says so.
"""

from __future__ import annotations

import os
from pathlib import Path

from companion.record.trouble import HomeUnwritable

_CHUNK_BYTES = 1 << 16


def write_durably(path: Path, data: bytes) -> None:
    """Replace a file with `data`, whole or not at all, on disk when this returns.

    Parameters
    ----------
    path : Path
        The file; its folder is made (readable by this user only) when missing.
    data : bytes
        The new content.

    Raises
    ------
    HomeUnwritable
        The folder or the disk refuses.
    """
    fresh = path.with_name(path.name + ".new")
    try:
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        with os.fdopen(os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        fresh.replace(path)
        _sync_folder(path.parent)
    except OSError as error:
        raise unwritable(path, error) from error


def erase(path: Path) -> bool:
    """Overwrite a file with zeros, then remove it.

    Parameters
    ----------
    path : Path
        A file that may be missing. A symbolic link is removed, and what it points to left alone.

    Returns
    -------
    bool
        Whether there was a file.

    Raises
    ------
    HomeUnwritable
        The file could not be overwritten or removed.
    """
    try:
        if not path.is_symlink():
            if not path.exists():
                return False
            _overwrite(path)
        path.unlink()
        _sync_folder(path.parent)
    except OSError as error:
        raise unwritable(path, error) from error
    return True


def unwritable(path: Path, error: OSError) -> HomeUnwritable:
    """The error to raise when the operating system refuses a file."""
    return HomeUnwritable(
        f"{path} could not be written",
        f"the computer refused it: {error.strerror or error}",
        "Check that you own the folder and that the disk has room, then try again; "
        "what was kept before is untouched.",
    )


def _overwrite(path: Path) -> None:
    with path.open("r+b", buffering=0) as file:
        left = os.fstat(file.fileno()).st_size
        while left > 0:
            left -= file.write(bytes(min(left, _CHUNK_BYTES)))
        os.fsync(file.fileno())


def _sync_folder(folder: Path) -> None:
    if os.name != "posix":  # a folder cannot be opened for syncing elsewhere
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
