# Writes union_cases.json: strips of road on tables, judged by a general-purpose geometry library.
# Run once with Debian 12's python3-shapely 1.8.5 (GEOS 3.11.1); the tests read its output only.
import json, math, random
from shapely.geometry import Polygon, box
from shapely.ops import unary_union
from shapely import affinity

rng = random.Random(20)
POINTS = 4000  # along each edge of a bend

def table(x, y, w, d, turn):
    return affinity.translate(affinity.rotate(box(0, 0, w, d), turn, origin=(0, 0)), x, y)

def strip(x, y, heading, length, turn, radius, left, right):
    """The outline of a band: a rectangle where turn is 0, else a part of a ring."""
    h = math.radians(heading)
    if turn == 0:
        def at(s, e):
            return (x + s * math.cos(h) - e * math.sin(h), y + s * math.sin(h) + e * math.cos(h))
        return Polygon([at(0, left), at(length, left), at(length, -right), at(0, -right)])
    side = math.copysign(1, turn)
    cx, cy = x - side * radius * math.sin(h), y + side * radius * math.cos(h)
    def at(u, e):
        a = h - side * math.pi / 2 + math.radians(turn) * u
        r = radius - side * e
        return (cx + r * math.cos(a), cy + r * math.sin(a))
    pts = [at(i / POINTS, left) for i in range(POINTS + 1)] + [at(i / POINTS, -right) for i in range(POINTS, -1, -1)]
    return Polygon(pts)

cases = []
while len(cases) < 120:
    kind = len(cases) % 3
    n = rng.randint(1, 4)
    tables = []
    for i in range(n):
        if kind == 0 and i > 0:  # beside the one before, touching, shifted along
            x, y, w, d, _ = tables[-1]
            tables.append((x + w, y + rng.choice([0, 300.0, -450.5]), rng.choice([1219.2, 609.6]), rng.choice([2438.4, 1219.2]), 0))
        else:
            tables.append((rng.uniform(-500, 500), rng.uniform(-500, 500), rng.choice([1219.2, 2438.4, 609.6]), rng.choice([1219.2, 609.6]),
                           0 if kind == 1 else rng.choice([0, 15, 30, 45, -20, 90])))
    turn = rng.choice([0, 0, 30, 60, -60, 90, -180, 180, 270])
    radius = rng.choice([180.0, 270.0, 450.0, 630.0])
    length = rng.choice([90.0, 180.0, 360.0, 1200.0]) if turn == 0 else radius * math.radians(abs(turn))
    left, right = rng.choice([(90.0, 90.0), (110.0, 130.0), (60.0, 60.0)])
    s = (rng.uniform(-600, 1800), rng.uniform(-600, 1800), rng.uniform(-180, 180), length, turn, radius, left, right)
    union = unary_union([table(*t) for t in tables])
    road = strip(*s)
    out = road.difference(union.buffer(1e-6))
    inside = out.area < 1e-3
    if inside:
        margin = union.boundary.distance(road)
    else:
        # The farthest place from the tables: among the outline of what hangs over, cut fine.
        far = 0.0
        parts = [out] if out.geom_type == "Polygon" else list(out.geoms)
        from shapely.geometry import Point
        for p in parts:
            rings = [p.exterior] + list(p.interiors)
            for r in rings:
                for k in range(int(r.length / 2) + 1):
                    far = max(far, union.distance(r.interpolate(k * 2)))
                for c in r.coords:
                    far = max(far, union.distance(Point(c)))
            lo = p.bounds
            for i in range(40):
                for k in range(40):
                    q = Point(lo[0] + (lo[2] - lo[0]) * i / 39, lo[1] + (lo[3] - lo[1]) * k / 39)
                    if p.contains(q):
                        far = max(far, union.distance(q))
        margin = -far
    # Keep a fair share of strips that fit.
    fits = sum(1 for c in cases if c["margin"] >= 0)
    if not inside and len(cases) - fits > fits + 10:
        continue
    cases.append({"tables": tables, "strip": s, "margin": margin})
json.dump(cases, open("union_cases.json", "w"), indent=0)
print(len(cases), sum(1 for c in cases if c["margin"] >= 0))
