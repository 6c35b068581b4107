"""A flat list of hypotheses, for catalogues too large or too plain for slots: one code per character and hypothesis.

Character k has a table P(state | code) [codes, states]; ``codes[k, h]`` says which row hypothesis h has. Posterior
by table lookup for each observation; ranking by one float32 matrix product over one-hot columns (codes minus one
per character), then small algebra. Reading the one-hot columns once is all the memory traffic that a ranking needs.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

from asfound.errors import InputError
from asfound.evidence.information import LN2, x_log_x
from asfound.evidence.observations import NothingFits

Floats = NDArray[np.float64]


class Flat:
    """A flat list of hypotheses.

    Parameters
    ----------
    prior : array [H]
    codes : array of small int [K, H]
        Character-major; kept as uint8.
    tables : sequence of arrays [codes of k, states of k]
        P(state | code), error of the way of seeing included; rows add up to 1.
    group : array of int [H], optional
        What each hypothesis leads to (a class, a decision); ranking is then about these instead of the hypotheses.

    Raises
    ------
    InputError
        Codes without a row in their table, more than 256 codes, probabilities that do not add up.
    """

    def __init__(
        self, prior: ArrayLike, codes: ArrayLike, tables: Sequence[ArrayLike], *, group: ArrayLike | None = None
    ) -> None:
        self.prior = np.asarray(prior, dtype=float)
        given = np.asarray(codes)
        self.tables = [np.asarray(table, dtype=float) for table in tables]
        if given.shape != (len(self.tables), len(self.prior)):
            raise InputError("codes", f"{given.shape}", "is no shape", allowed=f"{(len(self.tables), len(self.prior))}")
        for k, table in enumerate(self.tables):
            if not 1 <= len(table) <= 256:
                raise InputError(f"tables/{k}", f"{len(table)} codes", "is not possible", allowed="1 to 256")
            if given[k].size and not 0 <= given[k].min() <= given[k].max() < len(table):
                raise InputError(
                    f"codes/{k}", f"{given[k].max()}", "has no row in its table", allowed=f"0 to {len(table) - 1}"
                )
            if (table < 0).any() or np.abs(table.sum(axis=1) - 1).max() > 1e-6:
                raise InputError(f"tables/{k}", "a row", "does not add up to 1")
        if (self.prior < 0).any() or abs(self.prior.sum() - 1) > 1e-6:
            raise InputError("prior", f"{self.prior.sum():.9g}", "is what the priors add up to", allowed="1")
        self.codes = np.ascontiguousarray(given, dtype=np.uint8)
        with np.errstate(divide="ignore"):
            self.log_prior = np.log(self.prior)
            self.log_tables = [np.log(table) for table in self.tables]
        self.group = None if group is None else np.asarray(group, dtype=np.intp)
        self.laid_out = False

    def lay_out(self) -> None:
        """Make the one-hot columns and the padded tables that ranking uses; done at the first ranking."""
        if self.laid_out:
            return
        self.laid_out = True
        sizes = np.array([len(table) for table in self.tables])
        columns = np.concatenate([[0], np.cumsum(sizes - 1)])
        self.onehot = np.zeros((int(columns[-1]), len(self.prior)), dtype=np.float32)
        for k, size in enumerate(sizes):
            for code in range(1, size):
                self.onehot[columns[k] + code - 1] = self.codes[k] == code
        self.sizes = sizes
        most, states = int(sizes.max()), max(table.shape[1] for table in self.tables)
        self.padded = np.zeros((len(sizes), most, states))
        for k, table in enumerate(self.tables):
            self.padded[k, : len(table), : table.shape[1]] = table
        self.certain = x_log_x(self.padded).sum(axis=2)
        # Where column c of the one-hot part belongs in [K, codes]:
        self.k_of = np.repeat(np.arange(len(sizes)), sizes - 1)
        self.code_of = np.concatenate([np.arange(1, size) for size in sizes])

    def log_likelihood(self, observed: Mapping[int, int | Sequence[int]]) -> Floats:
        """Return log P(observations | hypothesis) [H]: one table lookup per observation.

        ``observed`` maps a character to the state seen, or to several that could not be told apart.
        """
        out = np.zeros(len(self.prior))
        for k, seen in observed.items():
            if isinstance(seen, (int, np.integer)):
                column = self.log_tables[k][:, seen]
            else:
                with np.errstate(divide="ignore"):
                    column = np.log(self.tables[k][:, list(seen)].sum(axis=1))
            out += column[self.codes[k]]
        return out

    def posterior(self, observed: Mapping[int, int | Sequence[int]], *, temperature: float = 1.0) -> Floats:
        """Return P(hypothesis | observations) [H]; ``temperature`` multiplies the log likelihoods."""
        log = self.log_likelihood(observed)
        if temperature != 1.0:
            log *= temperature
        log += self.log_prior
        most = log.max()
        if most == -np.inf:
            raise NothingFits("The observations exclude every hypothesis. Look again, or give the list an 'other'.")
        log -= most
        np.exp(log, out=log)
        log /= log.sum()
        return log

    def masses(self, p: Floats) -> Floats:
        """Return the probability of each code of each character [K, codes], by one pass over the one-hot columns."""
        self.lay_out()
        told = self.onehot @ p.astype(np.float32)
        out = np.zeros(self.padded.shape[:2])
        out[self.k_of, self.code_of] = told
        out[:, 0] = p.sum() - out.sum(axis=1)
        return np.maximum(out, 0.0)

    def bits(self, p: Floats) -> Floats:
        """Return what each character would tell about the hypotheses, or about their groups [K]. [bit]

        I = H(sum_h p_h P(o|h)) - sum_h p_h H(P(o|h)); single precision in the masses, so good to about 1e-6.
        """
        self.lay_out()
        if self.group is not None:
            return self.bits_of_groups(p)
        mass = self.masses(p)
        outcomes = np.einsum("kc,kco->ko", mass, self.padded)
        nats = (mass * self.certain).sum(axis=1) - x_log_x(outcomes).sum(axis=1)
        return np.asarray(np.maximum(nats / LN2, 0.0))

    def bits_of_groups(self, p: Floats) -> Floats:
        """Return what each character would tell about the groups [K]. [bit]"""
        assert self.group is not None
        n = int(self.group.max()) + 1
        spread = np.zeros((len(p), n), dtype=np.float32)
        spread[np.arange(len(p)), self.group] = p
        mass = np.zeros((*self.padded.shape[:2], n))
        mass[self.k_of, self.code_of] = self.onehot @ spread
        whole: Floats = np.bincount(self.group, weights=p, minlength=n).astype(float)
        mass[:, 0] = whole - mass.sum(axis=1)
        joint = np.einsum("kcg,kco->kog", np.maximum(mass, 0.0), self.padded)
        nats = x_log_x(joint).sum(axis=(1, 2)) - x_log_x(joint.sum(axis=2)).sum(axis=1) - x_log_x(whole).sum()
        return np.asarray(np.maximum(nats / LN2, 0.0))

    def rank(self, p: Floats, minutes: ArrayLike = 1.0, *, skip: Sequence[int] = ()) -> list[tuple[int, float, float]]:
        """Return (character, bits, bits per minute), best first, without those to skip; ties in catalogue order."""
        bits = self.bits(p)
        score = bits / np.maximum(np.broadcast_to(np.asarray(minutes, dtype=float), bits.shape), 1e-9)
        gone = set(skip)
        order = [int(k) for k in np.argsort(-np.round(score, 9), kind="stable") if int(k) not in gone]
        return [(k, float(bits[k]), float(score[k])) for k in order]
