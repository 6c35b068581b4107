"""Hunting: a swing with a period of its own, its size, and when in the day it comes.

Welch's averaged spectrum (1967, IEEE Trans. Audio Electroacoust. 15, 70) against a red-noise background fitted robustly
to it (Mann and Lees 1996, Climatic Change 33, 409); the highest peak counts when chance would raise one as high among
all frequencies in fewer than 1 of 1,000 logs. Gain and lag of one signal behind another at that period come from the
cross-spectrum, with the errors of Bendat and Piersol (Random data, table of statistical errors; from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from asfound.errors import InputError
from asfound.history.estimate import UNKNOWN, Estimate
from asfound.history.even import even, longest_stretch
from asfound.quantities.typing import Array

RARE = 0.001
PIECES = 16
"""Half-overlapping pieces of the averaged spectrum."""


@dataclass(frozen=True, slots=True)
class Hunting:
    """The strongest swing of a signal."""

    found: bool
    period: Estimate
    """s."""
    amplitude: Estimate
    """Half of top to bottom of the mean swing, unit of the signal."""
    chance: float
    """Probability that noise of the same colour raises such a peak anywhere in the spectrum."""
    times: Array
    """Middle of each piece, s."""
    amplitudes: Array
    """Of the swing in each piece: when it hunts."""


def hunting(time: npt.ArrayLike, x: Array, *, pieces: int = PIECES) -> Hunting:
    """Return the strongest periodic swing of a signal.

    Parameters
    ----------
    time : array of shape (n,)
        See `seconds`; the longest stretch without a hole is used.
    x : array of shape (n,)
    pieces : int
        More find a swing whose period wanders, fewer one that is slow.

    Raises
    ------
    InputError
        Fewer than 16 samples in a piece.
    """
    grid, values, step = even(time, x)
    there = longest_stretch(values)
    grid, values = grid[there], values[there]
    length = 2 * values.size // (pieces + 1)
    if length < 16:
        raise InputError(
            "samples", str(values.size), "are too few for a spectrum", allowed=f"{8 * (pieces + 1)} or more"
        )
    spectra, starts = _spectra(values[:, None], length)
    power = np.abs(spectra[:, :, 0]) ** 2
    mean = power.mean(axis=0)
    usable = slice(2, length // 2)
    background = _red(mean[usable], usable.start, length)
    ratio = mean[usable] / background
    at = int(ratio.argmax())
    chance = _chance(float(ratio[at]), ratio.size, pieces)
    each = [_swing(row, at + usable.start, float(background[at]), length) for row in power]
    periods = np.array([length * step / place for place, _ in each])
    sizes = np.array([size for _, size in each])
    times = grid[starts] + 0.5 * length * step
    if chance > RARE:
        return Hunting(False, UNKNOWN, UNKNOWN, chance, times, sizes)
    place, size = _swing(mean, at + usable.start, float(background[at]), length)
    independent = max(pieces / 2.0, 2.0)  # half-overlapping pieces share samples
    strong = sizes >= 0.5 * sizes.max()
    period = Estimate.of(
        length * step / place, float(periods[strong].std(ddof=1) / math.sqrt(max(strong.sum() / 2.0, 2.0)))
        if strong.sum() > 2 else step * length / place**2, independent - 1.0,
    )  # fmt: skip
    amplitude = Estimate.of(size, float(sizes.std(ddof=1)) / math.sqrt(independent), independent - 1.0)
    return Hunting(True, period, amplitude, chance, times, sizes)


def _spectra(columns: Array, length: int) -> tuple[npt.NDArray[np.complex128], npt.NDArray[np.int64]]:
    """Return spectra of half-overlapping Hann pieces, shape (pieces, frequencies, columns); a sine of amplitude A
    gives A.
    """
    starts = np.arange(0, len(columns) - length + 1, length // 2)
    window = 0.5 - 0.5 * np.cos(2.0 * math.pi * (np.arange(length) + 0.5) / length)
    pieces = np.lib.stride_tricks.sliding_window_view(columns, length, axis=0)[starts]  # (pieces, columns, length)
    t = np.linspace(-0.5, 0.5, length)
    off = pieces - pieces.mean(axis=-1, keepdims=True)
    off = off - (off @ t / (t @ t))[..., None] * t
    found = np.fft.rfft(off * window, axis=-1) * 2.0 / window.sum()
    return np.moveaxis(found, -1, 1), starts.astype(np.int64)


def _red(mean: Array, first: int, length: int) -> Array:
    """Return the spectrum of red noise on a white floor, fitted to the logarithms of a spectrum by least deviations.

    First-order noise has 1 / (1 + phi^2 - 2 phi cos w); a peak is a few frequencies among many and hardly counts.
    """
    w = 2.0 * math.pi * (first + np.arange(mean.size)) / length
    phi = 1.0 - np.geomspace(1e-3, 1.0, 40)
    floor = np.concatenate([[0.0], np.geomspace(1e-3, 1e3, 25)])
    red = 1.0 / (1.0 + phi[:, None] ** 2 - 2.0 * phi[:, None] * np.cos(w))
    tried = np.log(red[:, None, :] + floor[None, :, None]).reshape(-1, mean.size)
    off = np.log(np.maximum(mean, 1e-300)) - tried
    off -= np.median(off, axis=1, keepdims=True)
    best = int(np.abs(off).mean(axis=1).argmin())
    found: Array = np.exp(np.log(np.maximum(mean, 1e-300)) - off[best])
    return found


def _chance(ratio: float, frequencies: int, pieces: int) -> float:
    from scipy.special import gammaincc, gammaincinv  # costs at the start of a program that never asks

    freedom = 2.0 * pieces * 9.0 / 11.0  # Welch: half-overlapping Hann pieces
    median = float(gammaincinv(freedom / 2.0, 0.5)) * 2.0
    alone = float(gammaincc(freedom / 2.0, 0.5 * ratio * median))
    return float(-math.expm1(frequencies * math.log1p(-min(alone, 1.0 - 1e-16))))


def _swing(power: Array, at: int, background: float, length: int) -> tuple[float, float]:
    """Return the place (in frequency steps) and amplitude of the swing near a frequency of one averaged spectrum."""
    low, high = max(at - 2, 1), min(at + 3, length // 2)
    near = power[low:high]
    peak = low + int(near.argmax())
    around = power[max(peak - 1, 1) : peak + 2]
    logs = np.log(np.maximum(around, 1e-300))
    shift = 0.0
    if around.size == 3 and logs[0] - 2.0 * logs[1] + logs[2] < 0.0:
        shift = float(0.5 * (logs[0] - logs[2]) / (logs[0] - 2.0 * logs[1] + logs[2]))
    # a Hann window spreads the power of a sine over 1.5 bins
    total = float(np.maximum(power[max(peak - 2, 0) : peak + 3] - background, 0.0).sum()) / 1.5
    return peak + float(np.clip(shift, -0.5, 0.5)), math.sqrt(total)


@dataclass(frozen=True, slots=True)
class Transfer:
    """How one signal follows another at one period."""

    gain: Estimate
    """Unit of b per unit of a."""
    delay: Estimate
    """By how much b comes after a, s, between minus and plus half a period."""
    coherence: float
    """0 no link, 1 b is wholly a."""


def transfer(time: npt.ArrayLike, a: Array, b: Array, period: float, *, pieces: int = PIECES) -> Transfer:
    """Return gain and delay of b behind a at a period, s, with their intervals; delay is known up to whole periods."""
    _, one, step = even(time, np.where(np.isfinite(b), a, np.nan))
    _, two, _ = even(time, np.where(np.isfinite(a), b, np.nan))
    size = min(one.size, two.size)
    both = np.column_stack([one[:size], two[:size]])
    both = both[longest_stretch(both)]
    length = 2 * len(both) // (pieces + 1)
    place = round(length * step / period)
    if length < 16 or not 1 <= place < length // 2:
        raise InputError("period", f"{period:g} s", "does not fit this log", allowed=f"{2.5 * step:g} s and longer")
    spectra, _ = _spectra(both, length)
    near = spectra[:, max(place - 1, 1) : place + 2]
    cross = (np.conj(near[..., 0]) * near[..., 1]).sum()
    of_a, of_b = (float((np.abs(near[..., k]) ** 2).sum()) for k in (0, 1))
    if of_a <= 0.0 or of_b <= 0.0:
        return Transfer(UNKNOWN, UNKNOWN, 0.0)
    coherence = min(float(abs(cross) ** 2) / (of_a * of_b), 1.0)
    averages = pieces * 9.0 / 11.0
    error = math.sqrt((1.0 - coherence) / (2.0 * averages * max(coherence, 1e-12)))
    gain = float(abs(cross)) / of_a
    delay = -float(np.angle(cross)) * period / (2.0 * math.pi)
    return Transfer(
        Estimate.of(gain, gain * error), Estimate.of(delay, min(error, math.pi) * period / (2.0 * math.pi)), coherence
    )
