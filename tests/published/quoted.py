"""What recompute_*.py have in common: each quantity computed anew, beside the digits that tests quote of it.

A quoted number agrees where the recomputed one rounds to it, to half a unit of its last digit. The files named with it, below
tests/ or from the root of the tree, must hold those very digits, lest a test and its source drift apart. Nothing of the
program itself is used: NumPy, SciPy and the formula alone.
"""

import re
import sys
from decimal import Decimal
from functools import lru_cache
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]


@lru_cache
def text_of(name):
    beside_the_tests = ROOT / "tests" / name
    return (beside_the_tests if beside_the_tests.exists() else ROOT / name).read_text()


@lru_cache
def holds(name, digits):
    """Whether a file holds a number, whatever its sign; ".5" counts for "0.5"."""
    digits = digits.lstrip("+-")
    pattern = "0?" + re.escape(digits[1:]) if digits.startswith("0.") else re.escape(digits)
    return re.search(rf"(?<![\d.]){pattern}(?!\d)", text_of(name)) is not None


class Quoted:
    def __init__(self, what):
        print(what.strip())
        self.rows = self.wrong = 0

    def section(self, title):
        print(f"\n{title}\n{'':2}{'quantity':62}{'recomputed':>24}{'quoted':>24}  difference")

    def hold(self, what, recomputed, digits, *files, within=None):
        """`within`: how far a number that was printed elsewhere may lie off, where that is more than rounding."""
        last = Decimal(digits).as_tuple().exponent
        # Sums in double precision leave 1e-14, which shows where thirteen digits are quoted.
        allowed = 0.5 * 10.0**last + 1e-14 * abs(recomputed) if within is None else within
        difference = float(recomputed) - float(digits)
        # Two digits more than are quoted.
        shown = len(Decimal(digits).as_tuple().digits) + 1 if "e" in digits else max(0, -last) + 2
        number = f"{recomputed:.{shown}{'e' if 'e' in digits else 'f'}}"
        self._row(what, number, digits, f"{difference:+.1e}", abs(difference) <= allowed, files)

    def hold_exactly(self, what, recomputed, text, *files):
        """For whole numbers, words, and floating-point numbers to their last bit."""
        self._row(what, recomputed, text, "", recomputed == type(recomputed)(text), files)

    def _row(self, what, number, text, difference, agrees, files):
        lost = [name for name in files if not holds(name, text)]
        self.rows += 1
        self.wrong += not agrees or bool(lost)
        print(f"  {what:62}{number:>24} {text:>23}  {difference}"
              f"{'' if agrees else '  DOES NOT AGREE'}{''.join(f'  NOT IN {name}' for name in lost)}")

    def finish(self):
        print(f"\n{self.rows} numbers, {self.wrong} of them wrong")
        sys.exit(1 if self.wrong or not self.rows else 0)
