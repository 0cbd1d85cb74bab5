# Lengths of sideways moves, computed with mpmath (1.3.0 when last run) and printed for the tables of shift_test.go and
# fresnel_test.go. It shares nothing with the Go code: everything is an integral of what the shape is defined by.
from mpmath import mp, mpf, quad, sqrt, diff, pi, cos, sin, findroot, fresnelc, fresnels, linspace

mp.dps = 30
L, d = mpf(360), mpf(84)

def graph(y):
    return quad(lambda x: sqrt(1 + diff(y, x) ** 2), linspace(0, L, 9))

print("cubic", mp.nstr(graph(lambda x: d * (3 * (x / L) ** 2 - 2 * (x / L) ** 3)), 14))
print("cosine", mp.nstr(graph(lambda x: d * (1 - cos(pi * x / L)) / 2), 14))
print("quintic", mp.nstr(graph(lambda x: d * (10 * (x / L) ** 3 - 15 * (x / L) ** 4 + 6 * (x / L) ** 5)), 14))

# four equal clothoids: heading by arc length s of a move of length 1, greatest curvature k
def heading(s, k):
    if s > mpf(1) / 2:
        s = 1 - s
    if s <= mpf(1) / 4:
        return 2 * k * s * s
    u = mpf(1) / 2 - s
    return k / 4 - 2 * k * u * u

def end(k):
    parts = [0, mpf(1) / 4, mpf(1) / 2, mpf(3) / 4, 1]
    return quad(lambda s: cos(heading(s, k)), parts), quad(lambda s: sin(heading(s, k)), parts)

k = findroot(lambda k: end(k)[1] / end(k)[0] - d / L, 1.8)
print("clothoids", mp.nstr(L / end(k)[0], 14), "radius", mp.nstr(L / end(k)[0] / k, 14))

# a change of lanes inside a bend: offset e over arc c of the centre line, ds = sqrt((1 - k e)^2 + e'^2) dc
R, A = mpf(450), pi / 3
e = lambda c: 42 * cos(pi * c / (R * A))
print("bend", mp.nstr(quad(lambda c: sqrt((1 - e(c) / R) ** 2 + diff(e, c) ** 2), linspace(0, R * A, 9)), 14))

for x in (0.1, 0.5, 1.0, 1.5, 2.0):
    print("fresnel", x, mp.nstr(fresnelc(x), 12), mp.nstr(fresnels(x), 12))
