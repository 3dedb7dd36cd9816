"""The one place in the application that opens a microphone: it takes a permit to do so."""

from __future__ import annotations

from collections.abc import Callable

from companion.phonics.reading import Reading
from companion.practice.evidence import candidates, sounded_out
from companion.record.consent import PractisePermit
from speech.audio import Utterance
from speech.capture import Attention, Ear, Microphone, record_turn
from speech.live import LiveListener, LiveTurn


def open_microphone(permit: PractisePermit, device: int | str | None = None) -> Microphone:
    """A microphone to be used in a ``with`` statement.

    Raises
    ------
    ConsentMissing
        The consent to practise has been taken back.
    """
    permit.confirm()
    return Microphone(device)


def live_turn(listener: LiveListener, reading: Reading) -> LiveTurn:
    """Let the live listener get ready for one try at a word: what it may be, and what is right.

    The ways of sounding it out are among the candidates, so that their pauses end no turn.
    """
    ways = dict.fromkeys([*candidates(reading)[0], *sounded_out(reading)])
    return listener.turn(tuple(ways), reading.accepted)


def listen(
    permit: PractisePermit,
    ear: Ear,
    on_level: Callable[[float], None],
    live: Attention | None = None,
) -> Utterance:
    """Hear one try, asking for the consent again first: it may have been taken back meanwhile.

    Parameters
    ----------
    permit : PractisePermit
        The child's.
    ear : Ear
        An open microphone.
    on_level : callable
        Given the level in dBFS of what comes in, to show that it hears.
    live : LiveTurn, optional
        The live listener's turn for this word: it hears all of it and says when it is over.

    Raises
    ------
    ConsentMissing
        The consent has been taken back.
    EarLost
        The microphone went away.
    """
    permit.confirm()
    return record_turn(ear, on_level, live=live)
