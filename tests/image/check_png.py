"""Checks every PNG in a folder against ISO/IEC 15948 (PNG specification, second edition), with Python's own zlib:
signature, chunk order and CRCs, 8-bit grey or RGB, and as many bytes of scan lines as the header promises."""

import pathlib
import struct
import sys
import zlib

SAMPLES_PER_PIXEL = {0: 1, 2: 3}  # colour types grey and RGB


def chunks(data):
    assert data[:8] == b"\x89PNG\r\n\x1a\n", "signature"
    at = 8
    while at < len(data):
        (length,) = struct.unpack(">I", data[at : at + 4])
        kind, body = data[at + 4 : at + 8], data[at + 8 : at + 8 + length]
        (crc,) = struct.unpack(">I", data[at + 8 + length : at + 12 + length])
        assert zlib.crc32(kind + body) == crc, f"CRC of {kind}"
        yield kind, body
        at += 12 + length
    assert at == len(data), "bytes after the last chunk"


def check(path):
    found = list(chunks(path.read_bytes()))
    kinds = [kind for kind, _ in found]
    assert kinds[:2] == [b"IHDR", b"sRGB"] and kinds[-1] == b"IEND" and set(kinds[2:-1]) == {b"IDAT"}, kinds
    width, height, depth, colour, compression, filtering, interlace = struct.unpack(">IIBBBBB", found[0][1])
    assert (depth, compression, filtering, interlace) == (8, 0, 0, 0) and colour in SAMPLES_PER_PIXEL
    lines = zlib.decompress(b"".join(body for kind, body in found if kind == b"IDAT"))
    stride = 1 + width * SAMPLES_PER_PIXEL[colour]
    assert len(lines) == height * stride, "count of bytes"
    assert set(lines[::stride]) <= {0, 1, 2, 3, 4}, "filter types"
    print(f"{path.name}: {width} x {height}, {'grey' if colour == 0 else 'RGB'}, {path.stat().st_size} bytes")


files = sorted(pathlib.Path(sys.argv[1]).glob("*.png"))
assert files, f"no PNG in {sys.argv[1]}"
for file in files:
    check(file)
