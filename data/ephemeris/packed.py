"""The form in which the excerpt of DE440 is kept: an SPK file whose coefficients are whole multiples of a small step, packed bit by bit.

A double holds a Chebyshev coefficient of a few metres as finely as one of a million kilometres; most of what it holds is far finer
than the ephemeris is good for. Here each coefficient is a whole number of steps of 2^-q km, and gets as many bits as the largest of
its kind needs. Unpacked, the file is an ordinary SPK file with the rounded coefficients, the same bytes every time.

Layout, little-endian throughout:
    8 bytes   b"SPKPACK1"
    u32       D, bytes of the file's own directory (a multiple of 1024)
    u32       S, number of segments
    u64       bytes of the SPK file
    D bytes   the SPK file up to its first segment: file record, comments, summaries, names
    S times   u64 byte of the SPK file at which the segment's records begin
              u64 byte of this file at which its packed records begin
              f64 start of the first record, f64 length of a record, seconds
              u32 records, u32 words in a record of the SPK file (2 + coefficients), u32 bytes in a packed record, u32 q
              1 byte for each coefficient: its bits
    records   of each segment; the bits of a record's coefficients one after another from the lowest bit of the first byte,
              two's complement, the last byte filled with zeros
    16 bytes  zeros, so that a reader may take sixteen bytes anywhere

A record of the SPK file is its middle, half its length, then the coefficients; a segment ends with start, length, words, records.
"""
import math
import struct
import tempfile
from pathlib import Path

SHIPPED = Path(__file__).resolve().parent / "de440-1900-2100.bin"
MAGIC = b"SPKPACK1"


def segments_of(spk):
    """(body, first byte, start, length, words, records) of every type 2 segment of a small little-endian SPK file."""
    record, = struct.unpack_from("<i", spk, 76)
    base = (record - 1) * 1024
    _, _, count = struct.unpack_from("<3d", spk, base)
    for i in range(int(count)):
        fields = struct.unpack_from("<2d6i", spk, base + 24 + 40 * i)
        body, first, last = fields[2], fields[6], fields[7]
        start, length, words, records = struct.unpack_from("<4d", spk, (last - 4) * 8)
        yield body, (first - 1) * 8, start, length, int(words), int(records)


def pack(spk, steps):
    """The packed file; `steps` gives q for each body."""
    segments = list(segments_of(spk))
    directory = segments[0][1]
    table_bytes = sum(48 + words - 2 for _, _, _, _, words, _ in segments)
    at = 24 + directory + table_bytes
    tables, packed = b"", []
    for body, first, start, length, words, records in segments:
        q = steps[body]
        rows = []
        for r in range(records):
            row = struct.unpack_from(f"<{words}d", spk, first + 8 * words * r)
            if row[0] != start + (r + 0.5) * length or row[1] != length / 2:
                raise SystemExit(f"body {body}, record {r}: not where its number says")
            rows.append([round(math.ldexp(c, q)) for c in row[2:]])
        bits = [max(max(c, ~c) for c in column).bit_length() + 1 for column in zip(*rows)]
        if max(bits) > 64:
            raise SystemExit(f"body {body}: the step is too small")
        size = (sum(bits) + 7) // 8
        tables += struct.pack("<QQdd4I", first, at, start, length, records, words, size, q) + bytes(bits)
        for row in rows:
            whole, shift = 0, 0
            for value, width in zip(row, bits):
                whole |= (value & ((1 << width) - 1)) << shift
                shift += width
            packed.append(whole.to_bytes(size, "little"))
        at += size * records
    head = MAGIC + struct.pack("<IIQ", directory, len(segments), len(spk))
    return head + spk[:directory] + tables + b"".join(packed) + bytes(16)


def unpack(data):
    """The SPK file that a packed file stands for."""
    if data[:8] != MAGIC:
        raise SystemExit("not a packed SPK file")
    directory, count, total = struct.unpack_from("<IIQ", data, 8)
    spk = bytearray(total)
    spk[:directory] = data[24:24 + directory]
    table = 24 + directory
    for _ in range(count):
        first, at, start, length, records, words, size, q = struct.unpack_from("<QQdd4I", data, table)
        bits = data[table + 48:table + 48 + words - 2]
        table += 48 + words - 2
        for r in range(records):
            whole = int.from_bytes(data[at + size * r:at + size * (r + 1)], "little")
            row = [start + (r + 0.5) * length, length / 2]
            for width in bits:
                value = whole & ((1 << width) - 1)
                whole >>= width
                if value >> (width - 1):
                    value -= 1 << width
                row.append(math.ldexp(value, -q))
            struct.pack_into(f"<{words}d", spk, first + 8 * words * r, *row)
        struct.pack_into("<4d", spk, first + 8 * words * records, start, length, float(words), float(records))
    return bytes(spk)


def shipped_as_spk():
    """The shipped excerpt as a temporary SPK file for other programs; gone when it is closed."""
    file = tempfile.NamedTemporaryFile(suffix=".bsp")
    file.write(unpack(SHIPPED.read_bytes()))
    file.flush()
    return file
