"""An integer program, built row by row and solved by HiGHS through scipy."""

from dataclasses import dataclass, field
from typing import Any

import numpy as np


@dataclass(slots=True)
class Program:
    """An integer program, built row by row."""

    names: list[Any] = field(default_factory=list)
    most: list[float] = field(default_factory=list)
    rows: list[tuple[dict[int, float], float, float]] = field(default_factory=list)

    def add(self, name: Any, most: float) -> int:
        self.names.append(name)
        self.most.append(most)
        return len(self.names) - 1

    def row(self, terms: dict[int, float], low: float = -np.inf, high: float = np.inf) -> None:
        self.rows.append((terms, low, high))

    def solve(self, costs: dict[int, float], seconds: float) -> Any:
        from scipy.optimize import Bounds, LinearConstraint, milp  # large modules, and few requests solve a plan
        from scipy.sparse import coo_array

        data, at_row, at_column = [], [], []
        for index, (terms, _, _) in enumerate(self.rows):
            for column, value in terms.items():
                data.append(value)
                at_row.append(index)
                at_column.append(column)
        matrix = coo_array((data, (at_row, at_column)), shape=(len(self.rows), len(self.names))).tocsr()
        weights = np.zeros(len(self.names))
        for column, cost in costs.items():
            weights[column] = cost
        return milp(
            weights,
            integrality=np.ones(len(self.names), dtype=np.int64),
            bounds=Bounds(0, np.array(self.most)),
            constraints=LinearConstraint(matrix, [r[1] for r in self.rows], [r[2] for r in self.rows]),
            options={"time_limit": max(0.5, seconds), "mip_rel_gap": 1e-6},
        )
