"""Opens sealed frames, written from shared/WIRE.md and RFC 8439 alone; standard library only.

    python3 unseal.py PAIR.json OPEN.json PAIRED.json FRAMES    prints the messages as JSON

The first three are messages as decode.py prints them: the key, the host's draw, and what the device said of itself. The
ciphers are first held against the test vectors of RFC 8439, 2.8.2, and draft-irtf-cfrg-xchacha, 2.2.1 (from memory).
"""

import json
import pathlib
import struct
import sys

from decode import crc32_iscsi, decode, unstuff

WORD = 2**32 - 1
QUARTERS = [(0, 4, 8, 12), (1, 5, 9, 13), (2, 6, 10, 14), (3, 7, 11, 15)]
QUARTERS += [(0, 5, 10, 15), (1, 6, 11, 12), (2, 7, 8, 13), (3, 4, 9, 14)]


def rounds(state):
    s = list(state)
    for _ in range(10):
        for a, b, c, d in QUARTERS:
            for x, y, z, turn in ((a, b, d, 16), (c, d, b, 12), (a, b, d, 8), (c, d, b, 7)):
                s[x] = (s[x] + s[y]) & WORD
                s[z] ^= s[x]
                s[z] = (s[z] << turn | s[z] >> (32 - turn)) & WORD
    return s


def state(key, rest):
    return struct.unpack("<16I", b"expand 32-byte k" + key + rest)


def hchacha20(key, draw):
    s = rounds(state(key, draw))
    return struct.pack("<8I", *s[:4], *s[12:])


def chacha20(key, nonce, data, counter):
    out = bytearray()
    for at in range(0, len(data), 64):
        first = state(key, struct.pack("<I", counter + at // 64) + nonce)
        block = struct.pack("<16I", *((a + b) & WORD for a, b in zip(first, rounds(first))))
        out += bytes(x ^ y for x, y in zip(data[at : at + 64], block))
    return bytes(out)


def poly1305(key, data):
    r = int.from_bytes(key[:16], "little") & 0x0FFFFFFC0FFFFFFC0FFFFFFC0FFFFFFF
    total = 0
    for at in range(0, len(data), 16):
        total = (total + int.from_bytes(data[at : at + 16] + b"\1", "little")) * r % (2**130 - 5)
    return ((total + int.from_bytes(key[16:], "little")) % 2**128).to_bytes(16, "little")


def padded(data):
    return data + bytes(-len(data) % 16)


def tag(key, nonce, beside, sealed):
    once = chacha20(key, nonce, bytes(32), 0)
    return poly1305(once, padded(beside) + padded(sealed) + struct.pack("<QQ", len(beside), len(sealed)))


def check_ciphers():
    key = bytes(range(0x80, 0xA0))
    nonce, beside = bytes.fromhex("070000004041424344454647"), bytes.fromhex("50515253c0c1c2c3c4c5c6c7")
    text = b"Ladies and Gentlemen of the class of '99: If I could offer you only one tip for the future, sunscreen would be it."
    sealed = chacha20(key, nonce, text, 1)
    assert tag(key, nonce, beside, sealed).hex() == "1ae10b594f09e26a7e902ecbd0600691"
    drawn = hchacha20(bytes(range(32)), bytes.fromhex("000000090000004a0000000031415927"))
    assert drawn.hex() == "82413b4227b27bfed30e42508a877d73a0f9e4d58a74a853c12ec41326d3ecdc"


def main(pair, opened, paired, frames):
    check_ciphers()
    message = lambda path: json.loads(pathlib.Path(path).read_text())["messages"][0]
    key, draw, device = bytes(message(pair)["Pair"]), message(opened)["Open"], message(paired)["Paired"]
    own = struct.pack("<QII", device["device"], device["boot"], draw["count"])
    key = hchacha20(hchacha20(key, bytes(draw["random"])), own)
    said = []
    for frame in filter(None, pathlib.Path(frames).read_bytes().split(b"\0")):
        plain = unstuff(frame)
        payload, check = plain[:-4], plain[-4:]
        assert crc32_iscsi(payload) == int.from_bytes(check, "little")
        head, sealed, its_tag = payload[:6], payload[6:-16], payload[-16:]
        assert head[1] == 0xF0
        nonce = head[:1] + bytes(7) + head[2:]
        assert tag(key, nonce, head, sealed) == its_tag, "not sealed with this key"
        said.append(decode(head[:1] + chacha20(key, nonce, sealed, 1)))
    print(json.dumps(said))


if __name__ == "__main__":
    main(*sys.argv[1:])
