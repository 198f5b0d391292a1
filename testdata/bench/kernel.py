"""The kernel's arithmetic as a loop over hours in plain NumPy: designs and
outlets are one array, every branch is worked out and the right one chosen.
What the kernel is measured against.

    kernel.py problem result runs

reads what simulate/kernel's BenchmarkAgainst leaves in $STILLROW_PROBLEMS, prints
the processor time of each of some runs in ns and writes the heat of all outlets
and designs.
"""
import sys
import time

import numpy as np

LEAVE, RETURN, REFILL = 1, 2, 4
TINY = 1e-9

HOUR = np.dtype([("row", "<i4", 8), ("weight", "<f4", 8), ("n", "<i4"), ("sky", "<f4"), ("ground", "<f4"), ("event", "<u4")])
REGIME = np.dtype([("in", "<f4"), ("out", "<f4"), ("run", "<f4"), ("dry", "<f4"), ("wet", "<f4"), ("start_dry", "<u4"), ("first", "<f4")])
LINE = np.dtype([(k, "<f4") for k in ("base", "inv_u", "u", "wet_hour", "wet_time", "dry_hour", "dry_time")])


def read(path):
    with open(path, "rb") as f:
        designs, rows, hours, outlets = np.fromfile(f, "<i4", 4)
        real = lambda n: np.fromfile(f, "<f4", n).astype(float)
        sky, ground, beam = real(designs), real(designs), real(rows * designs).reshape(rows, designs)
        hour = np.fromfile(f, HOUR, hours)
        regime = np.fromfile(f, REGIME, outlets)
        line = np.fromfile(f, LINE, outlets * hours).reshape(outlets, hours)
    return sky, ground, beam, hour, regime, line


def columns(table, shape):
    """Gives the columns of a table in double precision, ready to go with a line of designs."""
    return {k: table[k].astype(float).reshape(shape) for k in table.dtype.names}


def march(sky, ground, beam, hour, regime, line):
    outlets, designs = len(regime), len(sky)
    r = columns(regime, (outlets, 1))
    lines = columns(line.T, (len(hour), outlets, 1))
    span = r["out"] - r["in"]
    t = np.broadcast_to(r["first"], (outlets, designs)).copy()
    store = np.broadcast_to(r["in"], (outlets, designs)).copy()
    out = np.broadcast_to(r["start_dry"] != 0, (outlets, designs)).copy()
    heat = np.zeros((outlets, designs))

    for h, now in enumerate(hour):
        light = now["sky"] * sky + now["ground"] * ground
        for k in range(now["n"]):
            light = light + now["weight"][k] * beam[now["row"][k]]

        l = {k: v[h] for k, v in lines.items()}
        event = now["event"]
        if event & LEAVE:
            store = np.where(out, store, t)
            out[:] = True
        if event & RETURN:
            t = np.where(out, (r["dry"] * t + (r["wet"] - r["dry"]) * store) / r["wet"], t)
            out[:] = False

        steady = l["base"] + light * l["inv_u"]
        part, decay = 1.0, l["wet_hour"]
        if event & REFILL and out.any():
            need = np.minimum(store, r["run"])
            gap, d = steady - t, steady - need
            already = out & (t >= need)
            rising = out & ~already & (d > TINY) & (gap * l["dry_hour"] <= d)
            after = np.where(rising, np.minimum(1, l["dry_time"] * np.log(gap / d)), 0)
            back = already | rising
            warm = np.where(rising, need, t)
            t = np.where(back, (r["dry"] * warm + (r["wet"] - r["dry"]) * store) / r["wet"], t)
            part = np.where(back, 1 - after, 1)
            decay = np.where(back, np.exp(-part / l["wet_time"]), decay)
            out &= ~back
        decay = np.where(out, l["dry_hour"], decay)

        gap, d = steady - t, steady - r["out"]
        end = gap * decay
        flows = ~out & (d > TINY)
        if flows.any():
            mean = np.where(span > 0, span / np.log1p(span / d), d)  # plug flow
            above = flows & (gap <= mean)
            within = flows & ~above & (end <= mean)
            loss = l["u"] * mean
            left = np.maximum(part - l["wet_time"] * np.log(gap / mean), 0)
            heat += np.where(above, r["wet"] * (mean - gap) + loss * part, np.where(within, loss * left, 0))
            end = np.where(above | within, mean, end)
        t = steady - end
    return heat


def main():
    problem, result, runs = sys.argv[1:]
    parts = read(problem)
    with np.errstate(all="ignore"):  # branches not taken may divide by zero
        for _ in range(int(runs)):
            start = time.process_time_ns()
            heat = march(*parts)
            print(time.process_time_ns() - start)
    heat.astype("<f4").tofile(result)


if __name__ == "__main__":
    main()
