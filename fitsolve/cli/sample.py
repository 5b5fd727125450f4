"""What `fitsolve new` writes: a small worked plan to change, or three lines to begin from nothing."""

WORKED = '''\
# An invented example: the base of a potting bench. Change it to what you build.
# fitsolve plan shows how it is understood, fitsolve sizes what to cut.
format = 1
title = "Potting bench"
unit = "in"                      # "in" or "mm"
finest = "1/32"                  # the finest line you lay out
workmanship = "1/32"             # where a mark lands, plus or minus
workmanship_width = "0.004"      # how true the width of a dado or tenon comes, plus or minus
give = "1/16"                    # how far a distance may drift from the plan before you mind

[tool.tape]                      # built-in tools have numbers of their own; change them here
good_to = "1/32"
per_length = 0.0004

# A run is read like a tape: marks, with the distances between them. Marks run along an axis:
# x left to right, y front to back, z up. Copies of a part may be handed.
[part.leg]
copies = { fl = "as drawn", fr = "left for right", rl = "front for rear", rr = "both" }
x = ["outer 3 1/2 inner",
     "outer 1 cheek-o 1 1/2 cheek-i 1 inner"]
y = ["face 3 1/2 back",
     "face 3/4 seat",
     "floor 2 back"]
z = ["foot 30 head",
     "foot 4 edge-b 3 edge-t",
     "foot 23 shoulder"]

[part.rail]                      # left and right: short, tenoned into the legs
copies = { left = "as drawn", right = "left for right" }
x = ["outer 1/2 f.cheek-o 1 1/2 f.cheek-i 1/2 inner",
     "outer 1/2 r.cheek-o 1 1/2 r.cheek-i 1/2 inner"]
y = "f.end 1 7/8 f.shoulder 16 r.shoulder 1 7/8 r.end"
z = "bottom 1/2 edge-b 3 edge-t 1/2 top"

[part.apron]                     # front and rear: long, with dados that drop over the legs
copies = { front = "as drawn", rear = "front for rear" }
x = ["l.end 60 (hold) r.end",
     "l.end 6 (give 1/4) l.dado-o 3 1/2 l.dado-i 41 r.dado-i 3 1/2 r.dado-o 6 (give 1/4) r.end"]
y = ["show 1 1/4 l.floor 1/2 back",
     "show 1 1/4 r.floor 1/2 back"]
z = ["low 2 l.step 7 top",
     "low 2 r.step 7 top"]

# A joint says what meets what, and how. {name} stands for a column of the table.
[joint.tenon]
each = """
rail   e  leg
left   f  fl
left   r  rl
right  f  fr
right  r  rr
"""
meet = ["rail.{rail}.{e}.shoulder against leg.{leg}.back, tight-up",
        "rail.{rail}.{e}.cheek-o/cheek-i in leg.{leg}.cheek-o/cheek-i, glue",
        "rail.{rail}.edge-b/edge-t in leg.{leg}.edge-b/edge-t, easy",
        "rail.{rail}.{e}.end short of leg.{leg}.floor by 1/16 to 1/4"]

[joint.dado]
each = """
apron  e  leg
front  l  fl
front  r  fr
rear   l  rl
rear   r  rr
"""
meet = ["leg.{leg}.outer/inner in apron.{apron}.{e}.dado-o/dado-i, slip",
        "apron.{apron}.{e}.floor against leg.{leg}.seat, tight-up",
        "apron.{apron}.{e}.step against leg.{leg}.shoulder, tight-up"]

# What to keep when sizes are chosen, and what to judge the frame by.
[keep]
apron-ends = "apron.*.l.end..l.dado-o = r.dado-o..r.end, give 1/8"

[check]
parallel = "leg.fl.inner..leg.fr.inner = leg.rl.inner..leg.rr.inner, within 1/16"
'''

EMPTY = """\
# A part has marks along its axes:   [part.leg]   x = "outer 3 1/2 inner"   (y front to back, z up)
# A joint says what meets:           [joint.dado]   meet = ["leg.outer/inner in apron.dado-o/dado-i, slip"]
# The unit of all lengths is "in" or "mm"; fitsolve plan shows how the plan is understood.
unit = "in"
"""
