"""Linear programs with whole numbers, solved by HiGHS on one thread and without a clock."""

from __future__ import annotations

import ctypes
import os
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

import highspy
import numpy as np
from numpy.typing import NDArray
from scipy import sparse


@dataclass(frozen=True, slots=True)
class LinearProgram:
    """Maximise ``worth @ x`` with ``row_low <= rows @ x <= row_high`` and ``low <= x <= high``.

    ``whole`` (n,) marks the variables that must be whole numbers.
    """

    worth: NDArray[np.float64]
    rows: sparse.csr_array
    row_low: NDArray[np.float64]
    row_high: NDArray[np.float64]
    low: NDArray[np.float64]
    high: NDArray[np.float64]
    whole: NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Solved:
    """What a solver found: the best ``x`` (None without one), its ``value``, and a ``bound`` on any value.

    ``finished`` is False where the node limit stopped the proof. ``loss`` (n,), of a relaxed program only,
    is what a unit of each variable at its lower end costs in bound.
    """

    x: NDArray[np.float64] | None
    value: float
    bound: float
    finished: bool
    loss: NDArray[np.float64] | None = None


def maximise(
    program: LinearProgram,
    *,
    gap: float = 0.0,
    node_limit: int | None = None,
    start: NDArray[np.float64] | None = None,
    target: float | None = None,
    relaxed: bool = False,
) -> Solved:
    """Solve a program to a relative gap or a number of nodes; the same input gives the same answer.

    Parameters
    ----------
    program
        What to maximise.
    gap
        Stop when (bound - value) / |value| falls to this.
    node_limit
        Stop after this many branch-and-bound nodes; None never stops.
    start
        A solution to start from; the solver then spends no time on looking for others outside its tree.
    target
        Stop at a solution of this value or more, which a bound known from elsewhere may allow.
    relaxed
        Leave out that variables be whole: the value is then the bound.

    Examples
    --------
    >>> weights = sparse.csr_array(np.array([[10.0, 20.0, 30.0]]))
    >>> one, three = np.ones(1), np.ones(3)
    >>> knapsack = LinearProgram(
    ...     np.array([60.0, 100.0, 120.0]), weights, -np.inf * one, 50 * one, 0 * three, three, three > 0
    ... )
    >>> float(maximise(knapsack).value)
    220.0
    """
    model = _model(program, relaxed)
    model.setOptionValue("mip_rel_gap", float(gap))
    model.setOptionValue("mip_abs_gap", 1e-9)
    model.setOptionValue("mip_allow_restart", False)  # costs more than it saves: bench_planting
    if node_limit is not None:
        model.setOptionValue("mip_max_nodes", int(node_limit))
    if target is not None:
        model.setOptionValue("objective_target", float(target))
    if start is not None and not relaxed:
        solution = highspy.HighsSolution()
        solution.col_value = start.tolist()
        model.setSolution(solution)
        model.setOptionValue("mip_heuristic_effort", 0.0)
    model.run()
    return _read(model, relaxed)


def maximise_over(
    program: LinearProgram, row: int, limits: NDArray[np.float64]
) -> list[tuple[Solved, float]]:
    """Solve a program without whole numbers for several upper ends of one row.

    Returns
    -------
    list of (Solved, float)
        With what one more unit of the row's upper end adds to the worth.
    """
    model, out = _model(program, True), []
    for limit in limits:
        model.changeRowBounds(row, float(program.row_low[row]), float(limit))
        model.run()
        price = float(model.getSolution().row_dual[row])
        out.append((_read(model, True), price))
    return out


_ALONE = threading.Lock()
"""Held while standard output is closed: it is that of all threads."""


@contextmanager
def _stdout_closed() -> Iterator[None]:
    """Keep the line that the solver prints when it is made off standard output, where JSON may be going."""
    with _ALONE:
        flush = getattr(ctypes.CDLL(None), "fflush", None) if os.name == "posix" else None
        if sys.stdout is not None:
            sys.stdout.flush()
        if flush is not None:
            flush(None)
        kept, nowhere = os.dup(1), os.open(os.devnull, os.O_WRONLY)
        try:
            os.dup2(nowhere, 1)
            yield
            if flush is not None:
                flush(None)
        finally:
            os.dup2(kept, 1)
            os.close(kept)
            os.close(nowhere)


def _model(program: LinearProgram, relaxed: bool) -> highspy.Highs:
    with _stdout_closed():
        model = highspy.Highs()  # type: ignore[no-untyped-call]  # its __init__ says no type
    for option, value in (
        ("output_flag", False),
        ("log_to_console", False),
        ("threads", 1),
        ("random_seed", 0),
        ("parallel", "off"),
    ):
        model.setOptionValue(option, value)
    lp = highspy.HighsLp()
    lp.num_col_, lp.num_row_ = len(program.worth), len(program.row_high)
    lp.sense_ = highspy.ObjSense.kMaximize
    lp.col_cost_ = program.worth
    lp.col_lower_, lp.col_upper_ = program.low, program.high
    lp.row_lower_, lp.row_upper_ = program.row_low, program.row_high
    lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
    lp.a_matrix_.start_ = program.rows.indptr
    lp.a_matrix_.index_ = program.rows.indices
    lp.a_matrix_.value_ = program.rows.data
    if relaxed:  # smaller than what presolving them would save
        model.setOptionValue("presolve", "off")
    else:
        kinds = (highspy.HighsVarType.kContinuous, highspy.HighsVarType.kInteger)
        lp.integrality_ = [kinds[int(w)] for w in program.whole]
    model.passModel(lp)
    return model


def _read(model: highspy.Highs, relaxed: bool) -> Solved:
    info, status = model.getInfo(), model.getModelStatus()
    found = info.primal_solution_status == 2
    x = np.asarray(model.getSolution().col_value, float) if found else None
    value = float(info.objective_function_value) if found else float("-inf")
    finished = status == highspy.HighsModelStatus.kOptimal
    if relaxed:
        loss = np.maximum(-np.asarray(model.getSolution().col_dual, float), 0.0) if finished else None
        return Solved(x, value, value if finished else float("inf"), finished, loss)
    return Solved(x, value, max(float(info.mip_dual_bound), value), finished)
