"""Probability of connectivity, equivalent connected area, importances, and the metapopulation capacity."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.linalg import ArpackNoConvergence, eigsh

from habitat.arrays import Floats, Ints
from habitat.connectivity.graph import _kernels, _removal_kernels, _sweep_kernels
from habitat.connectivity.graph.contraction import contract
from habitat.connectivity.graph.passages import (
    Graph,
    Returning,
    components,
    limit_of,
    threads_for,
    without_dominated,
)

DENSE_UP_TO = 4_000
"""Patches up to which best passages between all pairs are held at once (128 MB)."""
EXACT_UP_TO = 5_000
"""Patches up to which every source is searched for the passing part; beyond it sources are sampled."""


@dataclass(frozen=True, slots=True)
class Connected:
    """What works as one.

    arriving_m2 : (nodes,) sum over j of a_j p*_ij, own area included [m2]. numerator : sum a_i a_j p*_ij
    [m4]. neglected : upper bound of what the cut leaves out of the numerator [m4].
    """

    arriving_m2: Floats
    numerator: float
    neglected: float

    @property
    def equivalent_area_m2(self) -> float:
        """Equivalent connected area [m2]."""
        return math.sqrt(max(self.numerator, 0.0))

    @property
    def neglected_share(self) -> float:
        """Upper bound of the share by which the cut lowers the equivalent connected area."""
        if self.numerator <= 0.0:
            return 0.0
        return math.sqrt((self.numerator + self.neglected) / self.numerator) - 1.0


def connect(graph: Graph, area_m2: Floats, cut: float = 0.0) -> Connected:
    """Return what the patches are worth together.

    Parameters
    ----------
    graph
        Passages between patches; dominated links may be left out.
    area_m2
        (nodes,) attribute of each patch [m2], 0 for a stepping stone.
    cut
        Best products below this are taken as 0; what that neglects is bounded.

    Notes
    -----
    Numerator of the probability of connectivity: PCnum = sum_i sum_j a_i a_j p*_ij, p*_ij the best product of
    passages over any path, p*_ii = 1; equivalent connected area = sqrt(PCnum).

    References
    ----------
    Saura & Pascual-Hortal 2007, Landsc. Urban Plan. 83:91-103; Saura et al. 2011, Ecol. Indic. 11:407-416.

    Examples
    --------
    >>> from habitat.connectivity.graph.passages import passage_graph
    >>> pair = passage_graph(2, np.array([0]), np.array([1]), -np.log(np.array([0.5])))
    >>> round(connect(pair, np.ones(2)).numerator, 12)
    3.0
    """
    area = np.ascontiguousarray(area_m2, np.float64)
    worth, met = _arriving(graph, area, limit_of(cut))
    neglected = 0.0
    if cut > 0.0:
        label = components(graph)
        unmet = np.maximum(np.bincount(label, area)[label] - met, 0.0) if len(area) else met
        neglected = float(cut * (area @ unmet))
    return Connected(worth, float(area @ worth), neglected)


def _arriving(graph: Graph, area: Floats, limit: float) -> tuple[Floats, Floats]:
    """Return for each node i the sum over j of a_j p*_ij, and the sum of a_j over all j met [m2]."""
    ladder = contract(graph)
    if ladder is None:
        with threads_for(20.0 * graph.nodes**2):
            return _kernels.arriving(graph.start, graph.to, graph.weight, area, limit, np.arange(graph.nodes))
    with threads_for(6.0 * graph.nodes**2):
        worth, met = _sweep_kernels.arriving(*ladder.rows, area[ladder.node], math.exp(-limit))
    return worth[ladder.rank], met[ladder.rank]


@dataclass(frozen=True, slots=True)
class Importance:
    """The fall of the equivalent connected area when a patch goes, in three parts [m2], each (nodes,).

    held : its own ground. arriving : what is linked to it. passing : what only gets past through it.
    passing_error : standard error of ``passing`` if sources were sampled, else 0.
    """

    held_m2: Floats
    arriving_m2: Floats
    passing_m2: Floats
    passing_error_m2: Floats

    @property
    def total_m2(self) -> Floats:
        """Sum of the three parts [m2]."""
        return self.held_m2 + self.arriving_m2 + self.passing_m2


@dataclass(frozen=True, slots=True)
class Sample:
    """Which sources stand for all: every n-th along an order in which near places stand near each other.

    number : how many sources, a multiple of ``_kernels.CHUNKS`` at best. order : (nodes,) all nodes. seed :
    of the start, and of the parts whose spread tells the error.

    Notes
    -----
    What passes through a place is owed to sources around it, so an even sample in space is far closer than
    one at random; the error, which is worked out as if it were at random, then rather says too much. It is
    normal with 15 degrees of freedom once some dozens of the sampled sources send something through.
    """

    number: int
    order: NDArray[np.int64]
    seed: int

    def of(self, sources: NDArray[np.int64]) -> NDArray[np.int64]:
        """Return the sample of these sources, in an order at random."""
        rng = np.random.default_rng(self.seed)
        along = self.order[np.isin(self.order, sources)]
        at = ((rng.random() + np.arange(self.number)) * len(along) / self.number).astype(np.int64)
        return rng.permutation(along[at])


def importance(
    graph: Graph, area_m2: Floats, cut: float = 0.0, *, sample: Sample | None = None
) -> Importance:
    """Return what each patch carries.

    Parameters
    ----------
    graph
        All links; dominated ones are needed here, because they come back when a patch goes.
    area_m2
        (nodes,) attribute of each patch [m2].
    cut
        Best products below this are taken as 0.
    sample
        Search from some sources only and scale up; None searches from all.

    Notes
    -----
    Of the numerator's fall, a_k^2 is held, 2 a_k sum_j a_j p*_kj is arriving, and the fall of p* between
    others is passing. The fall of the equivalent area is shared out in the same proportions.

    References
    ----------
    Saura & Rubio 2010, Ecography 33:523-537.
    """
    area = np.ascontiguousarray(area_m2, np.float64)
    once, returning = without_dominated(graph)
    whole = connect(once, area, cut)
    passed, error = _passing(once, returning, area, cut, sample)
    held, arriving = area**2, 2.0 * area * (whole.arriving_m2 - area)
    fall = held + arriving + passed
    left = np.sqrt(np.maximum(whole.numerator - fall, 0.0))
    # sqrt(P) - sqrt(P - f) = f / (sqrt(P) + sqrt(P - f)): no digits lost for small f
    scale = 1.0 / np.maximum(whole.equivalent_area_m2 + left, 1e-300)
    return Importance(held * scale, arriving * scale, passed * scale, error * scale)


def _passing(
    once: Graph, back: Returning, area: Floats, cut: float, sample: Sample | None
) -> tuple[Floats, Floats]:
    sources = np.flatnonzero(area > 0.0)
    sampled = sample is not None and sample.number < len(sources)
    share = 1.0
    if sample is not None and sampled:
        share = sample.number / len(sources)
        sources = sample.of(sources)
    if len(sources) == 0:
        return np.zeros_like(area), np.zeros_like(area)
    with threads_for(200.0 * len(sources) * len(area)):
        lost = _removal_kernels.passing(
            once.start, once.to, once.weight, once.owner, back.start, back.ends, back.passage, area,
            limit_of(cut), sources, not sampled,
        )  # fmt: skip
    total = np.maximum(lost.sum(axis=0), 0.0) / share
    if not sampled:
        return total, np.zeros_like(area)
    # The chunks are equal random parts of the sample: their spread gives the error of the sum.
    parts = min(_kernels.CHUNKS, len(sources))
    spread = lost[:parts].std(axis=0, ddof=1) if parts > 1 else np.full(len(area), np.nan)
    return total, spread * math.sqrt(parts) / share


def passages(graph: Graph, cut: float = 0.0) -> Floats:
    """Return the best product of passages between all nodes (nodes, nodes), 0 below the cut."""
    out = np.zeros((graph.nodes, graph.nodes))
    ladder = contract(graph)
    with threads_for(6.0 * graph.nodes**2):
        if ladder is None:
            _kernels.all_passages(graph.start, graph.to, graph.weight, limit_of(cut), out)
        else:
            _sweep_kernels.all_passages(*ladder.rows, ladder.node, math.exp(-limit_of(cut)), out)
    return out


# Could it last? The metapopulation capacity of a state.

DENSE_CAPACITY_UP_TO = 300


def capacity(area_m2: Floats, i: Ints, j: Ints, passage: Floats) -> float:
    """Return the metapopulation capacity [m4].

    Parameters
    ----------
    area_m2
        (nodes,) habitat.
    i, j, passage
        Direct links and their passages (0-1).

    Notes
    -----
    Leading eigenvalue of M, m_ij = exp(-k d_ij) A_i A_j, m_ii = 0.

    References
    ----------
    Hanski & Ovaskainen 2000, Nature 404:755-758.

    Examples
    --------
    >>> round(capacity(np.array([2.0, 3.0]), np.array([0]), np.array([1]), np.exp([-1.0])), 6)
    2.207277
    """
    n = len(area_m2)
    value = passage * area_m2[i] * area_m2[j]
    if n < 2 or not np.any(value > 0.0):
        return 0.0
    matrix = coo_array(
        (np.tile(value, 2), (np.concatenate([i, j]), np.concatenate([j, i]))), shape=(n, n)
    ).tocsr()
    if n <= DENSE_CAPACITY_UP_TO:
        return float(np.linalg.eigvalsh(matrix.toarray())[-1])
    try:
        start = np.asarray(matrix.sum(axis=0)).ravel() + 1e-12
        return float(eigsh(matrix, k=1, which="LA", v0=start, return_eigenvectors=False)[0])
    except ArpackNoConvergence:
        return float(np.linalg.eigvalsh(matrix.toarray())[-1])
