"""Tables of handbooks and special functions that tests of the numerics quote, by NumPy and SciPy.

Gauss-Legendre rules: M. Abramowitz & I. A. Stegun, Handbook of Mathematical Functions, 1964, table 25.4. Interpolation of
exp(j a t) at n Chebyshev points: its Chebyshev series has the coefficients 2 j^m J_m(a) (there, 9.1.44 and 9.1.45), and those
from n on are folded onto lower ones, so that the mean square error is the sum of their squares (all from memory).
"""

import numpy as np
from scipy.special import jv

from quoted import Quoted


def rules(quoted):
    quoted.section("Gauss-Legendre rules")
    node, weight = np.polynomial.legendre.leggauss(5)
    for i, digits, share in ((4, "0.906179845938664", "0.236926885056189"), (3, "0.538469310105683", "0.478628670499366"),
                             (2, "0.0", "0.568888888888889")):
        quoted.hold(f"5 points, node {i}", node[i], digits, "engine/quadrature_test.cpp")
        quoted.hold(f"5 points, weight {i}", weight[i], share, "engine/quadrature_test.cpp")
    node, weight = np.polynomial.legendre.leggauss(8)
    for i, digits, share in ((4, "0.1834346424956498", "0.3626837833783620"), (5, "0.5255324099163290", "0.3137066458778873"),
                             (6, "0.7966664774136267", "0.2223810344533745"), (7, "0.9602898564975363", "0.1012285362903763")):
        # Sixteen digits are what double precision holds.
        quoted.hold(f"8 points, node {i}", node[i], digits, "engine/ring_response_test.cpp", within=4e-16)
        quoted.hold(f"8 points, weight {i}", weight[i], share, "engine/ring_response_test.cpp", within=4e-16)


def interpolation(quoted):
    quoted.section("Error of exp(j a t) at n Chebyshev points: sqrt(4 sum over m >= n of J_m(a)^2)")
    for a, n, digits in ((5, 8, "3.85491e-02"), (5, 16, "1.55257e-07"), (28, 40, "1.13189e-04"), (60, 64, "7.89323e-02")):
        tail = np.sqrt(4 * np.sum(jv(np.arange(n, n + 200), a)**2))
        quoted.hold(f"a = {a}, n = {n}", tail, digits, "engine/virtual_elements_test.cpp")


def main():
    quoted = Quoted(__doc__)
    for part in (rules, interpolation):
        part(quoted)
    quoted.finish()


if __name__ == "__main__":
    main()
