"""What a run found, as the table it prints."""

from collections import Counter
from dataclasses import dataclass, field

BAD = (
    "lost", "acknowledged but absent", "acknowledged once, then gone", "doubled", "leaked", "sequence gaps",
    "never delivered", "places lost",
)


@dataclass
class Report:
    """Counts of one run. Every one of ``bad`` must be zero."""

    seed: int
    backend: str
    disk_way: str = ""
    seconds: float = 0.0
    operations: Counter[str] = field(default_factory=Counter)
    faults: Counter[str] = field(default_factory=Counter)
    bad: Counter[str] = field(default_factory=Counter)
    notes: list[str] = field(default_factory=list)
    convergence_s: list[float] = field(default_factory=list)
    answer_s: list[float] = field(default_factory=list)

    def is_good(self) -> bool:
        """Nothing was lost, doubled, leaked, skipped or left undelivered."""
        return not any(self.bad[name] for name in BAD)

    def _percentile_ms(self, share: float) -> float:
        ordered = sorted(self.answer_s)
        return 1000 * ordered[min(len(ordered) - 1, int(share * len(ordered)))] if ordered else 0.0

    def lines(self) -> list[str]:
        """Give the table."""
        worst = f"{max(self.convergence_s):.1f} s" if self.convergence_s else "never"
        percentiles = " / ".join(f"{self._percentile_ms(share):.0f}" for share in (0.5, 0.95, 0.99))
        rows = [
            ("seed, store, seconds", f"{self.seed}, {self.backend}, {self.seconds:.0f}"),
            *((f"operations: {name}", str(n)) for name, n in sorted(self.operations.items())),
            *((f"fault: {name}", str(n)) for name, n in sorted(self.faults.items())),
            ("disk full means", self.disk_way),
            ("answered exchanges p50 / p95 / p99, faults included", f"{percentiles} ms"),
            ("worst convergence after a bout of faults", worst),
            *((name, str(self.bad[name])) for name in BAD),
        ]
        width = max(len(name) for name, _ in rows)
        return [f"{name:<{width}}  {value:>12}" for name, value in rows] + self.notes
