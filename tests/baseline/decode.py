"""Reads a log as somebody would with the usual Python libraries: cobs, zlib, NumPy. The yardstick of tests/bench.

    decode.py FOLDER

Prints one JSON object: seconds, samples, sum of codes, edges. Vectorised inside each frame; the frame loop itself is
Python, as the frames' lengths are only known one after the other. Written from protocol/WIRE.md alone.
"""

import json
import sys
import time
import zlib
from pathlib import Path

import numpy as np
from cobs import cobs


def varint(body, at):
    value, shift = 0, 0
    while True:
        byte = body[at]
        at += 1
        value |= (byte & 0x7F) << shift
        if byte < 0x80:
            return value, at
        shift += 7


def zigzag(value):
    return (value >> 1) ^ -(value & 1)


def block(body, at):
    """Codes of a block as int64, and where it ends."""
    count, at = varint(body, at)
    coding = body[at]
    start, at = varint(body, at + 1)
    start = zigzag(start)
    length, at = varint(body, at)
    planes = np.frombuffer(body, np.uint8, length, at)
    at += length
    predictor, k = coding >> 5, coding & 0x1F
    low_bytes = (count * k + 7) // 8
    residual = np.zeros(count, np.int64)
    if k:
        bits = np.unpackbits(planes[:low_bytes], bitorder="little", count=count * k)
        residual += bits.reshape(count, k) @ (1 << np.arange(k, dtype=np.int64))
    ones = np.flatnonzero(np.unpackbits(planes[low_bytes:], bitorder="little"))[:count]
    high = np.diff(ones, prepend=-1) - 1
    residual |= high << k
    step = (residual >> 1) ^ -(residual & 1)
    if predictor == 0:
        codes = start + step
    elif predictor == 1:
        codes = start + np.cumsum(step)
    else:
        codes = start + np.cumsum(np.cumsum(step))
    # Arithmetic of 32 bits, signed.
    return ((codes + 2**31) % 2**32 - 2**31), at


def check_is_right(frame):
    stuffed, check = frame[:-5], frame[-5:]
    value = 0
    for i, byte in enumerate(check):
        value |= (byte & 0x7F) << (7 * i)
    return zlib.crc32(stuffed) == value


def decode(log):
    codes, n_edges = [], 0
    for frame in log.split(b"\0"):
        if len(frame) < 8 or not check_is_right(frame):
            continue
        body = cobs.decode(frame[:-5])
        kind = body[1]
        if kind == 2:
            _, at = varint(body, 2)
            _, at = varint(body, at)
            _, at = varint(body, at)
            codes.append(block(body, at)[0])
        elif kind == 3:
            at = 2
            for _ in range(4):
                _, at = varint(body, at)
            n_edges += len(block(body, at)[0]) + 1
    return np.concatenate(codes), n_edges


if __name__ == "__main__":
    log = (Path(sys.argv[1]) / "frames.log").read_bytes()
    begin = time.perf_counter()
    codes, n_edges = decode(log)
    seconds = time.perf_counter() - begin
    print(
        json.dumps(
            {"seconds": seconds, "samples": len(codes), "sum_of_codes": int(codes.sum()), "edges": n_edges}
        )
    )
