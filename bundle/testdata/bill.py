"""Hold a bill of materials as CSV and as a workbook against the same bill as JSON.

Python's own csv reader and openpyxl read the two; what they must hold is worked out here from the JSON alone, by
other code than the one that wrote them. Exit status 1 with a line for each difference.

    python3 bill.py bill.json order.csv order.xlsx
"""
import csv
import datetime
import json
import sys

import openpyxl


def wanted(bill):
    """The rows that the JSON asks for: (variant, section, item) and what must be known of it."""
    out = []
    for v in bill["variants"]:
        def row(section, item, count=None, grams=None, seconds=None, cost=None, packs=None, pack_of=None, origin=None, what=None):
            out.append({"variant": v["variant"], "section": section, "item": item, "count": count, "grams": grams, "seconds": seconds,
                        "cost": cost, "packs": packs, "pack of": pack_of, "from": origin, "what": what})
        for p in v["parts"]:
            row("print", p["name"], p["copies"] + p["mirrored"], rounded(p.get("grams"), 1), p.get("seconds"), origin=came_from(p["mesh"], p))
        for f in v["filament"]:
            row("filament", f["filament"], rounded(f.get("metres"), 1), rounded(f.get("grams"), 0), cost=f.get("cost"), packs=rounded(f.get("spools"), 2), origin="colour role " + f["role"])
        for f in v["filament"]:
            for l in f.get("loads") or []:
                row("load", f["filament"], l["count"], seconds=l["seconds_each"])
        for f in v["fasteners"]:
            row("fastener", f["designation"], f["count"], cost=f.get("cost"), packs=f.get("packs"), pack_of=f.get("pack_of"), origin=came_from(", ".join(f["used_by"]), f))
        for b in v["bought"]:
            row("bought", b["name"], b["count"], cost=b.get("cost"), packs=b.get("packs"), pack_of=b.get("pack_of"), origin=came_from(b["kind"], b))
        for s in v.get("supplies") or []:
            row("supply", s)
        if "print_seconds" in v:
            row("total", "printing", seconds=v["print_seconds"])
        if "cost" in v:
            row("total", "cost", cost=v["cost"])
        for m in v.get("missing") or []:
            row("total", "not known", what=m)
    return out


def came_from(where, row):
    steps = row.get("steps") or []
    if not steps:
        return where
    return "%s; step%s %s" % (where, "s" if len(steps) > 1 else "", ", ".join(map(str, steps)))


def rounded(x, digits):
    return None if x is None else round(x, digits)


def seconds_of(text):
    """Seconds of "2h07m", "51m", "40s"."""
    total, digits = 0, ""
    for c in text:
        if c.isdigit():
            digits += c
        else:
            total += int(digits) * {"h": 3600, "m": 60, "s": 1}[c]
            digits = ""
    return total


def plain(text):
    """A cell without the apostrophe that keeps a spreadsheet from running it; line ends within a cell are CRLF there."""
    text = text.replace("\r\n", "\n")
    return text[1:] if len(text) > 1 and text[0] == "'" and text[1] in "=+-@\t\r\n" else text


def near(a, b, slack):
    if a is None or b is None:
        return a is None and b is None
    return abs(a - b) <= slack + 1e-9


def compare(name, want, rows, problems):
    if len(want) != len(rows):
        problems.append("%s: %d rows, the JSON asks for %d" % (name, len(rows), len(want)))
    for n, (w, r) in enumerate(zip(want, rows), 2):
        for key in ("variant", "section", "item"):
            if w[key] != r[key]:
                problems.append("%s row %d: %s is %r, the JSON says %r" % (name, n, key, r[key], w[key]))
        for key, slack in (("count", 0.051 if w["section"] == "filament" else 0), ("grams", 0.51 if w["section"] == "filament" else 0.051),
                           ("cost", 0.001), ("packs", 0.0051), ("pack of", 0)):
            if not near(w[key], r[key], slack):
                problems.append("%s row %d: %s of %s is %r, the JSON says %r" % (name, n, key, w["item"], r[key], w[key]))
        if not near(w["seconds"], r["seconds"], r["slack"]):
            problems.append("%s row %d: time of %s is %r s, the JSON says %r" % (name, n, w["item"], r["seconds"], w["seconds"]))
        for key in ("from", "what"):
            if w[key] is not None and w[key] != r[key]:
                problems.append("%s row %d: %s of %s is %r, the JSON says %r" % (name, n, key, w["item"], r[key], w[key]))


def from_csv(path, problems):
    raw = open(path, "rb").read()
    if b"\n" in raw.replace(b"\r\n", b""):
        problems.append("csv: a line does not end in CRLF (RFC 4180, 2.1)")
    out = []
    with open(path, newline="", encoding="utf-8-sig") as f:
        for r in csv.DictReader(f, strict=True):
            for key, cell in r.items():
                if cell and cell[0] in "=+-@\t\r\n":
                    problems.append("csv: a spreadsheet would run %s %r" % (key, cell))
            x = {k: plain(v) for k, v in r.items()}
            for key in ("count", "grams", "cost", "packs", "pack of"):
                x[key] = float(x[key]) if x[key] else None
            x["seconds"], x["slack"] = (seconds_of(x["time"]) if x["time"] else None), 30
            out.append(x)
    return out


def from_xlsx(path, bill, problems):
    book = openpyxl.load_workbook(path)
    out = []
    names = book.sheetnames
    several = len(bill["variants"]) > 1
    if len(names) != len(bill["variants"]) + several:
        problems.append("xlsx: worksheets %r" % names)
    for sheet in book:
        for line in sheet.iter_rows():
            for cell in line:
                if cell.data_type == "f":
                    problems.append("xlsx: %s!%s is a formula: %r" % (sheet.title, cell.coordinate, cell.value))
    for v, name in zip(bill["variants"], names):
        lines = book[name].iter_rows(values_only=True)
        heads = next(lines)
        for line in lines:
            x = dict(zip(heads, line))
            x["variant"] = v["variant"]
            for key in ("item", "what", "from", "section"):
                x[key] = x[key] or ""
            for key in ("count", "grams", "cost", "packs", "pack of"):
                if x[key] is not None and not isinstance(x[key], (int, float)):
                    problems.append("xlsx: %s of %s is %r, no number" % (key, x["item"], x[key]))
                    x[key] = None
            x["seconds"], x["slack"] = span(x["time"]), 0.51
            out.append(x)
    if several:
        beside(book[names[-1]], bill, problems)
    return out


def span(cell):
    if isinstance(cell, datetime.timedelta):
        return cell.total_seconds()
    if isinstance(cell, datetime.time):
        return cell.hour * 3600 + cell.minute * 60 + cell.second
    if isinstance(cell, datetime.datetime):
        return (cell - datetime.datetime(1899, 12, 30)).total_seconds()
    return cell


def beside(sheet, bill, problems):
    """The worksheet of the variants side by side holds each fastener's and bought part's count in each variant."""
    lines = sheet.iter_rows(values_only=True)
    heads = next(lines)
    names = [v["variant"] for v in bill["variants"]]
    if list(heads[4:-1]) != names:
        problems.append("xlsx: side by side stand %r" % (heads,))
        return
    rows = {}
    for line in lines:
        cells = line[4:-1]
        rows[(line[1], line[2])] = cells
        if (len(set(cells)) > 1) != (line[0] == "\u2260") or (line[0] == "\u2260") != bool(line[-1]):
            problems.append("xlsx: side by side, %r: the mark and the cells disagree" % (line,))
    for i, v in enumerate(bill["variants"]):
        for f in v["fasteners"]:
            cells = [c for (item, _), c in rows.items() if item == f["designation"]]
            if len(cells) != 1 or cells[0][i] != f["count"]:
                problems.append("xlsx: side by side, %s in %s: %r, the JSON says %r" % (f["designation"], names[i], cells, f["count"]))
        for b in v["bought"]:
            if (b["name"], b["what"]) in rows and rows[(b["name"], b["what"])][i] != b["count"]:
                problems.append("xlsx: side by side, %s in %s: %r, the JSON says %r" % (b["name"], names[i], rows[(b["name"], b["what"])], b["count"]))


def main():
    problems = []
    with open(sys.argv[1], encoding="utf-8") as f:
        bill = json.load(f)
    want = wanted(bill)
    compare("csv", want, from_csv(sys.argv[2], problems), problems)
    compare("xlsx", want, from_xlsx(sys.argv[3], bill, problems), problems)
    for p in problems:
        print(p)
    print("%d rows held against %s" % (len(want), ", ".join(sys.argv[2:])))
    sys.exit(1 if problems else 0)


main()
