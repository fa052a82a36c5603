"""Log-likelihood of one mode of failure in many conditions at once, with its derivatives, for many settings at once.

A tap of one condition has the cumulative hazard H = (t / scale)^shape. Over several conditions each hole uses up life
at the rate of its condition (cumulative exposure): H = (sum of holes_c / scale_c)^shape. Taps of a kind differ: the
hazard of each is multiplied by a gamma variable of mean 1 and variance `frailty`, so a share
S = (1 + frailty H)^(-1 / frailty) of them survives, exp(-H) without frailty. Written with A = -log S:

- survived from entry to its last good age     A(entry) - A(age)
- failed somewhere in (lower, upper]            A(entry) - A(lower) + log(1 - exp(A(lower) - A(upper)))
- failed exactly at t                           log h(t) - (1 + frailty) A(t) + A(entry), h the hazard without frailty

Parameters of a condition are its log shape b and log scale m; all arrays lead with the settings, shape (k, c).

References: W. Nelson, Accelerated Testing, 1990, chapter 10 (cumulative exposure); P. Hougaard, Analysis of
Multivariate Survival Data, 2000, section 2.4 (gamma frailty); J. P. Klein & M. L. Moeschberger, Survival Analysis,
2nd ed. 2003, section 3.5 (likelihoods). Derivatives: own derivation, held against differences by a test.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shopfloor.core.observations import BoolArray, FloatArray
from shopfloor.core.pool.conditions import Histories, IntArray

MOST_LOG_HAZARD = 300.0
"""exp(300) is beyond any hazard, and its square still is a double."""


@dataclass(frozen=True, eq=False)
class Terms:
    """The log-likelihood's value, shape (k,), its gradient and the negative Hessian, by (b, m) of each condition.

    `by_b`, `by_m`: shape (k, c). `bb`, `bm`, `mm`: shape (k, c), never making the whole less than positive
    semi-definite; `across`: shape (k, 2 c, 2 c), what lives over several conditions add, 0 where there are none.
    """

    value: FloatArray
    by_b: FloatArray
    by_m: FloatArray
    bb: FloatArray
    bm: FloatArray
    mm: FloatArray
    across: FloatArray | float = 0.0


def spent(hazard: FloatArray, frailty: FloatArray) -> FloatArray:
    """A = -log of the share that survives a cumulative hazard; arrays that broadcast."""
    is_frail = frailty > 0
    safe = np.where(is_frail, frailty, 1.0)
    return np.where(is_frail, np.log1p(safe * hazard) / safe, hazard)


@dataclass(frozen=True, eq=False)
class _Curve:
    """A at some ages with its first and second derivative by w = log H."""

    value: FloatArray
    first: FloatArray
    second: FloatArray

    @classmethod
    def at(cls, log_hazard: FloatArray, frailty: FloatArray) -> _Curve:
        hazard = np.exp(np.minimum(log_hazard, MOST_LOG_HAZARD))
        left = 1 / (1 + frailty * hazard)
        return cls(spent(hazard, frailty), hazard * left, hazard * left * left)


@dataclass(frozen=True, eq=False)
class _Ages:
    """Ages at which something was seen of plain lives: condition, log age, and the sums over them as matrices (n, c).

    `weight` counts A itself, `frail` what frailty adds for exact failures.
    """

    condition: IntArray
    log_age: FloatArray
    weight: FloatArray
    frail: FloatArray


class ModeLikelihood:
    """The likelihood of one mode; lives that failed otherwise had survived this mode until then."""

    def __init__(self, histories: Histories, mode: str | None, conditions: int) -> None:
        lives = histories.lives
        failed = lives.is_failure if mode is None else lives.is_failure & (lives.mode == mode)
        self.failures = np.bincount(histories.condition[failed], lives.count[failed], conditions)
        plain = ~histories.is_mixed
        exact, between = failed & lives.is_exact, failed & ~lives.is_exact
        self._conditions = conditions
        self._read_ages(histories, plain, exact)
        self._read_between(histories, plain & between)
        self._mixed = _Mixed(histories, exact[~plain], between[~plain]) if len(histories.mixed) else None

    def _read_ages(self, histories: Histories, plain: BoolArray, exact: BoolArray) -> None:
        lives, where, n = histories.lives, histories.condition, self._conditions
        good, known, late = plain & (lives.lower > 0), plain & exact, plain & (lives.entry > 0)
        condition = np.concatenate([where[good], where[known], where[late]])
        age = np.concatenate([lives.lower[good], lives.lower[known], lives.entry[late]])
        weight = np.concatenate([-lives.count[good], 0 * lives.count[known], lives.count[late]])
        frail = np.concatenate([0 * lives.count[good], -lives.count[known], 0 * lives.count[late]])
        # Ages repeat, since batches are whole numbers of holes: each is worked out once.
        keys, place = np.unique(np.array([condition, age]), axis=1, return_inverse=True)
        place = place.ravel()
        which = keys[0].astype(np.int64)
        rows = (np.arange(len(which)), which)
        sums = np.zeros((2, len(which), n))
        sums[0][rows] = np.bincount(place, weight, len(which))
        sums[1][rows] = np.bincount(place, frail, len(which))
        self._ages = _Ages(which, np.log(keys[1]), sums[0], sums[1])
        self._exact = np.bincount(where[known], lives.count[known], n)
        self._log_ages = np.bincount(where[known], lives.count[known] * np.log(lives.lower[known]), n)

    def _read_between(self, histories: Histories, which: BoolArray) -> None:
        lives, where = histories.lives, histories.condition[which]
        self._between = where
        self._low = np.log(np.maximum(lives.lower[which], 1e-300))
        self._up = np.log(lives.upper[which])
        self._sums = np.zeros((len(where), self._conditions))
        self._sums[np.arange(len(where)), where] = lives.count[which]

    def terms(self, b: FloatArray, m: FloatArray, frailty: FloatArray) -> Terms:
        """At b, m of shape (k, c) and frailty of shape (k,)."""
        theta = frailty[:, None]
        shape = np.exp(b)
        drift = shape * (self._log_ages - self._exact * m)
        value = self._exact * b + drift - self._log_ages
        exact = [value, self._exact + drift, -shape * self._exact, -drift, shape * self._exact, np.zeros_like(b)]
        parts = zip(exact, self._at_ages(shape, m, theta), self._in_between(shape, m, theta), strict=True)
        value, by_b, by_m, bb, bm, mm = (np.asarray(sum(part), float) for part in parts)
        plain = Terms(value.sum(axis=1), by_b, by_m, *_semi_definite(bb, bm, mm))
        return plain if self._mixed is None else self._mixed.added_to(plain, b, m, theta)

    def at_one(self, place: int, b: FloatArray, m: FloatArray, frailty: FloatArray) -> FloatArray:
        """The log-likelihood of the plain lives of one condition at many (b, m, frailty), shape (s,)."""
        shape, scale, theta = np.exp(b)[:, None], m[:, None], frailty[:, None]
        value = self._exact[place] * b + shape[:, 0] * (self._log_ages[place] - self._exact[place] * m)
        here = self._ages.condition == place
        ages = _Curve.at(shape * (self._ages.log_age[here] - scale), theta).value
        value = value + ages @ self._ages.weight[here, place] + frailty * (ages @ self._ages.frail[here, place])
        inside = self._between == place
        low, up = (_Curve.at(shape * (ends[inside] - scale), theta).value for ends in (self._low, self._up))
        gap = np.clip(up - low, 1e-120, 600.0)
        return np.asarray(value + np.log(-np.expm1(-gap)) @ self._sums[inside, place] - self._log_ages[place])

    def _at_ages(self, shape: FloatArray, m: FloatArray, theta: FloatArray) -> list[FloatArray]:
        seen = self._ages
        if not len(seen.condition):
            return [np.zeros_like(m)] * 6
        w = shape[:, seen.condition] * (seen.log_age - m[:, seen.condition])
        curve = _Curve.at(w, theta)

        def summed(values: FloatArray) -> FloatArray:
            plain: FloatArray = values @ seen.weight
            return plain + theta * (values @ seen.frail) if theta.any() else plain

        first, second = summed(curve.first), summed(curve.second)
        slope, bend, twist = summed(curve.first * w), summed(curve.second * w * w), summed(curve.second * w)
        return [
            summed(curve.value), slope, -shape * first,
            -(bend + slope), shape * (twist + first), -(shape**2) * second,
        ]  # fmt: skip

    def _in_between(self, shape: FloatArray, m: FloatArray, theta: FloatArray) -> list[FloatArray]:
        """log(1 - exp(A(lower) - A(upper))) of interval failures; surviving to `lower` counts among the ages."""
        if not len(self._between):
            return [np.zeros_like(m)] * 6
        shapes, scales = shape[:, self._between], m[:, self._between]
        w1, w2 = shapes * (self._low - scales), shapes * (self._up - scales)
        low, up = _Curve.at(w1, theta), _Curve.at(w2, theta)
        gap = np.clip(up.value - low.value, 1e-120, 600.0)
        rise = np.exp(-gap) / -np.expm1(-gap)
        fall = -rise * (1 + rise)
        by_b = up.first * w2 - low.first * w1
        by_m = -shapes * (up.first - low.first)
        bb = up.second * w2**2 - low.second * w1**2 + by_b
        bm = -shapes * (up.second * w2 - low.second * w1) + by_m
        mm = shapes**2 * (up.second - low.second)
        columns = [
            np.log(-np.expm1(-gap)), rise * by_b, rise * by_m,
            -(rise * bb + fall * by_b**2), -(rise * bm + fall * by_b * by_m), -(rise * mm + fall * by_m**2),
        ]  # fmt: skip
        return [column @ self._sums for column in columns]


def _semi_definite(bb: FloatArray, bm: FloatArray, mm: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Each symmetric 2 x 2 matrix with its negative eigenvalues put to 0, so that Newton steps always climb."""
    middle, half = (bb + mm) / 2, (bb - mm) / 2
    reach = np.hypot(half, bm)
    is_bad = middle - reach < 0
    if not is_bad.any():
        return bb, bm, mm
    top = np.maximum(middle + reach, 0.0)
    # The eigenvector of the larger eigenvalue, from whichever column does not cancel.
    along_b = np.where(half >= 0, half + reach, bm)
    along_m = np.where(half >= 0, bm, reach - half)
    share = top / np.maximum(along_b**2 + along_m**2, 1e-300)
    return (
        np.where(is_bad, share * along_b**2, bb),
        np.where(is_bad, share * along_b * along_m, bm),
        np.where(is_bad, share * along_m**2, mm),
    )


@dataclass(frozen=True, eq=False)
class _Exposed:
    """Lives at one of their ages: log H, A, and the gradient of log H by all parameters, shape (k, n, 2 c)."""

    log_hazard: FloatArray
    curve: _Curve
    gradient: FloatArray


class _Mixed:
    """Lives over several conditions. Their part of the Hessian is as in a least-squares fit: never negative."""

    def __init__(self, histories: Histories, exact: BoolArray, between: BoolArray) -> None:
        m = len(histories.mixed)
        self._condition = histories.condition[-m:]
        self._count = histories.lives.count[-m:]
        self._exact, self._between = np.where(exact, self._count, 0.0), between
        self._holes = histories.mixed
        self._rows = np.arange(m)
        self._last = np.zeros((m, histories.mixed.shape[2]))
        self._last[self._rows, self._condition] = 1.0

    def added_to(self, plain: Terms, b: FloatArray, m: FloatArray, theta: FloatArray) -> Terms:
        """The terms of the plain lives with those of these lives."""
        low, up, entry = (self._exposed(holes, b, m, theta) for holes in self._holes.transpose(1, 0, 2))
        n, known = self._count, self._exact
        gap = np.where(self._between, np.clip(up.curve.value - low.curve.value, 1e-120, 600.0), 1.0)
        rise = np.where(self._between, n * np.exp(-gap) / -np.expm1(-gap), 0.0)
        shape, where = np.exp(b)[:, self._condition], self._condition
        log_rate = b[:, where] + low.log_hazard * (1 - 1 / shape) - m[:, where]
        value = n * (entry.curve.value - low.curve.value) + known * (log_rate - theta * low.curve.value)
        value = value + np.where(self._between, n * np.log(-np.expm1(-gap)), 0.0)
        pulls = (
            (entry, n * entry.curve.first),
            (low, known * (1 - 1 / shape) - (n + known * theta + rise) * low.curve.first),
            (up, rise * up.curve.first),
        )
        gradient = np.sum([np.einsum("kn,knp->kp", pull, point.gradient) for point, pull in pulls], axis=0)
        across = self._bent(low.gradient, (n + known * theta) * low.curve.second)
        widening = up.curve.first[..., None] * up.gradient - low.curve.first[..., None] * low.gradient
        across = across + self._bent(widening, rise * (1 + rise / n))
        c = b.shape[1]
        # log h has b and -m of the last condition in it, and b again within 1 / shape.
        more_b = gradient[:, :c] + (known * (1 + low.log_hazard / shape)) @ self._last
        more_m = gradient[:, c:] - known @ self._last
        return Terms(
            plain.value + value.sum(axis=1), plain.by_b + more_b, plain.by_m + more_m,
            plain.bb, plain.bm, plain.mm, across,
        )  # fmt: skip

    def _exposed(self, holes: FloatArray, b: FloatArray, m: FloatArray, theta: FloatArray) -> _Exposed:
        k, c = b.shape
        used = holes[None] * np.exp(-m)[:, None, :]
        total = used.sum(axis=2)
        is_used = total > 0
        share = used / np.where(is_used, total, 1.0)[..., None]
        shape = np.exp(b)[:, self._condition]
        log_hazard = np.where(is_used, shape * np.log(np.where(is_used, total, 1.0)), -2 * MOST_LOG_HAZARD)
        gradient = np.zeros((k, len(self._rows), 2 * c))
        gradient[:, self._rows, self._condition] = log_hazard
        gradient[..., c:] = -shape[..., None] * share
        return _Exposed(log_hazard, _Curve.at(log_hazard, theta), gradient)

    @staticmethod
    def _bent(gradient: FloatArray, weight: FloatArray) -> FloatArray:
        """Sum over lives of weight * gradient gradient', shape (k, 2 c, 2 c)."""
        return np.asarray(np.swapaxes(gradient * weight[..., None], 1, 2) @ gradient)
