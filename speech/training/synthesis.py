"""Synthetic speech from phone strings: espeak-ng by its library, piper voices by onnxruntime."""

from __future__ import annotations

import ctypes
import json
import random
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from speech.audio import to_rate
from speech.phones import ESPEAK

ESPEAK_VOICES: tuple[str, ...] = (
    "en", "en", "en-gb-x-rp", "en-gb-scotland", "en-gb-x-gbclan", "en-gb-x-gbcwmd", "en-us",
)  # fmt: skip
ESPEAK_VARIANTS: tuple[str, ...] = (
    "", "f1", "f2", "f3", "f4", "f5", "m1", "m2", "m3", "m4", "m5", "m6", "m7", "klatt",
    "klatt2", "klatt3", "klatt4",
)  # fmt: skip

IPA: dict[str, str] = {
    "AA": "ɑː", "AE": "æ", "AH": "ʌ", "AO": "ɔː", "AW": "aʊ", "AY": "aɪ", "B": "b", "CH": "tʃ",
    "D": "d", "DH": "ð", "EH": "ɛ", "ER": "ɜː", "EY": "eɪ", "F": "f", "G": "ɡ", "HH": "h",
    "IH": "ɪ", "IY": "iː", "JH": "dʒ", "K": "k", "L": "l", "M": "m", "N": "n", "NG": "ŋ",
    "OW": "oʊ", "OY": "ɔɪ", "P": "p", "R": "ɹ", "S": "s", "SH": "ʃ", "T": "t", "TH": "θ",
    "UH": "ʊ", "UW": "uː", "V": "v", "W": "w", "Y": "j", "Z": "z", "ZH": "ʒ",
}  # fmt: skip


class Espeak:
    """espeak-ng's library speaking into memory. One per process: the library is global."""

    def __init__(self, library: Path, data: Path) -> None:
        self._lib = ctypes.CDLL(str(library))
        callback = ctypes.CFUNCTYPE(
            ctypes.c_int, ctypes.POINTER(ctypes.c_short), ctypes.c_int, ctypes.c_void_p
        )
        rate = self._lib.espeak_Initialize(2, 0, str(data).encode(), 0)  # 2: synchronous
        if rate <= 0:
            raise RuntimeError(f"espeak-ng did not start with its data in {data}")
        self._rate = rate
        self._chunks: list[NDArray[np.int16]] = []

        def keep(samples: object, count: int, _events: object) -> int:
            if count:
                self._chunks.append(np.ctypeslib.as_array(samples, (count,)).copy())  # type: ignore[call-overload]
            return 0

        self._keep = callback(keep)  # kept alive: the library holds only the pointer
        self._lib.espeak_SetSynthCallback(self._keep)

    def say(self, string: str, voice: str, rate_wpm: int, pitch: int) -> NDArray[np.float32]:
        """Speak a marked phone string; returns mono float32 at 16 kHz."""
        text = "[[" + mnemonics(string, voice) + "]]"
        self._lib.espeak_SetVoiceByName(voice.encode())
        self._lib.espeak_SetParameter(1, rate_wpm, 0)
        self._lib.espeak_SetParameter(3, pitch, 0)
        self._chunks.clear()
        raw = text.encode()
        # flags: 1 UTF-8 text, 0x100 phonemes in [[ ]]
        self._lib.espeak_Synth(raw, len(raw) + 1, 0, 1, 0, 0x101, None, None)
        self._lib.espeak_Synchronize()
        samples = np.concatenate([np.zeros(1, np.int16), *self._chunks]).astype(np.float32)
        samples /= 32768
        return to_rate(samples, self._rate)


def mnemonics(string: str, voice: str) -> str:
    """espeak-ng mnemonics; American voices say the a of *father* where AA stands."""
    out = []
    for symbol in string.split():
        code = ESPEAK[symbol.lstrip("'")]
        if symbol.lstrip("'") == "AA" and voice.startswith("en-us"):
            code = "A:"
        if symbol == "AH":
            code = "@"
        out.append(("'" if symbol.startswith("'") else "") + code)
    return "".join(out)


def espeak_voice(rng: random.Random) -> tuple[str, int, int]:
    """A random voice with variant, words a minute, and pitch (0–99) leaning to a child's."""
    variant = rng.choice(ESPEAK_VARIANTS)
    voice = rng.choice(ESPEAK_VOICES) + (f"+{variant}" if variant else "")
    return voice, rng.randint(80, 190), rng.randint(30, 99)


class Piper:
    """A piper voice (VITS, ONNX) fed IPA directly, without its text front end."""

    def __init__(self, model: Path) -> None:
        import onnxruntime

        config = json.loads(model.with_suffix(".onnx.json").read_text())
        self._ids: dict[str, list[int]] = config["phoneme_id_map"]
        self._rate = int(config["audio"]["sample_rate"])
        options = onnxruntime.SessionOptions()
        options.intra_op_num_threads = 1
        self._session = onnxruntime.InferenceSession(str(model), options)

    def say(self, string: str, length_scale: float, noise: float) -> NDArray[np.float32]:
        """Speak a marked phone string; returns mono float32 at 16 kHz."""
        ipa = "".join(
            ("ˈ" if s.startswith("'") else "") + ("ə" if s == "AH" else IPA[s.lstrip("'")])
            for s in string.split()
        )
        ids = [*self._ids["^"], *self._ids["_"]]
        for character in ipa + ".":
            ids += [*self._ids[character], *self._ids["_"]]
        ids += self._ids["$"]
        (sound,) = self._session.run(
            None,
            {
                "input": np.array([ids], np.int64),
                "input_lengths": np.array([len(ids)], np.int64),
                "scales": np.array([noise, length_scale, 0.8], np.float32),
            },
        )
        return to_rate(sound.reshape(-1).astype(np.float32), self._rate)
