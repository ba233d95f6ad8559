"""What runs on a worker: a task's designs in, one row for each out, whatever a design does.

The brief and the evaluator travel to a worker once, when it joins; a task carries designs alone.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from boilerfront.model.brief import Brief
from boilerfront.model.glossary import MARGINS, OBJECTIVES

Design = Mapping[str, float | int | str | None]
Row = dict[str, Any]
Evaluator = Callable[[Sequence[Design], Brief], list[Row]]


def model_evaluator(designs: Sequence[Design], brief: Brief) -> list[Row]:
    """Return the model's rows; it is imported on the worker alone, where the kernel is compiled."""
    from boilerfront.model import evaluate_many

    return [dict(row) for row in evaluate_many(designs, brief)]


def finer_evaluator(designs: Sequence[Design], brief: Brief) -> list[Row]:
    """Return the model's rows with half its steps: what hangs on the step is seen beside `model_evaluator`."""
    from boilerfront.model import evaluate_many

    return [dict(row) for row in evaluate_many(designs, brief, finer=2)]


def compile_model(brief: Brief, designs: Sequence[Design]) -> None:
    """Run the model once for each of `designs`, so that its kernels lie compiled in the cache.

    Workers that all compile at once would take as long, each of them, and have been known to collide.
    """
    for design in designs:
        model_evaluator([design], brief)


@dataclass(frozen=True)
class Work:
    """An evaluator with the brief that all its designs share."""

    evaluate: Evaluator
    brief: Brief

    def __call__(self, trials: Sequence[int], designs: Sequence[Design]) -> list[Row]:
        """Return a row for each design: its trial, its variables, what was computed.

        Where a worker's memory does not do for all of them each is evaluated alone: only the one that asks for too
        much is faulty.
        """
        try:
            results = self.evaluate(designs, self.brief)
        except MemoryError:
            if len(designs) > 1:
                return [row for one in zip(trials, designs, strict=True) for row in self([one[0]], [one[1]])]
            return [fault_row(trials[0], designs[0], "more memory than a worker has")]
        if len(results) != len(designs):
            raise RuntimeError(f"{len(designs)} designs were given, but {len(results)} rows came back")
        return [
            {"trial": trial, **design, **_finite(result)}
            for trial, design, result in zip(trials, designs, results, strict=True)
        ]


def fault_row(trial: int, design: Design, fault: str) -> Row:
    """Return the row of a design whose evaluation failed by `fault`."""
    return {"trial": trial, **design, "feasible": False, "fault": fault}


def _finite(result: Row) -> Row:
    """Return a result of finite numbers: others become null, and a fault if nothing explains them."""
    bad = [name for name, value in result.items() if isinstance(value, float) and not math.isfinite(value)]
    if not bad:
        return result
    kept = {name: None if name in bad else value for name, value in result.items()}
    if result.get("reason") is None and result.get("fault") is None:
        kept |= {"feasible": False, "fault": f"not a finite number: {', '.join(bad)}"}
        kept |= dict.fromkeys((*OBJECTIVES, *MARGINS))
    return kept
