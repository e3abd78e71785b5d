"""What a test of a hypothesis says: the numbers, what was assumed, and a sentence."""

from __future__ import annotations

from scipy.special import fdtrc

from jointstats.results import Result


class Verdict(Result):
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
    'The data are consistent with this: the coin is fair (p = 0.3; 10 poles).'
    """

    _SHORT = "{test}: statistic={statistic:.4g}, pvalue={pvalue:.3g}, n={n}"

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
        verdict = "speak against" if self.pvalue < 0.05 else "are consistent with"
        sizes = " and ".join(str(size) for size in self.n)
        weak = min(self.n) < 10 and self.pvalue >= 0.05
        few = "; few data, so a weak test" if weak else ""
        chance = "p < 0.001" if self.pvalue < 0.001 else f"p = {self.pvalue:.2g}"
        return f"The data {verdict} this: {self.hypothesis} ({chance}; {sizes} poles{few})."

    def _row(self) -> dict[str, object]:
        sizes = ", ".join(map(str, self.n))
        dof = ", ".join(f"{value:g}" for value in self.dof)
        return {**vars(self), "dof": dof, "n": sizes, "summary": self.summary}


def f_verdict(
    test: str,
    hypothesis: str,
    statistic: float,
    dof: tuple[float, float],
    n: tuple[int, ...],
    assumptions: str,
    reference: str = "F",
) -> Verdict:
    """The verdict of a statistic that is F with these degrees of freedom, large ones telling."""
    pvalue = float(fdtrc(*dof, statistic))
    return Verdict(test, hypothesis, statistic, pvalue, dof, n, reference, assumptions)
