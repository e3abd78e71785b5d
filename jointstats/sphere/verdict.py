"""What a test of a hypothesis says: the numbers, what was assumed, and a sentence."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

__all__ = ["Verdict"]


@dataclass(frozen=True)
class Verdict:
    """Result of one test.

    Attributes
    ----------
    test : str
        Name of the test.
    hypothesis : str
        What is tested, as a clause: "the poles are uniform".
    statistic : float
        Value of the test statistic.
    pvalue : float
        Chance of a statistic as extreme if the hypothesis holds, 0 to 1.
    dof : tuple of float
        Degrees of freedom of the reference distribution; empty if it has none.
    n : tuple of int
        Number of poles, one for each set.
    reference : str
        Distribution the p-value comes from.
    assumptions : str
        What must hold for the p-value to be right.

    Examples
    --------
    >>> Verdict("a test", "the coin is fair", 1.0, 0.3, (), (10,), "counting", "none").summary
    'The coin is fair: not contradicted at the 5% level (p = 0.3; 10 poles).'
    """

    test: str
    hypothesis: str
    statistic: float
    pvalue: float
    dof: tuple[float, ...]
    n: tuple[int, ...]
    reference: str
    assumptions: str

    @property
    def summary(self) -> str:
        """One sentence for the reader of a report."""
        verdict = "contradicted" if self.pvalue < 0.05 else "not contradicted"
        sizes = " and ".join(str(size) for size in self.n)
        weak = min(self.n) < 10 and self.pvalue >= 0.05
        few = "; few data, so a weak test" if weak else ""
        chance = "p < 0.001" if self.pvalue < 0.001 else f"p = {self.pvalue:.2g}"
        text = self.hypothesis[0].upper() + self.hypothesis[1:]
        return f"{text}: {verdict} at the 5% level ({chance}; {sizes} poles{few})."

    def to_frame(self) -> pd.DataFrame:
        """The result as a table of one row.

        Returns
        -------
        pandas.DataFrame
            One column a field, and the summary.

        Examples
        --------
        >>> Verdict("t", "all is well", 1.0, 0.3, (), (10,), "", "").to_frame().shape
        (1, 9)
        """
        row = {
            "test": self.test,
            "hypothesis": self.hypothesis,
            "statistic": self.statistic,
            "pvalue": self.pvalue,
            "dof": ", ".join(f"{value:g}" for value in self.dof),
            "n": ", ".join(str(size) for size in self.n),
            "reference": self.reference,
            "assumptions": self.assumptions,
            "summary": self.summary,
        }
        return pd.DataFrame([row])

    def __repr__(self) -> str:
        dof = f", dof={self.dof}" if self.dof else ""
        size = self.n[0] if len(self.n) == 1 else self.n
        return (
            f"Verdict({self.test}: statistic={self.statistic:.4g}, "
            f"pvalue={self.pvalue:.3g}{dof}, n={size})"
        )

    def _repr_html_(self) -> str:
        return self.to_frame().T.to_html(header=False)
