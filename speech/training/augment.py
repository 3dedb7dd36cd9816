"""Rooms, microphones, voices and noises, applied to whole batches on the GPU."""

from __future__ import annotations

import math

import torch
from torch import Tensor
from torch.nn import functional as F

from speech.features import FFT, HOP, mel_filters, warped_mel_filters

WARPS = (0.74, 0.77, 0.8, 0.83, 0.86, 0.89, 0.92, 0.95, 0.98, 1.01, 1.05, 1.1, 1.15, 1.2, 1.25)
"""Vocal tract warps. Below 1 raises formants, as a shorter tract does."""
BANK_S = 20


class Augment:
    """Random changes of sound; each method takes and gives (batch, samples) float32, 16 kHz."""

    def __init__(self, device: torch.device, seed: int) -> None:
        self.device = device
        self.rng = torch.Generator(device=device)
        self.rng.manual_seed(seed)
        self.window = torch.hann_window(FFT, device=device)
        self.plain = torch.from_numpy(mel_filters()).to(device)
        self.bank = self._noise_bank(48, BANK_S * 16000)
        self.filters = torch.stack(
            [torch.from_numpy(warped_mel_filters(warp)).to(device) for warp in WARPS]
        )

    def uniform(self, count: int, low: float, high: float) -> Tensor:
        """``count`` numbers between ``low`` and ``high``."""
        return torch.rand(count, generator=self.rng, device=self.device) * (high - low) + low

    def _noise_bank(self, rows: int, length: int) -> Tensor:
        """Noises of unit power, (rows, length).

        Half are steady with spectral slopes from white to brown; a quarter swell and fade as rain,
        fans and traffic do; a quarter are chords of steady or gliding tones: mains hum, machines,
        music.
        """
        white = torch.randn(rows, length, generator=self.rng, device=self.device)
        spectrum = torch.fft.rfft(white)
        place = torch.arange(1, spectrum.shape[1] + 1, device=self.device).float()
        slope = torch.linspace(0.0, 1.0, rows, device=self.device)[:, None]
        noise = torch.fft.irfft(spectrum * place[None] ** -slope, n=length)
        time = torch.arange(length, device=self.device) / 16000
        half, quarter = rows // 2, rows // 4
        swell = 0.6 + 0.4 * torch.sin(2 * math.pi * self.uniform(quarter, 0.3, 8)[:, None] * time)
        noise[half : half + quarter] *= swell
        tones = torch.zeros(rows - half - quarter, length, device=self.device)
        for number in range(6):
            pitch = 50 * 2 ** self.uniform(len(tones), 0, 5)[:, None]
            glide = self.uniform(len(tones), -0.03, 0.03)[:, None] * (number % 2)
            strength = self.uniform(len(tones), 0, 1)[:, None]
            tones += strength * torch.sin(2 * math.pi * pitch * (time + glide * time.square() / 2))
        noise[half + quarter :] = tones + 0.02 * noise[half + quarter :]
        return noise / noise.square().mean(1, keepdim=True).sqrt()

    def noise(self, batch: int, length: int) -> Tensor:
        """Random stretches of the noise bank."""
        row = torch.randint(len(self.bank), (batch, 1), generator=self.rng, device=self.device)
        start = self.uniform(batch, 0, self.bank.shape[1] - length - 1).long()[:, None]
        return self.bank[row, start + torch.arange(length, device=self.device)[None]]

    def room(self, x: Tensor) -> Tensor:
        """Reverberation: the sound itself and an exponentially dying tail, on two in five."""
        batch, length = x.shape
        taps = 4800
        time = torch.arange(taps, device=self.device) / 16000
        decay = self.uniform(batch, 0.08, 0.5)[:, None]
        tail = torch.randn(batch, taps, generator=self.rng, device=self.device)
        tail = tail * torch.exp(-6.9 * time[None] / decay)
        tail = tail / tail.norm(dim=1, keepdim=True)
        wet = self.uniform(batch, 0.05, 0.7) * (self.uniform(batch, 0, 1) < 0.4)
        response = tail * wet[:, None]
        response[:, 0] = 1.0
        size = 1 << (length + taps - 1).bit_length()
        return torch.fft.irfft(
            torch.fft.rfft(x, n=size) * torch.fft.rfft(response, n=size), n=size
        )[:, :length]

    def add_noise(self, x: Tensor) -> Tensor:
        """Steady noise at 5 to 50 dB under the speech, and babble of the batch on one in six."""
        batch, length = x.shape
        power = x.square().mean(1, keepdim=True)
        quiet_room = 10 ** self.uniform(batch, -6, -2)[:, None]  # where nothing is said
        power = torch.where(power < 1e-7, quiet_room, power)
        level = torch.sqrt(power / 10 ** (self.uniform(batch, 5, 50)[:, None] / 10))
        y = x + self.noise(batch, length) * level
        babble = x.roll(1, 0) + x.roll(3, 0) + x.roll(7, 0)
        babble = babble / babble.square().mean(1, keepdim=True).sqrt().clamp_min(1e-6)
        chosen = (self.uniform(batch, 0, 1) < 1 / 6)[:, None]
        under = torch.sqrt(power / 10 ** (self.uniform(batch, 10, 30)[:, None] / 10))
        return y + babble * under * chosen

    def log_mel(self, x: Tensor, child: Tensor | None = None) -> Tensor:
        """Whisper's log-mel (see ``speech.features``), changed where ``child`` is given.

        ``child`` (batch,) is true for voices of children: these are warped to either side,
        adults' mostly towards a child's. Tone and band limits change too.
        """
        spectrum = torch.stft(
            x, FFT, HOP, window=self.window, center=True, pad_mode="reflect", return_complex=True
        )
        power = spectrum[..., :-1].abs().square()
        filters = self.plain.expand(x.shape[0], -1, -1)
        if child is not None:
            batch, bins = power.shape[:2]
            knots = torch.randn(batch, 1, 8, generator=self.rng, device=self.device) * 4
            tone_db = F.interpolate(knots, size=bins, mode="linear", align_corners=True)[:, 0]
            power = power * 10 ** (tone_db / 10)[..., None]
            top = torch.where(
                self.uniform(batch, 0, 1) < 0.15, self.uniform(batch, 3500, 7000), 8000.0
            )
            hertz = torch.arange(bins, device=self.device) * 16000 / FFT
            power = power * (hertz[None] <= top[:, None])[..., None].float().clamp_min(1e-5)
            choice = torch.randint(len(WARPS), (batch,), generator=self.rng, device=self.device)
            filters = self.filters[choice]
        log = torch.log10((filters @ power).clamp_min(1e-10))
        log = torch.maximum(log, log.amax((1, 2), keepdim=True) - 8.0)
        return (log + 4.0) / 4.0

    def stretched(self, frames: int, end: Tensor, share: float) -> Tensor:
        """Where each output frame is taken from, (batch, frames), in input frames.

        On a ``share`` of clips one stretch of the sound is drawn out, to at most three times its
        length and never past the clip's last frame: a child who holds a sound. Only the time axis
        of the log-mel is changed, so that pitch and formants stay.

        Parameters
        ----------
        end : Tensor, shape (batch,)
            Frame where the sound ends.
        """
        batch = len(end)
        start = (end * self.uniform(batch, 0, 0.9)).floor()
        span = self.uniform(batch, 6, 30)
        factor = torch.minimum(self.uniform(batch, 1, 3), 1 + (frames - end).clamp_min(0) / span)
        factor = torch.where(self.uniform(batch, 0, 1) < share, factor, 1.0)[:, None]
        place = torch.arange(frames, device=self.device)[None].float()
        into = (place - start[:, None]).clamp_min(0)
        longer = span[:, None] * factor
        return torch.where(
            into < longer, torch.minimum(place, start[:, None]) + into / factor,
            place - (longer - span[:, None]),
        )  # fmt: skip

    def mask(self, mel: Tensor) -> Tensor:
        """SpecAugment (Park et al. 2019): two bands of up to 14 mels, two spans of 6 frames."""
        return self._masked(self._masked(mel))

    def _masked(self, mel: Tensor) -> Tensor:
        batch, mels, frames = mel.shape
        mel = mel.clone()
        bands = torch.arange(mels, device=self.device)[None]
        start = self.uniform(batch, 0, mels)[:, None]
        hidden = (bands >= start) & (bands < start + self.uniform(batch, 0, 14)[:, None])
        mel.masked_fill_(hidden[:, :, None], 0.0)
        steps = torch.arange(frames, device=self.device)[None]
        start = self.uniform(batch, 0, frames)[:, None]
        hidden = (steps >= start) & (steps < start + self.uniform(batch, 0, 6)[:, None])
        mel.masked_fill_(hidden[:, None, :], 0.0)
        return mel
