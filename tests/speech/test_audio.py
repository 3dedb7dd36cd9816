"""Reading sound files: formats, rates, channels, slices, and every way a file can be bad."""

import struct
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest
import soundfile
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp
from scipy import signal  # type: ignore[import-untyped]

from speech import audio
from speech.audio import (
    RATE,
    AudioError,
    EmptyAudio,
    MissingAudio,
    OutsideAudio,
    TooLong,
    TruncatedAudio,
    UnreadableAudio,
    Utterance,
    read,
)

Floats = npt.NDArray[np.float64]

FORMATS = [  # suffix, format, subtype, rate
    (".wav", "WAV", "PCM_16", 16_000),
    (".wav", "WAV", "PCM_U8", 8_000),
    (".wav", "WAV", "PCM_24", 44_100),
    (".wav", "WAV", "PCM_32", 22_050),
    (".wav", "WAV", "FLOAT", 48_000),
    (".wav", "WAV", "DOUBLE", 11_025),
    (".wav", "WAV", "ULAW", 8_000),
    (".wav", "WAVEX", "PCM_16", 96_000),
    (".flac", "FLAC", "PCM_16", 44_100),
    (".flac", "FLAC", "PCM_24", 48_000),
    (".ogg", "OGG", "VORBIS", 44_100),
    (".opus", "OGG", "OPUS", 48_000),
    (".opus", "OGG", "OPUS", 16_000),
    (".mp3", "MP3", "MPEG_LAYER_III", 44_100),
    (".mp3", "MP3", "MPEG_LAYER_III", 16_000),
]


def tone(hertz: float, rate: int, length_s: float = 1.0, size: float = 0.5) -> Floats:
    return size * np.sin(2 * np.pi * hertz * np.arange(round(length_s * rate)) / rate)


def strongest_hz(samples: npt.NDArray[np.float32]) -> float:
    spectrum = np.abs(np.fft.rfft(samples * np.hanning(len(samples))))
    return float(np.argmax(spectrum)) * RATE / len(samples)


def written(path: Path, samples: Floats, rate: int, kind: str, subtype: str) -> Path:
    soundfile.write(path, samples, rate, format=kind, subtype=subtype)
    return path


@pytest.mark.parametrize("channels", [1, 2])
@pytest.mark.parametrize(("suffix", "kind", "subtype", "rate"), FORMATS)
def test_a_tone_is_the_same_tone_from_every_kind_of_file(
    tmp_path: Path, suffix: str, kind: str, subtype: str, rate: int, channels: int
) -> None:
    wave = np.repeat(tone(1000, rate)[:, None], channels, axis=1)
    heard = read(written(tmp_path / f"tone{suffix}", wave, rate, kind, subtype))
    middle = heard.samples[2000:-2000]
    assert heard.samples.dtype == np.float32
    assert heard.duration_s == pytest.approx(1.0, abs=0.005)
    assert strongest_hz(middle) == pytest.approx(1000, abs=2)
    assert np.sqrt(2 * np.mean(middle**2)) == pytest.approx(0.5, rel=0.03)


@pytest.mark.parametrize("rate", [8_000, 11_025, 22_050, 32_000, 44_100, 48_000, 96_000])
def test_a_change_of_rate_agrees_with_scipys_polyphase_filter(rate: int) -> None:
    rng = np.random.default_rng(rate)
    low = signal.firwin(401, 0.35 * min(rate, RATE), fs=rate)  # both filters pass it untouched
    wave = np.convolve(rng.standard_normal(rate), low, mode="same").astype(np.float32)
    ours = audio.to_rate(wave, rate).astype(np.float64)
    step = np.gcd(rate, RATE)
    theirs = signal.resample_poly(
        wave.astype(np.float64), RATE // step, rate // step, window=("kaiser", 12.0)
    )
    count = min(len(ours), len(theirs))
    apart = (ours[:count] - theirs[:count])[800:-800]
    assert np.std(apart) < 0.003 * np.std(theirs)


def test_what_16_khz_cannot_carry_is_filtered_out_and_not_folded_down() -> None:
    folded = audio.to_rate(tone(11_000, 48_000).astype(np.float32), 48_000)
    assert np.abs(folded[500:-500]).max() < 1e-4


@given(
    seconds=st.floats(0.05, 0.5),
    rate=st.sampled_from([8_000, 16_000, 22_050, 44_100, 48_000]),
)
@settings(max_examples=30, deadline=None)
def test_a_change_of_rate_keeps_the_length(seconds: float, rate: int) -> None:
    count = round(seconds * rate)
    changed = audio.to_rate(np.zeros(count, np.float32), rate)
    assert len(changed) == pytest.approx(count * RATE / rate, abs=1)


@pytest.mark.parametrize("sign", [1.0, -1.0])
@pytest.mark.parametrize("other", [0.0, 0.3, 1.0])
def test_a_voice_survives_swapped_polarity_and_a_silent_side(sign: float, other: float) -> None:
    voice = tone(300, RATE).astype(np.float32)
    mono = audio.downmix(np.stack([voice, np.float32(sign * other) * voice], axis=1))
    assert np.sqrt(2 * np.mean(mono**2)) >= 0.5 * 0.55
    assert np.corrcoef(mono, voice)[0, 1] == pytest.approx(1.0, abs=1e-4)


@given(
    hnp.arrays(
        np.float32,
        st.tuples(st.integers(1, 60), st.integers(1, 6)),
        elements=st.floats(-1, 1, width=32),
    )
)
@settings(deadline=None)
def test_a_downmix_is_never_louder_than_its_loudest_channel(
    channels: npt.NDArray[np.float32],
) -> None:
    mono = audio.downmix(channels)
    assert mono.shape == (len(channels),)
    assert np.abs(mono).max() <= np.abs(channels).max() + 1e-6


@given(
    wave=hnp.arrays(np.float32, st.integers(1, 60), elements=st.floats(-1, 1, width=32)),
    copies=st.integers(1, 4),
)
@settings(deadline=None)
def test_equal_channels_are_that_channel(wave: npt.NDArray[np.float32], copies: int) -> None:
    mono = audio.downmix(np.repeat(wave[:, None], copies, axis=1))
    np.testing.assert_allclose(mono, wave, atol=1e-5)


@given(
    start=st.integers(0, 15_999),
    count=st.integers(1, 16_000),
)
@settings(max_examples=40, deadline=None)
def test_a_slice_is_that_part_of_the_whole(
    tmp_path_factory: pytest.TempPathFactory, start: int, count: int
) -> None:
    path = tmp_path_factory.getbasetemp() / "noise.flac"
    if not path.exists():
        wave = np.random.default_rng(1).uniform(-0.9, 0.9, RATE)
        written(path, wave, RATE, "FLAC", "PCM_16")
    end = min(start + count, RATE)
    whole = read(path).samples
    np.testing.assert_array_equal(read(path, start / RATE, end / RATE).samples, whole[start:end])


@pytest.mark.parametrize(("suffix", "kind", "subtype", "rate"), FORMATS)
def test_a_slice_of_any_file_holds_what_sounds_there(
    tmp_path: Path, suffix: str, kind: str, subtype: str, rate: int
) -> None:
    wave = np.concatenate([tone(hertz, rate) for hertz in (400, 900, 1600)])
    path = written(tmp_path / f"tones{suffix}", wave, rate, kind, subtype)
    heard = read(path, 1.1, 1.9)
    assert heard.duration_s == pytest.approx(0.8, abs=0.001)
    assert strongest_hz(heard.samples) == pytest.approx(900, abs=3)


def test_a_slice_of_a_long_file_does_not_need_the_rest(tmp_path: Path) -> None:
    path = written(tmp_path / "long.flac", tone(500, 8_000, 300), 8_000, "FLAC", "PCM_16")
    assert read(path, 200, 201).duration_s == pytest.approx(1.0)
    with pytest.raises(TooLong, match=r"300\.0 s were asked for"):
        read(path)


@pytest.mark.parametrize(
    ("start_s", "end_s"), [(-0.1, 0.5), (0.5, 1.2), (1.0, None), (0.6, 0.4), (0.5, 0.5), (2, 3)]
)
def test_a_slice_outside_the_file_is_refused(
    tmp_path: Path, start_s: float, end_s: float | None
) -> None:
    path = written(tmp_path / "tone.wav", tone(500, RATE), RATE, "WAV", "PCM_16")
    with pytest.raises(OutsideAudio, match=r"runs from 0 s to 1\.000 s"):
        read(path, start_s, end_s)


@pytest.mark.parametrize("start_s", [float("nan"), float("inf")])
def test_a_time_that_is_no_number_is_refused(tmp_path: Path, start_s: float) -> None:
    path = written(tmp_path / "tone.wav", tone(500, RATE), RATE, "WAV", "PCM_16")
    with pytest.raises(OutsideAudio):
        read(path, start_s)


def test_a_slice_shorter_than_a_sample_is_empty(tmp_path: Path) -> None:
    path = written(tmp_path / "tone.wav", tone(500, RATE), RATE, "WAV", "PCM_16")
    with pytest.raises(EmptyAudio, match="shorter than one sample"):
        read(path, 0.50001, 0.50002)


def test_thirty_seconds_are_read_and_more_are_not(tmp_path: Path) -> None:
    path = written(tmp_path / "long.wav", tone(500, 8_000, 30.5), 8_000, "WAV", "PCM_16")
    assert read(path, 0, 30).duration_s == pytest.approx(30.0)
    with pytest.raises(TooLong):
        read(path)


def test_a_missing_file_is_named(tmp_path: Path) -> None:
    with pytest.raises(MissingAudio, match=r"pine\.wav"):
        read(tmp_path / "pine.wav")


def test_a_folder_is_not_listened_to(tmp_path: Path) -> None:
    with pytest.raises(UnreadableAudio, match="a folder"):
        read(tmp_path)


@pytest.mark.parametrize("suffix", [".wav", ".flac", ".opus", ".mp3"])
def test_an_empty_file_is_called_empty(tmp_path: Path, suffix: str) -> None:
    path = tmp_path / f"pine{suffix}"
    path.touch()
    with pytest.raises(EmptyAudio, match="0 bytes"):
        read(path)


@pytest.mark.parametrize("kind", ["WAV", "W64"])
def test_a_header_without_samples_is_called_empty(tmp_path: Path, kind: str) -> None:
    path = written(tmp_path / f"pine.{kind.lower()}", np.zeros(0), RATE, kind, "PCM_16")
    with pytest.raises(EmptyAudio, match="no samples"):
        read(path)


@pytest.mark.parametrize("suffix", [".wav", ".mp3", ".raw", ".txt", ""])
def test_a_file_that_is_no_sound_is_refused(tmp_path: Path, suffix: str) -> None:
    path = tmp_path / f"pine{suffix}"
    path.write_text("The lighthouse keeper's shopping list: lamp oil, bread, a new kite.\n" * 20)
    with pytest.raises(UnreadableAudio, match="not a sound file"):
        read(path)


@given(st.binary(min_size=1, max_size=400), st.sampled_from([b"", b"RIFF", b"OggS", b"fLaC"]))
@settings(max_examples=150, deadline=None)
def test_any_bytes_at_all_are_read_or_refused_in_words(
    tmp_path_factory: pytest.TempPathFactory, body: bytes, magic: bytes
) -> None:
    path = tmp_path_factory.getbasetemp() / "bytes.wav"
    path.write_bytes(magic + body)
    try:
        read(path)
    except AudioError as error:
        assert error.what
        assert error.why
        assert error.mend


@pytest.mark.parametrize("kept", [0.3, 0.6, 0.95])
@pytest.mark.parametrize(("suffix", "kind", "subtype", "rate"), FORMATS)
def test_a_file_cut_short_is_refused(
    tmp_path: Path, suffix: str, kind: str, subtype: str, rate: int, kept: float
) -> None:
    path = written(tmp_path / f"tone{suffix}", tone(500, rate, 3.0), rate, kind, subtype)
    whole = path.read_bytes()
    path.write_bytes(whole[: int(kept * len(whole))])
    with pytest.raises(UnreadableAudio, match="cut short") as caught:
        read(path)
    if kind != "FLAC":  # a FLAC decoder cannot tell a cut from damage
        assert isinstance(caught.value, TruncatedAudio)


def test_a_recorder_that_could_not_go_back_to_its_header_is_still_heard(tmp_path: Path) -> None:
    path = written(tmp_path / "tone.wav", tone(500, RATE), RATE, "WAV", "PCM_16")
    whole = bytearray(path.read_bytes())
    whole[4:8] = whole[40:44] = b"\xff\xff\xff\xff"
    path.write_bytes(whole)
    assert read(path).duration_s == pytest.approx(1.0)


@pytest.mark.parametrize("bad", [np.nan, np.inf, -np.inf])
def test_samples_that_are_not_numbers_are_refused(tmp_path: Path, bad: float) -> None:
    wave = tone(500, RATE)
    wave[8000] = bad
    path = written(tmp_path / "tone.wav", wave, RATE, "WAV", "FLOAT")
    with pytest.raises(UnreadableAudio, match="not numbers"):
        read(path)
    assert read(path, 0.6, 0.9).duration_s == pytest.approx(0.3)


def test_samples_not_scaled_to_one_are_refused(tmp_path: Path) -> None:
    path = written(tmp_path / "tone.wav", tone(500, RATE, size=20_000), RATE, "WAV", "FLOAT")
    with pytest.raises(UnreadableAudio, match="full scale is 1"):
        read(path)


def test_a_hundred_channels_are_not_a_voice(tmp_path: Path) -> None:
    path = written(tmp_path / "many.wav", np.zeros((10, 100)), RATE, "WAV", "PCM_16")
    with pytest.raises(UnreadableAudio, match="100 channels"):
        read(path)


def test_names_in_any_script_can_be_read(tmp_path: Path) -> None:
    path = written(tmp_path / "pìne – Élodie 海.wav", tone(500, RATE), RATE, "WAV", "PCM_16")
    assert read(path).duration_s == pytest.approx(1.0)


def test_a_wav_header_written_by_hand_is_read(tmp_path: Path) -> None:
    """The canonical header of the 1991 RIFF specification, without soundfile's help."""
    body = struct.pack("<400h", *range(400))
    header = struct.pack(
        "<4sI4s4sIHHIIHH4sI",
        *(b"RIFF", 36 + len(body), b"WAVE", b"fmt ", 16, 1, 1, RATE, 2 * RATE, 2, 16),
        *(b"data", len(body)),
    )
    path = tmp_path / "hand.wav"
    path.write_bytes(header + body)
    np.testing.assert_allclose(read(path).samples, np.arange(400) / 32_768, atol=1e-7)


@pytest.mark.parametrize(
    ("samples", "rate"),
    [
        (np.zeros(4), RATE),
        (np.zeros((4, 1), np.float32), RATE),
        (np.zeros(4, np.float32), 8_000),
    ],
)
def test_an_utterance_is_mono_float32_at_16_khz(samples: Floats, rate: int) -> None:
    with pytest.raises(ValueError, match="an utterance"):
        Utterance(samples, rate)  # type: ignore[arg-type]
