"""Sound files in, mono float32 at 16 kHz out.

libsndfile (through `soundfile`) decodes WAV, FLAC, OGG/Opus and MP3; `soxr` changes the rate.
Everything that can be wrong with a file has an error of its own, raised before any listening.
"""

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np
import numpy.typing as npt
import soxr

from speech.trouble import Trouble

if TYPE_CHECKING:
    import soundfile

Samples = npt.NDArray[np.float32]

RATE: Final = 16_000
"""Hertz. The one rate inside Wordhearth: it carries sound up to 8 kHz, where the energy of s and f
still tells them apart."""
MAX_S: Final = 30.0
"""Seconds. One turn is one word with all its tries; a longer clip is a mistake, not a turn."""
MAX_CHANNELS: Final = 32
"""More channels than any recorder of a voice has; it bounds the memory a file can ask for."""
FULL_SCALE_LIMIT: Final = 4.0
"""Lossy decoders overshoot full scale (1.0) by a few dB; four times it is a file whose numbers are
not scaled to -1..1 at all."""

CONVERT = "Save it again as WAV or FLAC in any recorder, then try that file."


class AudioError(Trouble):
    """A sound file that cannot be heard; the subclasses say in which way."""


class MissingAudio(AudioError):
    """No file is there."""


class EmptyAudio(AudioError):
    """The file, or the part asked for, holds no sound at all."""


class UnreadableAudio(AudioError):
    """Not a sound file, damaged, or holding numbers that are not sound."""


class TruncatedAudio(UnreadableAudio):
    """The file ends before its own header says it should."""


class OutsideAudio(AudioError):
    """The part asked for does not lie within the file."""


class TooLong(AudioError):
    """More than `MAX_S` seconds after slicing."""


@dataclass(frozen=True, eq=False)
class Utterance:
    """What was said in one turn.

    Attributes
    ----------
    samples : ndarray, shape = (n_samples,), float32
        Mono sound; full scale is -1..1, which lossy files may overshoot a little.
    rate : int
        Hertz, always 16,000.

    """

    samples: Samples
    rate: int = RATE

    def __post_init__(self) -> None:
        if self.rate != RATE:
            raise ValueError(f"an utterance has {RATE} samples a second, not {self.rate}")
        if self.samples.ndim != 1 or self.samples.dtype != np.float32:
            raise ValueError(
                "an utterance is a one-dimensional float32 array, not "
                f"{self.samples.ndim}-dimensional {self.samples.dtype}"
            )

    @property
    def duration_s(self) -> float:
        """Length in seconds."""
        return len(self.samples) / self.rate


def read(path: str | Path, start_s: float | None = None, end_s: float | None = None) -> Utterance:
    """Read a sound file, or the part of it between two times.

    Only the part asked for is decoded. Cutting comes before the change of rate, so the last few
    milliseconds at each end of a slice are filtered as if silence lay beyond them.

    Parameters
    ----------
    path : str or Path
        WAV, FLAC, OGG (Vorbis or Opus) or MP3; any rate, up to 32 channels, any bit depth.
    start_s, end_s : float, optional
        Seconds from the start of the file, 0 <= start_s < end_s <= its length.
        Left out, the file's own start and end.

    Returns
    -------
    Utterance
        Mono, float32, 16 kHz, at most 30 s.

    Raises
    ------
    MissingAudio, EmptyAudio, UnreadableAudio, TruncatedAudio, OutsideAudio, TooLong
        All are `AudioError`, with `what`, `why` and `mend`.

    """
    path = Path(path)
    _check_there(path)
    with _open(path) as file:
        if file.frames == 0:
            raise EmptyAudio(
                f"There is no sound in {path.name}",
                "its header is good but it holds no samples",
                "Record it again, and check that the recorder was running.",
            )
        if file.channels > MAX_CHANNELS:
            raise UnreadableAudio(
                f"{path.name} is not a recording of a voice",
                f"it has {file.channels} channels, and at most {MAX_CHANNELS} are read",
                CONVERT,
            )
        first, last = _slice_frames(path, file.frames / file.samplerate, start_s, end_s, file)
        channels = _decode(path, file, first, last)
        rate = file.samplerate
    return Utterance(to_rate(downmix(_sound_numbers(path, channels)), rate))


def downmix(channels: Samples) -> Samples:
    """Fold channels into one, without letting them cancel.

    A plain mean loses a voice recorded with one channel's polarity swapped and halves a voice
    that is on one side only. The weights here are the first principal component of the channels,
    scaled so that their sizes sum to one: equal channels are averaged, a swapped one is swapped
    back, a silent one is left out.

    Parameters
    ----------
    channels : ndarray, shape = (n_samples, n_channels), float32

    Returns
    -------
    ndarray, shape = (n_samples,), float32
        Never louder than the loudest channel.

    """
    if channels.shape[1] == 1:
        return channels[:, 0]
    centred = channels.astype(np.float64) - channels.mean(axis=0, dtype=np.float64)
    weights = np.linalg.eigh(centred.T @ centred)[1][:, -1]
    weights = weights * np.sign(weights[np.argmax(np.abs(weights))]) / np.abs(weights).sum()
    return np.asarray(channels @ weights, dtype=np.float32)


def to_rate(samples: Samples, rate: int) -> Samples:
    """Change mono samples from `rate` hertz to 16 kHz (soxr, high quality).

    Parameters
    ----------
    samples : ndarray, shape = (n_samples,), float32
    rate : int
        Hertz, above 0.

    Returns
    -------
    ndarray, shape = (about n_samples * 16000 / rate,), float32

    """
    if rate == RATE:
        return np.ascontiguousarray(samples)
    return np.asarray(soxr.resample(samples, rate, RATE, quality="HQ"), dtype=np.float32)


def _check_there(path: Path) -> None:
    if not path.exists():
        raise MissingAudio(
            f"There is no sound file {path}",
            "nothing by that name is there",
            "Check the spelling and the folder.",
        )
    if not path.is_file():
        raise UnreadableAudio(
            f"{path} cannot be listened to", "it is a folder, not a file", "Name one sound file."
        )
    try:
        size = path.stat().st_size
        with path.open("rb") as file:
            head = file.read(12)
            file.seek(max(0, size - 65_307))  # the longest page an OGG file can end in
            tail = file.read()
    except OSError as error:
        raise UnreadableAudio(
            f"{path.name} cannot be opened",
            str(error.strerror or error),
            "Check that you may read it and that the disk is still connected.",
        ) from error
    if size == 0:
        raise EmptyAudio(
            f"{path.name} is empty",
            "it is 0 bytes long",
            "Record or copy it again: the copy may not have finished.",
        )
    _check_whole(path, size, head, tail)


def _check_whole(path: Path, size: int, head: bytes, tail: bytes) -> None:
    """Refuse files cut short, which libsndfile would read up to the cut without a word.

    RIFF sizes: Multimedia Programming Interface and Data Specifications 1.0 (IBM and Microsoft,
    1991), chapter 2; a size of 0 or of all ones is what a recorder writes that cannot go back to
    fill it in. OGG pages: RFC 3533 (2003), section 6: bit 4 of the header type marks the last page.
    """
    if head[:4] == b"RIFF" and head[8:12] == b"WAVE":
        said = int.from_bytes(head[4:8], "little")
        if 0 < said < 0x7FFF_0000 and said + 8 > size:
            raise _cut_short(path, f"its header speaks of {said + 8} bytes but {size} are there")
    if head[:4] == b"OggS":
        page = tail[tail.rfind(b"OggS") :]
        body = 27 + (page[26] if len(page) > 26 else 0)
        if len(page) < body + sum(page[27:body]) or not page[5] & 4:
            raise _cut_short(path, "its last page is missing or incomplete")


def _cut_short(path: Path, why: str) -> TruncatedAudio:
    return TruncatedAudio(
        f"{path.name} is cut short",
        why,
        "Copy it again from where it was recorded, or record it again.",
    )


def _open(path: Path) -> "soundfile.SoundFile":
    import soundfile  # loads libsndfile: only when a file is really read

    try:
        file: soundfile.SoundFile = soundfile.SoundFile(path)
    except (soundfile.LibsndfileError, TypeError) as error:  # TypeError: headerless .raw
        reason = getattr(error, "error_string", "it has no header to say what is in it")
        raise UnreadableAudio(
            f"{path.name} is not a sound file that can be read",
            f"no WAV, FLAC, OGG/Opus or MP3 sound was found in it ({reason.rstrip('.')})",
            CONVERT,
        ) from error
    return file


def _slice_frames(
    path: Path,
    length_s: float,
    start_s: float | None,
    end_s: float | None,
    file: "soundfile.SoundFile",
) -> tuple[int, int]:
    """Return the first frame and the one after the last, at the file's own rate."""
    start = 0.0 if start_s is None else start_s
    end = length_s if end_s is None else end_s
    if not 0 <= start < end <= length_s + 0.5 / file.samplerate:
        raise OutsideAudio(
            f"{path.name} has no part from {start:g} s to {end:g} s",
            f"the file runs from 0 s to {length_s:.3f} s, and a part must start before it ends",
            "Give a start and an end within the file, in seconds.",
        )
    if end - start > MAX_S:
        raise TooLong(
            f"{path.name} is too long",
            f"{end - start:.1f} s were asked for, and one word with its tries takes at most "
            f"{MAX_S:g} s",
            "Cut it into one clip for each word, or give the start and end of one word.",
        )
    first = round(start * file.samplerate)
    last = min(round(end * file.samplerate), file.frames)
    if first >= last:
        raise EmptyAudio(
            f"There is no sound in {path.name} from {start:g} s to {end:g} s",
            "the part is shorter than one sample",
            "Give a longer part.",
        )
    return first, last


def _decode(path: Path, file: "soundfile.SoundFile", first: int, last: int) -> Samples:
    import soundfile

    try:
        file.seek(first)
        channels = file.read(last - first, dtype="float32", always_2d=True)
    except soundfile.LibsndfileError as error:
        raise UnreadableAudio(
            f"{path.name} is damaged or cut short",
            f"it could not be decoded ({error.error_string.rstrip('.')})",
            "Copy it again from where it was recorded, or record it again.",
        ) from error
    if len(channels) < last - first:
        raise _cut_short(
            path, f"it promises {last - first} samples there but only {len(channels)} are left"
        )
    return np.asarray(channels, dtype=np.float32)


def _sound_numbers(path: Path, channels: Samples) -> Samples:
    """Refuse numbers that are not sound: not finite, or nowhere near -1..1."""
    peak = float(np.max(np.abs(channels)))
    if not np.isfinite(peak):
        raise UnreadableAudio(
            f"{path.name} is damaged",
            "some of its samples are not numbers (NaN or infinity)",
            CONVERT,
        )
    if peak > FULL_SCALE_LIMIT:
        raise UnreadableAudio(
            f"{path.name} is not scaled as sound",
            f"its samples reach {peak:.3g}, and full scale is 1",
            CONVERT,
        )
    return channels
