"""Random numbers in Python's whole numbers, and where they put the scatterers of phantoms.

SplitMix64's finaliser: G. L. Steele, D. Lea & C. H. Flood, "Fast splittable pseudorandom number generators", OOPSLA 2014
(constants from memory). A value is mix(key ^ mix(i)), key = mix(seed ^ mix(stream)), and its upper 53 bits are the uniform
number. Streams are counted from 2^32 for speckle, 2 x 2^32 for layers, 3 x 2^32 for sheets. Candidate i of a region takes
values 4 i to 4 i + 3 for x, y, z and the sign; candidate i of a sheet values 3 i to 3 i + 2 for its place along the slope, its
place across and the sign. Places must agree to the last bit.
"""

import hashlib
import math

from scipy.stats import binom, chi2

from quoted import Quoted

WORD = (1 << 64) - 1
MM = 1e-3


def mix(z):
    z = (z + 0x9E3779B97F4A7C15) & WORD
    z = (z ^ z >> 30) * 0xBF58476D1CE4E5B9 & WORD
    z = (z ^ z >> 27) * 0x94D049BB133111EB & WORD
    return z ^ z >> 31


class Stream:
    def __init__(self, seed, stream):
        self.key = mix(seed ^ mix(stream))

    def bits(self, i):
        return mix(self.key ^ mix(i))

    def either_way(self, i):
        """From -1 to 1."""
        return 2.0 * ((self.bits(i) >> 11) * 2.0**-53) - 1.0

    def sign(self, i):
        return -1.0 if self.bits(i) >> 63 else 1.0


def in_box(stream, i, center_mm, half_mm):
    return [center * MM + half * MM * stream.either_way(4 * i + axis)
            for axis, (center, half) in enumerate(zip(center_mm, half_mm))] + [stream.sign(4 * i + 3)]


def rounded(x):
    """To 40 bits, as slopes are, so that every machine has the same."""
    return round(x * 2.0**40) / 2.0**40


def on_sheet(stream, i, center_mm, half_width_mm, half_length_mm, tilt_deg):
    along = half_length_mm * MM * stream.either_way(3 * i)
    across = half_width_mm * MM * stream.either_way(3 * i + 1)
    tilt = math.radians(tilt_deg)
    return [center_mm[0] * MM + across, center_mm[1] * MM + along * rounded(math.cos(tilt)),
            center_mm[2] * MM + along * rounded(math.sin(tilt)), stream.sign(3 * i + 2)]


def scatterers(quoted):
    quoted.section("Scatterers of the first streams of seed 7 (m)")
    cloud, layer, sheet = (Stream(7, (kind << 32) + 1) for kind in (1, 2, 3))
    test = "phantoms/scatterers_test.cpp"
    for i, row in enumerate((("0.0032478861693794872", "-3.4555835043121873e-05", "0.020465906894051346", "1"),
                             ("0.0025488168563069023", "0.0008553373423629318", "0.021043263225765677", "1"),
                             ("-0.0018069465738774614", "-0.00045733172933721411", "0.034045063017295304", "1"),
                             ("0.0039313921646168572", "-0.00010782624607687286", "0.037377854300585121", "1"))):
        for axis, found, text in zip(("x", "y", "z", "sign"), in_box(cloud, i, (0, 0, 30), (5, 2, 10)), row):
            quoted.hold_exactly(f"speckle, candidate {i}, {axis}", found, text, *((test,) if axis != "sign" else ()))
    first, second = (in_box(layer, i, (0, 0, 30), (5, 2, 10)) for i in (0, 1))
    quoted.hold_exactly("layer, candidate 0, x", first[0], "0.0034845076664354237", test)
    quoted.hold_exactly("layer, candidate 0, sign", first[3], "-1")
    quoted.hold_exactly("layer, candidate 1, z", second[2], "0.036846566892921893", test)
    test = "phantoms/sheets_test.cpp"
    for i, row in enumerate((("-0.0035074870423281498", "0.005441169813490914", "0.04198676031814702", "-1"),
                             ("-0.0022269267123194844", "-0.002694536185988065", "0.037289608269298224", "1"),
                             ("0.0006325656289559636", "0.0023218480170040146", "0.04018581903925549", "1"))):
        for axis, found, text in zip(("x", "y", "z", "sign"), on_sheet(sheet, i, (1, 2, 40), 5, 6, 30), row):
            quoted.hold_exactly(f"sheet, candidate {i}, {axis}", found, text, *((test,) if axis != "sign" else ()))


def numbers(quoted):
    quoted.section("SplitMix64 from state 0: the reference code's first outputs (S. Vigna, from memory)")
    test = "base/random_test.cpp"
    for i, text in enumerate(("0xe220a8397b1dcdaf", "0x6e789e6aa1b965f4", "0x06c45d188009454f")):
        quoted.hold_exactly(f"output {i}", f"{mix(i * 0x9E3779B97F4A7C15 & WORD):#018x}", text, test)
    for i, text in ((0, "0x1514adef9b9e7671"), (10**12, "0x53f69ae1ad3ac4a2")):
        quoted.hold_exactly(f"seed 1, stream 2, value {i:.0e}", f"{Stream(1, 2).bits(i):#018x}", text, test)


def statistics(quoted):
    quoted.section("Limits of statistics, by SciPy")
    quoted.hold("chi-square of 99 degrees, exceeded once in 1,000", chi2.ppf(0.999, 99), "148.2", "base/random_test.cpp")
    quoted.hold("standard deviation of chi-square, 999 degrees", chi2.std(999), "44.7", "phantoms/scatterers_test.cpp")
    quoted.hold("standard deviation of chi-square, 99 degrees", chi2.std(99), "14.1", "phantoms/sheets_test.cpp")
    quoted.hold("fewer than 51 of 60 at 95 %, chance (%)", 100 * binom.cdf(50, 60, 0.95), "0.07", "measure/speckle_test.cpp")


def digests(quoted):
    quoted.section("SHA-256 of the standard's examples (FIPS 180-4), by Python's hashlib")
    for words, text, digits in (("abc", b"abc", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"),
                                ("56 letters", b"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq",
                                 "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1"),
                                ("nothing", b"", "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"),
                                ("a million a", b"a" * 10**6,
                                 "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0")):
        quoted.hold_exactly(words, hashlib.sha256(text).hexdigest(), digits, "base/digest_test.cpp")


def main():
    quoted = Quoted(__doc__)
    for part in (scatterers, numbers, statistics, digests):
        part(quoted)
    quoted.finish()


if __name__ == "__main__":
    main()
