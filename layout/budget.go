package layout

import (
	"math"

	"lanewright/layout/curve"
)

// Play weights the two ways in which a joint gives: how readily it turns and how readily it shifts.
type Play struct {
	TurnRad float64
	ShiftMM float64
}

// Shares says what each joint has to give.
type Shares struct {
	TurnRad           []float64 // by joint
	ForwardMM, LeftMM float64   // the same at every joint, in the frame of the poses
	WorstTurnRad      float64
	WorstShiftMM      float64
}

// Share distributes a misfit over the joints of a chain by least squares, joint i in front of piece i at joints[i].
//
// With turns f_i and shifts t_i, sum (f_i/sa)² + |t_i|²/st² is smallest subject to sum f_i = -turn and
// sum [f_i J(end - p_i) + t_i] = -gap, J(x, y) = (-y, x). The multipliers m of the three conditions solve a 3x3 system, and
// f_i = sa² (m0 + J(end - p_i)·(mx, my)), t_i = st² (mx, my). It is the least-squares adjustment of a traverse in surveying.
// The linear model holds for small misfits; a large one comes out as far over any budget, which is all that is asked of it.
func Share(joints []curve.Pose, end curve.Pose, gapX, gapY, turn float64, play Play) Shares {
	n := float64(len(joints))
	if n == 0 {
		return Shares{}
	}
	sa2, st2 := play.TurnRad*play.TurnRad, play.ShiftMM*play.ShiftMM
	m := [3][4]float64{1: {1: n * st2}, 2: {2: n * st2}}
	for _, p := range joints {
		v := [3]float64{1, -(end.Y - p.Y), end.X - p.X}
		for i := range v {
			for j := range v {
				m[i][j] += sa2 * v[i] * v[j]
			}
		}
	}
	m[0][3], m[1][3], m[2][3] = -turn, -gapX, -gapY
	x, ok := solve3(m)
	if !ok {
		return Shares{WorstTurnRad: math.Inf(1), WorstShiftMM: math.Inf(1)}
	}
	s := Shares{TurnRad: make([]float64, len(joints)), ForwardMM: st2 * x[1], LeftMM: st2 * x[2]}
	for i, p := range joints {
		s.TurnRad[i] = sa2 * (x[0] - (end.Y-p.Y)*x[1] + (end.X-p.X)*x[2])
		s.WorstTurnRad = math.Max(s.WorstTurnRad, math.Abs(s.TurnRad[i]))
	}
	s.WorstShiftMM = math.Hypot(s.ForwardMM, s.LeftMM)
	return s
}

// solve3 solves three equations by elimination with pivoting; false where they do not determine the answer.
func solve3(m [3][4]float64) (x [3]float64, ok bool) {
	for c := range 3 {
		best := c
		for r := c + 1; r < 3; r++ {
			if math.Abs(m[r][c]) > math.Abs(m[best][c]) {
				best = r
			}
		}
		m[c], m[best] = m[best], m[c]
		if !(math.Abs(m[c][c]) > 1e-300) {
			return x, false
		}
		for r := c + 1; r < 3; r++ {
			f := m[r][c] / m[c][c]
			for k := c; k < 4; k++ {
				m[r][k] -= f * m[c][k]
			}
		}
	}
	for c := 2; c >= 0; c-- {
		x[c] = m[c][3]
		for k := c + 1; k < 3; k++ {
			x[c] -= m[c][k] * x[k]
		}
		x[c] /= m[c][c]
		if !finite(x[c]) {
			return x, false
		}
	}
	return x, true
}
