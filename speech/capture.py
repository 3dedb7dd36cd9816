"""The microphone: sound from it as 16 kHz pieces, and one turn taken from it.

Importing this opens nothing. PortAudio is loaded when a `Microphone` is entered; its callback only
puts what it was given on a queue, so nothing that listens can hold the sound card up. Nothing is
written to disk.
"""

import contextlib
import queue
import threading
from collections.abc import Callable, Iterator
from types import TracebackType
from typing import Final, Protocol, Self

import numpy as np
import soxr

from speech import portaudio
from speech.audio import MAX_S, RATE, Samples, Utterance
from speech.endpoint import PAUSE_S, Turn, Watch, cut
from speech.levels import decibels
from speech.trouble import Trouble

PIECE_S: Final = 0.03
"""How much sound the device hands over at a time: three frames of the endpoint."""
START_S: Final = 5.0
"""How long a device may take to give its first sound: a wireless headset wakes up slowly."""
STALLED_S: Final = 1.5
"""A device that has started and gives nothing for so long, 50 pieces, has gone away."""
QUEUE_S: Final = 60.0
"""Sound that may wait to be taken; beyond it pieces are lost and counted."""
WAIT_S: Final = 10.0
"""How long a turn waits for the child to begin."""
TURN_S: Final = 8.0
"""The longest turn, from the child's first sound."""


class EarMissing(Trouble):
    """Nothing can be heard: a part is missing, or the microphone would not start."""


class EarLost(Trouble):
    """The microphone went away while it was listening."""


class Ear(Protocol):
    """What `record_turn` listens to: a microphone, or a file played as one."""

    lost_pieces: int

    def pieces(self) -> Iterator[Samples]:
        """Yield sound as it comes: mono, float32, 16 kHz, any length."""
        ...


class Attention(Protocol):
    """What decides that a turn is over: a `Watch` on levels, or a listener that knows the word."""

    @property
    def samples(self) -> Samples:
        """What was heard so far, shape = (n_samples,)."""
        ...

    def hear(self, samples: Samples) -> Turn:
        """Take in the next samples and look again."""
        ...


class Microphone:
    """A microphone, open between `with` and the end of its block.

    Parameters
    ----------
    device : int or str, optional
        As `sounddevice` names it (number, or part of its name); left out, the system's default.

    Attributes
    ----------
    lost_pieces : int
        How often sound was lost because the computer was too slow to take it. A turn with losses
        may be misheard.
    device_rate : int
        Hertz at which the device delivers, from when it is open: its own preferred rate, since
        many can do no other; the change to 16 kHz is made here.
    device_name : str
        What the sound system calls it, from when it is open.
    latency_s : float
        Seconds that sound takes to get here, as the sound system says, from when it is open.

    Examples
    --------
    >>> with Microphone() as mic:  # doctest: +SKIP
    ...     utterance = record_turn(mic)

    """

    def __init__(self, device: int | str | None = None) -> None:
        self.device = device
        self.lost_pieces = 0
        self.device_rate = RATE
        self.device_name = ""
        self.latency_s = 0.0
        self._queue: queue.Queue[Samples | None] = queue.Queue(maxsize=round(QUEUE_S / PIECE_S))
        self._gone = threading.Event()

    def __enter__(self) -> Self:
        """Open the device.

        Raises
        ------
        EarMissing
            PortAudio or a microphone is missing, it is busy, or it would not start.

        """
        sounddevice = portaudio.load(EarMissing, "microphone")
        try:
            about = sounddevice.query_devices(self.device, "input")
            self.device_rate = round(about["default_samplerate"])
            self.device_name = str(about["name"])
            self._stream = sounddevice.InputStream(
                samplerate=self.device_rate,
                blocksize=round(PIECE_S * self.device_rate),
                device=self.device,
                channels=1,
                dtype="float32",
                callback=self._take,
                finished_callback=self._finished,
            )
            self._stream.start()
            self.latency_s = float(self._stream.latency)
        except (sounddevice.PortAudioError, ValueError) as error:
            raise portaudio.explain(EarMissing, "microphone", error) from error
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Close the device; one that has gone away is let go without waiting for it."""
        self._stream.abort(ignore_errors=True)
        self._stream.close(ignore_errors=True)

    def pieces(self) -> Iterator[Samples]:
        """Yield sound as it comes, from now on, brought to 16 kHz.

        Yields
        ------
        ndarray, shape = (n_samples,), float32
            About 30 ms each.

        Raises
        ------
        EarLost
            The device stopped delivering.

        """
        self._forget()
        change = soxr.ResampleStream(self.device_rate, RATE, 1, dtype="float32", quality="HQ")
        patience_s = START_S
        while True:
            try:
                piece = None if self._gone.is_set() else self._queue.get(timeout=patience_s)
            except queue.Empty:
                raise _lost(f"nothing has come from it for {patience_s:g} s") from None
            if piece is None:
                raise _lost("the sound system closed it")
            patience_s = STALLED_S
            yield change.resample_chunk(piece)

    def _take(self, data: Samples, _frames: int, _time: object, status: object) -> None:
        """Run in PortAudio's thread: put the piece on the queue and return."""
        if getattr(status, "input_overflow", False):
            self.lost_pieces += 1
        try:
            self._queue.put_nowait(data[:, 0].copy())
        except queue.Full:
            self.lost_pieces += 1

    def _finished(self) -> None:
        """Run in PortAudio's thread when the device will give no more; wakes who waits for it."""
        self._gone.set()
        with contextlib.suppress(queue.Full):
            self._queue.put_nowait(None)

    def _forget(self) -> None:
        """Drop what came while nobody listened: it was not said for this word."""
        with contextlib.suppress(queue.Empty):
            while True:
                self._queue.get_nowait()


def _lost(why: str) -> EarLost:
    return EarLost(
        "The microphone stopped",
        f"{why}: it was unplugged, switched off, or taken by another program",
        "Plug it back in or free it, then start this word again; words already marked are kept.",
    )


def record_turn(
    ear: Ear,
    on_level: Callable[[float], None] | None = None,
    max_s: float = TURN_S,
    wait_s: float = WAIT_S,
    pause_s: float = PAUSE_S,
    live: Attention | None = None,
) -> Utterance:
    """Listen to one turn: from now until the child has finished.

    Parameters
    ----------
    ear : Microphone or another `Ear`
    on_level : callable, optional
        Called with the level of each piece in dBFS (-100 to 0), to show that it hears.
    max_s : float
        The longest turn, from its first sound; it is then cut off.
    wait_s : float
        How long to wait for a first sound. With none, what was heard comes back whole, and
        listening to it finds silence. `max_s` and `wait_s` together are at most 30 s.
    pause_s : float
        Quiet that ends the turn.
    live : LiveTurn or another `Attention`, optional
        Hears the turn too, and ends it in place of `pause_s`.

    Returns
    -------
    Utterance
        The speech with a quarter of a second around it, 16 kHz.

    Raises
    ------
    EarLost
        The ear gave out in mid-turn.

    """
    if max_s + wait_s > MAX_S:
        raise ValueError(f"max_s and wait_s together are {max_s + wait_s:g} s, above {MAX_S:g} s")
    watch: Attention = live or Watch(pause_s)
    for piece in ear.pieces():
        if not len(piece):
            continue  # a change of rate holds its first samples back
        turn = watch.hear(piece)
        if on_level is not None:
            on_level(float(decibels(np.mean(np.square(piece, dtype=np.float64)))))
        heard_s = turn.quiet_s if turn.end_s is None else turn.end_s + turn.quiet_s
        begun_s = wait_s if turn.start_s is None else turn.start_s + max_s
        if turn.over or heard_s >= begun_s:
            return cut(watch.samples, turn)
    return cut(watch.samples, watch.hear(np.zeros(0, np.float32)))
