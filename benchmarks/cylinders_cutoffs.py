"""Make `cylinders/data/robust_cutoffs.csv` again: what the oddest of a few sound sensors does, by simulation.

Run `python benchmarks/cylinders_cutoffs.py [draws]`; the table prints on standard output.
"""

from __future__ import annotations

import sys

import numpy as np

CHUNK = 100_000


def row(banks: int, sensors: int, draws: int) -> tuple[float, ...]:
    """Return MAD factor, the oddest z that 20, 10, 5, 2, 1 and 0.1 % exceed, and shares flagged at 3.5 and 5."""
    stream = np.random.default_rng([banks, sensors])
    oddest, spreads = [], []
    for start in range(0, draws, CHUNK):
        x = stream.standard_normal((min(CHUNK, draws - start), banks, sensors))
        away = np.abs(x - np.median(x, axis=2, keepdims=True)).reshape(len(x), -1)
        mad = np.median(away, axis=1)
        oddest.append(0.6745 * away.max(axis=1) / mad)
        spreads.append(mad)
    z, mads = np.concatenate(oddest), np.concatenate(spreads)
    tail = np.quantile(z, [0.80, 0.90, 0.95, 0.98, 0.99, 0.999])
    return 1.0 / mads.mean(), *tail, (z > 3.5).mean(), (z > 5.0).mean()


def main() -> None:
    """Print the table."""
    draws = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000
    print(f"# Simulated with {draws} draws, seed [banks, sensors]: benchmarks/cylinders_cutoffs.py")
    print("# source: own_calculation")
    print(
        "banks,sensors,mad_factor,cutoff_20pct,cutoff_10pct,cutoff_5pct,cutoff_2pct,cutoff_1pct,cutoff_01pct,"
        "flags_35,flags_5"
    )
    for banks, numbers in ((1, range(5, 25)), (2, range(3, 13))):
        for sensors in numbers:
            factor, *tail, one, two = row(banks, sensors, draws)
            shown = ",".join(f"{z:.3f}" for z in tail)
            print(f"{banks},{sensors},{factor:.4f},{shown},{one:.4f},{two:.4f}", flush=True)


if __name__ == "__main__":
    main()
