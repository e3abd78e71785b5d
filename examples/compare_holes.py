"""Compare the four holes of the invented dam site: do they see one rock?

python examples/compare_holes.py
"""

from __future__ import annotations

from pathlib import Path

import jointstats as js

SITE = Path(__file__).resolve().parent / "dam_site"


def main() -> None:
    """Print the verdict, counts against those expected, pairs, and domains with one hole cut."""
    site = js.read_site(SITE)
    found = js.compare_holes(site, draws=99, random_state=0)
    print(found, end="\n\n")
    print("Fractures of each set in each hole, and how many its direction lets it expect:")
    print(found.counts.round(2).to_string(index=False), end="\n\n")
    print("Pairs, Holm-adjusted p:")
    print(found.matrix().round(3).to_string(), end="\n\n")
    cut = js.compare_holes(site, cuts_m={"D3": [33.0]}, draws=99, random_state=0)
    print("With D3 cut at the length of lost core:")
    print(cut.groupings.head(3).round(1).to_string(index=False), end="\n\n")
    for note in found.notes:
        print(f"Caution: {note}")
    print(found.analysis.notice)


if __name__ == "__main__":
    main()
