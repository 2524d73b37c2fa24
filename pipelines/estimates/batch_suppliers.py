"""Is it one batch or the supplier: suppliers held against each other, and batches that borrow from those of their supplier."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from pipelines.estimates.batch_cells import Cells
from pipelines.estimates.estimate import Estimate
from pipelines.estimates.grid import drawn_nodes, shares
from pipelines.estimates.proportion import normal_quantile
from pipelines.estimates.ranks import Rank, ranks
from pipelines.vocabulary import Because

#: How much batches of a supplier may differ, as the SD of the log ratio; its prior is half-normal with this SD.
SPREADS, SPREAD_PRIOR = np.array([0.03, 0.08, 0.15, 0.25, 0.4, 0.6, 0.9]), 0.5
#: How much suppliers may differ, before anything is seen: SD of the log ratio.
SUPPLIER_SD = 1.0
#: Newton's steps at the first spread, and at each one after it, which begins where the last one ended; a move that ends them.
FIRST_STEPS, NEXT_STEPS, NEAR = 12, 3, 1e-3
DRAWS = 4000


@dataclass(frozen=True)
class SupplierRatio:
    """A supplier: how many times as often its modules fail as those of a typical other one beside it, at equal age and place."""

    supplier: str
    batch_count: int
    failures: int
    ratio: Estimate
    _draws: np.ndarray = field(compare=False, repr=False)

    def ratio_at(self, level: float) -> Estimate:
        """Return the ratio with limits at another level (0–1)."""
        return _estimate(self._draws, level)


@dataclass(frozen=True)
class Suppliers:
    """because: why suppliers cannot be compared, with neither numbers nor rows. spread: SD of the log ratio between batches of
    a supplier. shrunk, ranks: by batch, against the mean of those it is joined with, borrowing from its supplier; None where
    nothing is known of it.
    """

    because: Because | None
    spread: Estimate
    suppliers: list[SupplierRatio]
    shrunk: list[Estimate | None]
    ranks: list[Rank | None]


def supplier_ratios(cells: Cells, supplier: list[str | None], alike: float, *, level: float = 0.95) -> Suppliers:
    """Compare suppliers with batches as a random effect. supplier: of each batch, None: not on record (left out).

    alike: how many times as large the variance is as that of independent modules, over all batches. With fewer than two suppliers
    whose modules stand beside each other: `one_supplier`. Method: the conditional likelihood of which batch each failure is
    of, given its stratum and age step, over `alike`; normal laws for batches in suppliers and for suppliers; Laplace's
    approximation at each spread, the spreads weighed on a grid. Limits are quantiles of DRAWS draws from a fixed seed.
    Sources: Breslow & Clayton (1993), JASA 88:9–25; for the conditional likelihood, Breslow & Day (1987) (both from memory).
    """
    normal_quantile(level)
    size = cells.batch_count
    names = sorted({name for name in supplier if name is not None})
    code = np.array([-1 if name is None else names.index(name) for name in supplier])
    cells = cells.fewer_steps()
    row, step, cell, failed = _beside(cells, code >= 0)
    told = np.unique(cells.batch[row])
    present = np.unique(code[told])
    refused = Estimate.refused(Because.ONE_SUPPLIER)
    place = np.full(size, -1)
    place[told] = np.arange(len(told))
    member = (code[told][:, None] == present).astype(float)
    joined = _joined(place[cells.batch[row]], cell, len(told))
    beside = (member.T @ joined @ member > 0) & ~np.eye(len(present), dtype=bool)
    if not beside.any():
        return Suppliers(Because.ONE_SUPPLIER, refused, [], [None] * size, [None] * size)
    likelihood = _Likelihood(
        place[cells.batch[row]], cell, np.log(cells.exposure[row, step]), cells.failures[row, step], failed, len(told), alike
    )
    draws, spread = _drawn(likelihood, member)
    batch = draws[:, : len(told)]
    effects = draws[:, len(told) :]
    present, effects, beside = _with_others(present, effects, beside)
    others = effects @ (beside / beside.sum(axis=0))
    failures = cells.failures.sum(axis=1)
    rows = [
        SupplierRatio(
            names[one], int((code == one).sum()), int(failures[code[cells.batch] == one].sum()), _estimate(values, level), values
        )
        for one, values in zip(present, np.exp(effects - others).T, strict=True)
    ]
    whole = np.exp(batch - batch @ (joined / joined.sum(axis=0)))
    estimates = [_estimate(values, level) for values in whole.T]
    ranked = ranks(whole, estimates=estimates, sizes=[1.0] * len(told), level=level).groups
    shrunk: list[Estimate | None] = [None] * size
    ranking: list[Rank | None] = [None] * size
    for one, estimate, rank in zip(told, estimates, ranked, strict=True):
        shrunk[one], ranking[one] = estimate, rank
    return Suppliers(None, _estimate(spread, level), rows, shrunk, ranking)


def _estimate(values: np.ndarray, level: float) -> Estimate:
    low, middle, high = np.quantile(values, [(1 - level) / 2, 0.5, (1 + level) / 2])
    return Estimate(float(middle), float(low), float(high))


def _beside(cells: Cells, is_used: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Return pair and step of each exposure in a cell (stratum and step) with failures, its cell, and the failures by cell."""
    steps = cells.failures.shape[1]
    row, step = np.nonzero((cells.exposure > 0) & is_used[cells.batch][:, None])
    cell = cells.stratum[row] * steps + step
    failures = np.bincount(cell, cells.failures[row, step])
    several = np.bincount(cell) > 1
    is_kept = (failures > 0)[cell] & several[cell]
    kept, number = np.unique(cell[is_kept], return_inverse=True)
    return row[is_kept], step[is_kept], number, failures[kept]


def _joined(batch: np.ndarray, cell: np.ndarray, size: int) -> np.ndarray:
    """Tell which batches are joined, directly or through others, by standing in the same cells: (batches, batches), 0 or 1."""
    from scipy.sparse import csr_matrix
    from scipy.sparse.csgraph import connected_components

    table = csr_matrix((np.ones(len(cell)), (cell, batch)), shape=(int(cell.max(initial=0)) + 1, size))
    _, part = connected_components(table.T @ table, directed=False)
    return (part[:, None] == part).astype(float)


def _with_others(present: np.ndarray, effects: np.ndarray, beside: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Leave out suppliers that stand beside no other."""
    kept = beside.any(axis=0)
    return present[kept], effects[:, kept], beside[np.ix_(kept, kept)].astype(float)


class _Likelihood:
    """The log of the chance of which batch each failure is of, in the batches' log ratios."""

    def __init__(self, batch, cell, log_exposure, failures, of_cell, size: int, alike: float) -> None:
        from scipy.sparse import csr_matrix

        self._batch, self._cell, self._log_exposure, self._of_cell = batch, cell, log_exposure, of_cell
        self.size, self._alike = size, alike
        self._seen = np.bincount(batch, failures, size)
        self._matrix = csr_matrix

    def value(self, beta: np.ndarray) -> float:
        weight = np.exp(self._log_exposure + beta[self._batch])
        return float(self._seen @ beta - self._of_cell @ np.log(np.bincount(self._cell, weight))) / self._alike

    def at(self, beta: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Return the slopes and minus the second slopes."""
        weight = np.exp(self._log_exposure + beta[self._batch])
        whole = np.bincount(self._cell, weight)
        share = weight / whole[self._cell]
        due = np.bincount(self._batch, share * self._of_cell[self._cell], self.size)
        table = self._matrix(
            (share * np.sqrt(self._of_cell)[self._cell], (self._cell, self._batch)), shape=(len(whole), self.size)
        )
        information = np.diag(due) - (table.T @ table).toarray()
        return (self._seen - due) / self._alike, information / self._alike


def _drawn(likelihood: _Likelihood, member: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Draw log ratios of batches and suppliers, (draws, batches + suppliers), and the spread, (draws,)."""
    from scipy.linalg import cho_solve, solve_triangular

    batches, suppliers = member.shape
    theta = np.zeros(batches + suppliers)
    modes, log_weight = [], []
    for number, spread in enumerate(SPREADS):
        prior = np.block([
            [np.eye(batches), -member],
            [-member.T, member.T @ member],
        ]) / spread**2  # fmt: skip
        prior[batches:, batches:] += np.eye(suppliers) / SUPPLIER_SD**2
        for _ in range(FIRST_STEPS if number == 0 else NEXT_STEPS):
            slope, information = likelihood.at(theta[:batches])
            curve = prior.copy()
            curve[:batches, :batches] += information
            factor = np.linalg.cholesky(curve)
            full = -prior @ theta
            full[:batches] += slope
            move = cho_solve((factor, True), full)
            theta = theta + move / max(1.0, abs(move).max())
            if abs(move).max() < NEAR:
                break
        value = likelihood.value(theta[:batches])
        log_weight.append(
            value - theta @ prior @ theta / 2 - batches * np.log(spread) - np.log(np.diag(factor)).sum()
            - (spread / SPREAD_PRIOR) ** 2 / 2 + np.log(np.gradient(SPREADS)[number])
        )  # fmt: skip
        modes.append((theta.copy(), factor))
    rng = np.random.default_rng(20)
    of_draw = drawn_nodes(shares(np.array(log_weight)), DRAWS)
    normal = rng.standard_normal((DRAWS, batches + suppliers))
    draws = np.empty_like(normal)
    for node, (mode, factor) in enumerate(modes):
        mine = of_draw == node
        if mine.any():
            draws[mine] = mode + solve_triangular(factor, normal[mine].T, lower=True, trans="T").T
    return draws, SPREADS[of_draw]
