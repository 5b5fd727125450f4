"""A long run of the same bays, of any length: legs in a row, an apron over each two of them.

Every leg is calipered but every seventh, which is only known to be made; neighbours are read by
rod, and every five bays an overall tape reading closes a loop. Invented.
"""

from __future__ import annotations

import random

HEAD = """\
format = 1
title = "A long run of bays"
unit = "mm"
finest = "0.5"
workmanship = "0.3"
workmanship_width = "0.1"
give = "1.5"
fits = {{ slip = ["0.1", "0.3", "0.6"] }}

[part.leg]
copies = [{legs}]
x = "left 90 right"

[part.apron]
copies = [{aprons}]
x = ["l.end 1000 (hold) r.end", "l.end 50 (give 3) l.dado-o 90 l.dado-i 720 r.dado-i 90 r.dado-o 50 (give 3) r.end"]

[joint.dado]
each = \"\"\"
apron e leg
{rows}\"\"\"
meet = "leg.{{leg}}.left/right in apron.{{apron}}.{{e}}.dado-o/dado-i, slip"

[keep]
ends = "apron.*.l.end..l.dado-o = r.dado-o..r.end, give 2"
"""

MARKS_PER_BAY = 8


def plan_text(bays: int) -> str:
    """The plan of a run of so many bays."""
    legs = ", ".join(f'"n{k}"' for k in range(bays + 1))
    aprons = ", ".join(f'"n{k}"' for k in range(bays))
    rows = "".join(f"n{k} l n{k}\nn{k} r n{k + 1}\n" for k in range(bays))
    return HEAD.format(legs=legs, aprons=aprons, rows=rows)


def log_text(bays: int, seed: int = 1) -> str:
    """Its shop log: legs made and read, spacings read, overall readings every five bays."""
    draw = random.Random(seed)
    width = [90 + draw.gauss(0, 0.3) for _ in range(bays + 1)]
    space = [720 + draw.gauss(0, 0.5) for _ in range(bays)]
    rows = []
    for k in range(bays + 1):
        if k % 7 == 3:
            rows.append(("made", f"leg.n{k}", "", "", ""))
        else:
            rows.append(("reading", f"leg.n{k}.left", f"leg.n{k}.right", width[k] + draw.gauss(0, 0.05), "caliper"))
    for k in range(bays):
        rows.append(("reading", f"leg.n{k}.right", f"leg.n{k + 1}.left", space[k] + draw.gauss(0, 0.1), "rod"))
    for k in range(0, bays - 4, 5):
        overall = sum(width[k : k + 6]) + sum(space[k : k + 5])
        rows.append(("reading", f"leg.n{k}.left", f"leg.n{k + 5}.right", overall + draw.gauss(0, 0.5), "tape"))
    lines = ["no,time,event,from,to,reading,tool,note"]
    for number, (event, start, end, reading, tool) in enumerate(rows, 1):
        shown = f"{reading:.2f}" if reading != "" else ""
        lines.append(f"{number},2025-03-10T09:00:00+01:00,{event},{start},{end},{shown},{tool},")
    return "\n".join(lines) + "\n"


def bays_for(marks: int) -> int:
    """How many bays give about so many marks."""
    return max(1, round((marks - 2) / MARKS_PER_BAY))
