"""CAN frames: how many bits one takes, at worst and exactly."""

from __future__ import annotations

from legwright.errors import RequestError

CRC_POLYNOMIAL = 0x4599
"""CRC-15 of CAN; ISO 11898-1."""

TAIL = 13
"""Bits that are never stuffed: CRC delimiter, acknowledge and its delimiter, end of frame,
and the 3 bits between frames."""

_STUFFABLE = {False: 34, True: 54}
"""Bits that may be stuffed, payload left out, by standard and extended identifier."""


def _payload(count: int) -> None:
    if not 0 <= count <= 8:
        raise RequestError("payload bytes", count, "0 to 8")


def plain_bits(payload: int, *, extended: bool = False) -> int:
    """Bits of a frame without stuffing, 3 bits between frames included.

    Args:
        payload: Bytes, 0 to 8.
        extended: 29-bit identifier.

    Source: ISO 11898-1.
    """
    _payload(payload)
    return _STUFFABLE[extended] + 8 * payload + TAIL


def worst_bits(payload: int, *, extended: bool = False) -> int:
    """Most bits a frame can take with stuffing, 3 bits between frames included.

    Args:
        payload: Bytes, 0 to 8.
        extended: 29-bit identifier.

    Source: Davis, Burns, Bril, Lukkien, Real-Time Systems 35 (2007) 239:
    g + 8s + 13 + ⌊(g + 8s - 1) / 4⌋, g = 34 or 54.
    """
    _payload(payload)
    stuffable = _STUFFABLE[extended] + 8 * payload
    return stuffable + TAIL + (stuffable - 1) // 4


def crc15(bits: list[int]) -> int:
    """CRC-15 of a sequence of bits, most significant first; ISO 11898-1."""
    register = 0
    for bit in bits:
        turn = bit ^ (register >> 14)
        register = (register << 1) & 0x7FFF
        if turn:
            register ^= CRC_POLYNOMIAL
    return register


def _bits(value: int, width: int) -> list[int]:
    return [(value >> at) & 1 for at in range(width - 1, -1, -1)]


def frame_bits(identifier: int, data: bytes = b"", *, extended: bool = False) -> list[int]:
    """The bits of a data frame that may be stuffed: start of frame to checksum, unstuffed.

    Args:
        identifier: 11 or 29 bits.
        data: Payload, up to 8 bytes.
        extended: 29-bit identifier.

    Raises:
        RequestError: for an identifier or payload that does not fit.

    Source: ISO 11898-1 frame layout.
    """
    _payload(len(data))
    width = 29 if extended else 11
    if not 0 <= identifier < 1 << width:
        raise RequestError("identifier", identifier, f"0 to {(1 << width) - 1:#x}")
    bits = [0]
    if extended:
        # Base identifier, SRR, IDE, the rest of the identifier, RTR, two reserved bits.
        bits += [*_bits(identifier >> 18, 11), 1, 1, *_bits(identifier & 0x3FFFF, 18), 0, 0, 0]
    else:
        # Identifier, RTR, IDE, one reserved bit.
        bits += [*_bits(identifier, 11), 0, 0, 0]
    bits += _bits(len(data), 4)
    for byte in data:
        bits += _bits(byte, 8)
    return bits + _bits(crc15(bits), 15)


def stuff_bits(bits: list[int]) -> int:
    """How many stuff bits a sequence gets: one of the other kind after each five alike.

    Source: ISO 11898-1; a stuff bit counts for the next five.
    """
    stuffed, last, alike = 0, -1, 0
    for bit in bits:
        alike = alike + 1 if bit == last else 1
        last = bit
        if alike == 5:
            stuffed += 1
            last, alike = 1 - bit, 1
    return stuffed


def exact_bits(identifier: int, data: bytes = b"", *, extended: bool = False) -> int:
    """Bits that a given data frame takes on the wire, 3 bits between frames included."""
    bits = frame_bits(identifier, data, extended=extended)
    return len(bits) + stuff_bits(bits) + TAIL
