#!/usr/bin/env python3
"""Makes the recording depot_mower.log and the readings it must give, depot_mower.expected_signals.csv.

usage: make_mower.py DIRECTORY

A made-up mower of the depot, 30 s: key on, start, low idle, work, a burn that is far too short, a fault that comes and goes.
Everything is decided here as a physical value and encoded by the few lines below, which share nothing with the program; the
list of readings is written from the physical values, not read back. Positions and scales: SAE J1939-71 as quoted in
src/feed/data/j1939_signals.csv, which names its sources.
"""
import pathlib
import sys

START_US = 1748858400000000  # 2025-06-02T10:00:00Z
NA8, NA16, NA32 = 0xFF, 0xFFFF, 0xFFFFFFFF
frames = []    # (time, interface, text behind the interface)
readings = []  # (time, source, pgn, spn, raw, status, value, unit)


def put(ms, ident, data, extra=""):
    frames.append((START_US + ms * 1000, "can0", f"{ident}#{data.hex().upper()}{extra}"))


def tell(ms, source, pgn, spn, raw, value, unit, status="ok"):
    readings.append((START_US + ms * 1000, source, pgn, spn, raw, status, value, unit))


def raw(value, scale, offset=0):
    r = (value - offset) / scale
    assert abs(r - round(r)) < 1e-6, (value, scale)
    return round(r)


def le(value, n):
    return value.to_bytes(n, "little")


def bam(ms, source, pgn, payload):
    """A broadcast; returns the time of its last packet."""
    n = (len(payload) + 6) // 7
    put(ms, f"18ECFF{source:02X}", bytes([32]) + le(len(payload), 2) + bytes([n, 255]) + le(pgn, 3))
    for k in range(n):
        ms += 60
        part = payload[7 * k:7 * k + 7]
        put(ms, f"1CEBFF{source:02X}", bytes([k + 1]) + part + b"\xff" * (7 - len(part)))
    return ms


def directed(ms, source, to, pgn, payload):
    n = (len(payload) + 6) // 7
    put(ms, f"18EC{to:02X}{source:02X}", bytes([16]) + le(len(payload), 2) + bytes([n, 255]) + le(pgn, 3))
    put(ms + 5, f"18EC{source:02X}{to:02X}", bytes([17, n, 1, 255, 255]) + le(pgn, 3))
    for k in range(n):
        part = payload[7 * k:7 * k + 7]
        put(ms + 10 + 5 * k, f"1CEB{to:02X}{source:02X}", bytes([k + 1]) + part + b"\xff" * (7 - len(part)))
    put(ms + 15 + 5 * n, f"18EC{source:02X}{to:02X}", bytes([19]) + le(len(payload), 2) + bytes([n, 255]) + le(pgn, 3))


def fault(spn, mode, count, old=False):
    return le(spn & 0xFFFF, 2) + bytes([(spn >> 16) << 5 | mode, count | (0x80 if old else 0)])


def dm1(ms, faults, lamps):
    data = bytes([lamps, 0xFF]) + (b"".join(faults) or b"\0\0\0\0")
    if len(data) <= 8:
        put(ms, "18FECA00", data + b"\xff" * (8 - len(data)))
    else:
        bam(ms, 0, 65226, data)


def speed(ms):
    """rpm: stopped, cranking 2.0 to 2.8 s, idle 850 to 14 s, work 2200 from 16 s."""
    if ms < 2000:
        return 0
    if ms < 2800:
        return 190
    if ms < 14000:
        return 850
    return 2200 if ms >= 16000 else 850 + (ms - 14000) / 100 * 67.5


def volts(ms):
    return 12.6 if ms < 2000 else (9.85 if ms < 2400 else 10.4) if ms < 2800 else 14.2


def oil(ms):
    return 0 if ms < 2600 else 248 if ms < 14000 else 412


def second(ms):
    """Slow groups, once a second."""
    rpm = speed(ms)
    coolant = 20 + ms // 1000 * 2
    r = raw(coolant, 1, -40)
    oil_temperature = 18 + ms / 1000 * 2.5
    ro = raw(oil_temperature, 0.03125, -273)
    put(ms + 20, "18FEEE00", bytes([r, 255]) + le(ro, 2) + b"\xff" * 4)
    tell(ms + 20, 0, 65262, 110, r, coolant, "degC")
    tell(ms + 20, 0, 65262, 175, ro, oil_temperature, "degC")
    hydraulic = 15 + ms // 2000
    put(ms + 30, "18FE6847", bytes([raw(hydraulic, 1, -40), 0xFC if ms < 20000 else 0xFD, 255, 255, 255, 255, 255, 255]))
    tell(ms + 30, 71, 65128, 1638, raw(hydraulic, 1, -40), hydraulic, "degC")
    restricted = 0 if ms < 20000 else 1
    tell(ms + 30, 71, 65128, 1713, restricted, restricted, "")
    burning = 1 if 18000 <= ms < 26000 else 2 if 17000 <= ms < 18000 else 0
    soot = 84 if ms < 18000 else max(84 - (ms - 18000) // 1000 * 6, 36)
    put(ms + 40, "18FD7C00", bytes([0xFF, 0xF3 | burning << 2, 255, 255, 255, 255, 255, 255]))
    tell(ms + 40, 0, 64892, 3700, burning, burning, "")
    put(ms + 50, "18FD7B00", bytes([soot, 11, 255, 255, 255, 255, 255, 255]))
    tell(ms + 50, 0, 64891, 3719, soot, soot, "%")
    tell(ms + 50, 0, 64891, 3720, 11, 11, "%")
    if ms % 5000 == 1000:
        hours = 1412.3 if ms < 20000 else 1412.35
        put(ms + 60, "18FEE500", le(raw(hours, 0.05), 4) + b"\xff" * 4)
        tell(ms + 60, 0, 65253, 247, raw(hours, 0.05), hours, "h")
    if rpm == 850 and ms == 9000:  # one reading of the fuel temperature, and one that the controller marks as faulty
        put(ms + 70, "18FEEE00", bytes([255, raw(31, 1, -40)]) + b"\xff" * 6)
        tell(ms + 70, 0, 65262, 174, raw(31, 1, -40), 31, "degC")
        put(ms + 80, "18FEEE00", bytes([255, 254]) + b"\xff" * 6)
        tell(ms + 80, 0, 65262, 174, 254, None, "degC", "error")


def fast(ms):
    """Engine speed five times a second, pressure and voltage twice."""
    r = raw(speed(ms), 0.125)
    put(ms, "0CF00400", b"\xff\xff\xff" + le(r, 2) + b"\xff" * 3)
    tell(ms, 0, 61444, 190, r, speed(ms), "rpm")
    if ms % 400 == 0:
        p = raw(oil(ms), 4)
        put(ms + 5, "18FEEF00", b"\xff\xff\xff" + bytes([p]) + b"\xff" * 4)
        tell(ms + 5, 0, 65263, 100, p, oil(ms), "kPa")
        v = raw(volts(ms), 0.05)
        put(ms + 6, "18FEF700", b"\xff" * 4 + le(v, 2) + b"\xff\xff")
        tell(ms + 6, 0, 65271, 168, v, volts(ms), "V")


def main():
    name = 4711 | 65 << 21 | 0 << 40 | 2 << 60 | 1 << 63
    put(1, "18EEFF00", le(name, 8))
    for ms in range(0, 30000, 200):
        fast(ms)
    for ms in range(0, 30000, 1000):
        second(ms)
    for ms in range(500, 30000, 1000):  # active: 97.0 from 12 s to 20 s, 100.1 at the end, an old number throughout
        active = [fault(800, 4, 1, old=True)]
        if 12000 <= ms < 20000:
            active.append(fault(97, 0, 3))
        if ms >= 28000:
            active.append(fault(100, 1, 127))
        dm1(ms + 100, active, 0x04 if len(active) > 1 else 0x00)
    bam(3100, 0, 65259, b"TIDEWERKS*TS-3*0042*")
    directed(4100, 0, 249, 65227, bytes([0, 0xFF]) + fault(110, 16, 2) + fault(266804, 3, 9))
    frames.append((START_US + 5001000, "can0", "123#0102"))          # short identifier
    frames.append((START_US + 5002000, "can0", "18FEEE00#R8"))       # remote
    frames.append((START_US + 5003000, "can0", "20000080#0000000000000000"))  # error frame
    frames.append((START_US + 5004000, "can0", "18FEEE00##1FFFF"))   # CAN FD
    frames.append((START_US + 5005000, "can1", "1DF11223#0000000000000000"))  # data page 1, another bus
    frames.append((START_US + 5006000, "can0", "18FEEE00#FFFF R"))   # with direction, all not available
    frames.append((START_US + 5007000, "can0", "18FEEE00#FFF"))      # half a byte: malformed
    frames.sort(key=lambda f: f[0])
    order = {spn: i for i, spn in enumerate((110, 174, 175))}
    readings.sort(key=lambda r: (r[0], order.get(r[3], 0)))
    out = pathlib.Path(sys.argv[1])
    with open(out / "depot_mower.log", "w", encoding="ascii") as f:
        for us, interface, text in frames:
            f.write(f"({us // 1000000}.{us % 1000000:06d}) {interface} {text}\n")
    with open(out / "depot_mower.expected_signals.csv", "w", encoding="ascii") as f:
        f.write("time,iface,source_address,pgn,spn,raw,status,value,unit\n")
        for us, source, pgn, spn, r, status, value, unit in readings:
            shown = "" if value is None else f"{value:g}" if value < 1000 else f"{round(value, 4):.6g}"
            f.write(f"{us // 1000000}.{us % 1000000:06d},can0,{source},{pgn},{spn},{r},{status},{shown},{unit}\n")


main()
