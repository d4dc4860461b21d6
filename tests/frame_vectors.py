#!/usr/bin/env python3
"""Makes tests/vectors/frames.toml: frames after docs/frames.md, by a program that is not the library.

    python3 -m venv /tmp/frames && /tmp/frames/bin/pip install ascon==0.0.9
    /tmp/frames/bin/python tests/frame_vectors.py > tests/vectors/frames.toml

Source: the permutation is that of the PyPI package `ascon` 0.0.9 (Ascon v1.2, whose permutation the
standard kept); the mode around it is written here after NIST SP 800-232 (little-endian words, its
initial value and padding) and tried on two of the standard's known answers before anything is written.
"""

import struct

from ascon import _ascon

INITIAL = 0x00001000808C0001


def permute(state, rounds):
    _ascon.ascon_permutation(state, rounds)


def seal(key, nonce, text, beside=b""):
    """Ascon-AEAD128: the sealed text and the whole tag."""
    k0, k1 = struct.unpack("<QQ", key)
    state = [INITIAL, k0, k1, *struct.unpack("<QQ", nonce)]
    permute(state, 12)
    state[3] ^= k0
    state[4] ^= k1
    if beside:
        padded = beside + b"\x01" + bytes(-(len(beside) + 1) % 16)
        for at in range(0, len(padded), 16):
            a, b = struct.unpack("<QQ", padded[at : at + 16])
            state[0] ^= a
            state[1] ^= b
            permute(state, 8)
    state[4] ^= 1 << 63
    padded = text + b"\x01" + bytes(-(len(text) + 1) % 16)
    sealed = b""
    for at in range(0, len(padded), 16):
        a, b = struct.unpack("<QQ", padded[at : at + 16])
        state[0] ^= a
        state[1] ^= b
        sealed += struct.pack("<QQ", state[0], state[1])
        if at + 16 < len(padded):
            permute(state, 8)
    state[2] ^= k0
    state[3] ^= k1
    permute(state, 12)
    return sealed[: len(text)], struct.pack("<QQ", state[3] ^ k0, state[4] ^ k1)


def mark(key):
    return seal(key, b"\xff" * 16, b"")[1][0] & 15


def frame(key, kind, hand, session, counter, peer, payload, answered=0):
    """`answered` is the counter of the command that telemetry answers; 0 in all else."""
    lap = answered >> 11
    first = 1 << 5 | kind << 3 | hand << 1 | lap & 1
    header = bytes([first, (peer & 15) << 4 | mark(key)]) + struct.pack("<I", session)[:3]
    header += struct.pack("<I", counter)
    nonce = header + struct.pack("<I", peer)[:3] + struct.pack("<I", lap)
    sealed, tag = seal(key, nonce, payload)
    return header + sealed + tag[:8]


def command(share, brake_left, backward, neutral, answers):
    """`share` in 16384ths, `brake_left` in 128ths."""
    return struct.pack("<hBBI", share, brake_left, backward | neutral << 1, answers)


def telemetry(volts_5mV, amperes_20mA, charge, way, speed_20mm_s, cell_5mV, turn, age, lock, held, fault, answers):
    middle = (speed_20mm_s & 0xFFF) | cell_5mV << 12 | (charge is not None) << 22 | (way is not None) << 23
    return (
        struct.pack("<Hh", volts_5mV, amperes_20mA)
        + struct.pack("<I", (charge or 0) & 0xFFFFFF)[:3]
        + struct.pack("<H", (way or 0) & 0xFFFF)
        + struct.pack("<I", middle)[:3]
        + bytes([turn, age | lock << 3 | held << 6 | fault << 7, answers])
    )


def check():
    counting = bytes(range(16))
    assert seal(counting, counting, b"")[1].hex().upper() == "4427D64B8E1E1451FC445960F0839BB0"
    assert seal(counting, counting, b"", b"\0")[1].hex().upper() == "103AB79D913A0321287715A979BB8585"


def say(**pairs):
    for name, value in pairs.items():
        print(f"{name} = {str(value).lower() if isinstance(value, bool) else value if isinstance(value, int) else chr(34) + value + chr(34)}")


def main():
    check()
    key = bytes.fromhex("a1b2c3d4e5f60718293a4b5c6d7e8f90")
    print("# Frames after docs/frames.md, made by tests/frame_vectors.py; invented values.")
    print("# Exchanges of a fiftieth of a second each: a frame of the board, then one of the hand. A new hand")
    print("# answers the third call. Of the second exchange only its end is here, after so many of them.")
    say(key=key.hex())
    first(key)
    later(key)


def first(key):
    hand_session, board_session, hand = 42, 78, 0
    print("\n[[exchange]]")
    say(hand=hand, hand_session=hand_session, board_session=board_session, before=0, measured=True)
    # What the board measures in this exchange: 38.155 V, -7.04 A, -90 C, 1.25 m, 6.42 m/s, 3.655 V; the
    # cells at -3.5 degC, the motor at 71, no sensor on the controller; 130 ms old; the lock of a start.
    measured = dict(volts_5mV=7631, amperes_20mA=-352, charge=-90 * 32, way=10, speed_20mm_s=321, cell_5mV=731)
    turns = [73, 111, 255, 0]
    state = dict(age=1, lock=1, held=1, fault=0)
    commands = [
        dict(share=0, brake_left=128, backward=0, neutral=1),
        dict(share=4096, brake_left=128, backward=0, neutral=0),
        dict(share=-16384, brake_left=64, backward=0, neutral=0),
        dict(share=-1638, brake_left=0, backward=1, neutral=0),
    ]
    # While nobody is heard, of each eight frames these are calls; the others would be for a hand.
    for counter in range(8):
        calls = counter < 3
        # By the last one two fiftieths have passed without a command: one is lost, beside four, which is
        # 3.2 sixteenths and told as four; the silence is less than a step.
        turn = 4 if counter == 7 else turns[counter & 3]
        payload = telemetry(**measured, turn=turn, **state, answers=0)
        peer = 0 if calls else hand_session
        sent = frame(key, 3 if calls else 2, hand, board_session, counter, peer, payload)
        print("\n[[exchange.frame]]")
        say(sender="board", payload=payload.hex(), bytes=sent.hex())
        if 2 <= counter < 6:
            said = commands[counter - 2]
            payload = command(**said, answers=counter)
            sent = frame(key, 1, hand, hand_session, counter - 2, board_session, payload)
            print("\n[[exchange.frame]]")
            say(sender="hand", **said, payload=payload.hex(), bytes=sent.hex())


def later(key):
    """The same far on: another hand, large numbers, a board that measures little, a lap of its own."""
    hand_session, board_session, hand, before = 0x123456, 0x0A0B0C, 2, 6999
    print("\n[[exchange]]")
    say(hand=hand, hand_session=hand_session, board_session=board_session, before=before, measured=False)
    # A pack at 401.5 V and -700 A: beyond both ranges, so at their ends.
    little = dict(volts_5mV=65535, amperes_20mA=-32767, charge=None, way=None, speed_20mm_s=-2048, cell_5mV=1023)
    state = dict(age=7, lock=4, held=0, fault=1)
    for counter in range(before, before + 4):
        # The command before has the counter two and one less: the first two calls were not answered.
        answered = counter - 3
        turn = 0 if counter & 3 == 3 else 255
        payload = telemetry(**little, turn=turn, **state, answers=answered >> 3 & 0xFF)
        sent = frame(key, 2, hand, board_session, counter, hand_session, payload, answered)
        print("\n[[exchange.frame]]")
        say(sender="board", payload=payload.hex(), bytes=sent.hex())
        said = dict(share=-8192, brake_left=7, backward=0, neutral=0)
        payload = command(**said, answers=counter)
        sent = frame(key, 1, hand, hand_session, counter - 2, board_session, payload)
        print("\n[[exchange.frame]]")
        say(sender="hand", **said, payload=payload.hex(), bytes=sent.hex())


if __name__ == "__main__":
    main()
