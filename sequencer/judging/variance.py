"""Between and within: is what differs from day to day, or from meter to meter, more than the scatter of repeats.

One-way analysis of variance in two passes; groups may be given by their readings or by their means and deviations.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from scipy import special

from sequencer.judging.statistics import deviation, mean


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Repeats of one day or one meter: their mean, standard deviation and number."""

    mean: float
    deviation: float
    count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Variance:
    """A one-way analysis of variance.

    Attributes:
        mean: Of all readings.
        between_square, within_square: Sums of squares.
        between_freedom, within_freedom: Degrees of freedom.
        group_count: Number of readings in each group; the harmonic mean where they differ.
    """

    mean: float
    between_square: float
    within_square: float
    between_freedom: int
    within_freedom: int
    group_count: float

    @property
    def between(self) -> float:
        """Mean square between groups."""
        return self.between_square / self.between_freedom

    @property
    def within(self) -> float:
        """Mean square within groups."""
        return self.within_square / self.within_freedom

    @property
    def ratio(self) -> float:
        """F: mean square between over mean square within; infinite where repeats do not scatter."""
        return self.between / self.within if self.within > 0 else math.inf

    @property
    def determination(self) -> float:
        """Share of the total sum of squares that lies between groups, R²."""
        return self.between_square / (self.between_square + self.within_square)

    @property
    def repeat_deviation(self) -> float:
        """Pooled standard deviation of one reading within its group."""
        return math.sqrt(self.within)

    @property
    def group_deviation(self) -> float:
        """Standard deviation of the groups' own values, freed from the scatter of their repeats; 0 if none is seen.

        Source: GUM (JCGM 100:2008) H.5.2.5, equation (H.25).
        """
        return math.sqrt(max(self.between - self.within, 0.0) / self.group_count)

    def critical(self, probability: float) -> float:
        """The quantile of F that the ratio stays below with this probability if groups do not differ.

        Source: GUM (JCGM 100:2008) H.5.2.2.
        """
        return float(special.fdtri(self.between_freedom, self.within_freedom, probability))

    def differs(self, probability: float = 0.95) -> bool:
        """Whether the groups differ by more than their repeats explain."""
        return self.ratio > self.critical(probability)

    def mean_standard(self, *, groups_differ: bool) -> tuple[float, int]:
        """Standard uncertainty of the overall mean and its degrees of freedom.

        Args:
            groups_differ: Whether an effect of the groups is believed; if not, all readings count as one sample.

        Source: GUM (JCGM 100:2008) H.5.2.3 and H.5.2.4.
        """
        total = (self.between_freedom + 1) * self.group_count
        if groups_differ:
            return math.sqrt(self.between / total), self.between_freedom
        freedom = self.between_freedom + self.within_freedom
        return math.sqrt((self.between_square + self.within_square) / freedom / total), freedom


def analyse(groups: Sequence[Sequence[float]]) -> Variance:
    """Analyse groups of readings.

    Args:
        groups: At least two groups, at least one of them with two readings.

    Returns:
        The analysis.

    Raises:
        ValueError: Too few groups or readings.
    """
    return analyse_groups(
        [
            Group(mean=mean(each), deviation=deviation(each) if len(each) > 1 else 0.0, count=len(each))
            for each in groups
        ]
    )


def analyse_groups(groups: Sequence[Group]) -> Variance:
    """Analyse groups that are known by mean, standard deviation and count; as `analyse`.

    Source: GUM (JCGM 100:2008) H.5.2, equations (H.21) to (H.24).
    """
    total = sum(group.count for group in groups)
    if len(groups) < 2 or total <= len(groups):
        raise ValueError("an analysis of variance needs at least two groups, and repeats within them")
    overall = math.fsum(group.count * group.mean for group in groups) / total
    return Variance(
        mean=overall,
        between_square=math.fsum(group.count * (group.mean - overall) ** 2 for group in groups),
        within_square=math.fsum((group.count - 1) * group.deviation**2 for group in groups),
        between_freedom=len(groups) - 1,
        within_freedom=total - len(groups),
        group_count=len(groups) / math.fsum(1 / group.count for group in groups),
    )
