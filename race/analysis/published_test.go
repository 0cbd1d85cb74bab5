package analysis

import (
	"errors"
	"math"
	"testing"
	"time"
)

func TestFactorialAnalyses(t *testing.T) {
	// Source: R 4.2.2, anova(lm(yield ~ block + N*P*K, npk)) and
	// anova(lm(breaks ~ wool*tension, warpbreaks)).
	d := readTable(t, "npk")
	one := [][]float64{ones(24)}
	block, n, p, k := dummies(d.words("block")), dummies(d.words("N")), dummies(d.words("P")), dummies(d.words("K"))
	columns := append([][]float64{}, one...)
	sizes := []int{1}
	for _, g := range [][][]float64{block, n, p, k, crossed(n, p), crossed(n, k), crossed(p, k), crossed(crossed(n, p), k)} {
		columns = append(columns, g...)
		sizes = append(sizes, len(g))
	}
	r, err := Regress(columns, d.numbers(t, "yield"))
	if err != nil {
		t.Fatal(err)
	}
	s := sums(r, sizes...)
	s2 := *r.S * *r.S
	near(t, "npk block", s[1]/5/s2, 4.44666642679811, 1e-12)
	near(t, "npk N", s[2]/s2, 12.2587342136509, 1e-12)
	near(t, "npk K", s[4]/s2, 6.16568920231713, 1e-12)

	d = readTable(t, "warpbreaks")
	wool, tension := dummies(d.words("wool")), dummies(d.words("tension"))
	columns = append([][]float64{ones(54)}, wool...)
	columns = append(append(columns, tension...), crossed(wool, tension)...)
	if r, err = Regress(columns, d.numbers(t, "breaks")); err != nil {
		t.Fatal(err)
	}
	s = sums(r, 1, 2, 3, 6)
	s2 = *r.S * *r.S
	near(t, "warpbreaks wool", s[1]/s2, 3.76528836111864, 1e-12)
	near(t, "warpbreaks tension", s[2]/2/s2, 8.49804664835803, 1e-12)
	near(t, "warpbreaks both", s[3]/2/s2, 4.18906896685104, 1e-12)
}

func grouped(t *testing.T, d table, by, what string, f func(float64) float64) [][]float64 {
	at, names := levels(d.words(by))
	out := make([][]float64, len(names))
	for i, y := range d.numbers(t, what) {
		out[at[i]] = append(out[at[i]], f(y))
	}
	return out
}

func TestOneWayAnalyses(t *testing.T) {
	// Source: R 4.2.2, anova(lm()).
	for _, c := range []struct {
		name, by, y string
		f           func(float64) float64
		want        float64
	}{
		{"chickwts", "feed", "weight", same, 15.3647997747126},
		{"InsectSprays", "spray", "count", same, 34.7022820554917},
		{"InsectSprays", "spray", "count", math.Sqrt, 44.7993292050876},
	} {
		o, err := OneWayOf(grouped(t, readTable(t, c.name), c.by, c.y, c.f))
		if err != nil {
			t.Fatal(err)
		}
		near(t, c.name, *o.F, c.want, 1e-12)
	}
}

func TestNISTOneWay(t *testing.T) {
	// Certified values of the NIST Statistical Reference Datasets, analysis of
	// variance.
	o, err := OneWayOf(grouped(t, readTable(t, "SiRstv"), "group", "y", same))
	if err != nil {
		t.Fatal(err)
	}
	relative(t, "SiRstv between", o.Between, 5.11462616000000e-02, 1e-12)
	relative(t, "SiRstv within", o.Within, 2.16636560000000e-01, 1e-12)
	relative(t, "SiRstv F", *o.F, 1.18046237440255, 1e-12)
	relative(t, "SiRstv R2", *o.R2, 0.190999039051129, 1e-12)
	relative(t, "SiRstv s", *o.S, 0.104076068334656, 1e-12)

	// Of higher difficulty: seven constant leading digits.
	if o, err = OneWayOf(grouped(t, readTable(t, "AtmWtAg"), "group", "y", same)); err != nil {
		t.Fatal(err)
	}
	relative(t, "AtmWtAg between", o.Between, 3.63834187500000e-09, 1e-8)
	relative(t, "AtmWtAg within", o.Within, 1.04951729166667e-08, 1e-8)
	relative(t, "AtmWtAg F", *o.F, 15.9467335677930, 1e-8)
	relative(t, "AtmWtAg s", *o.S, 1.51048314446410e-05, 1e-8)

	// As ticks nothing is lost: 1e-7 for silver, 1e-4 for silicon, and a tenth
	// for SmLs07, whose thirteen constant digits float64 cannot hold.
	ticks := func(name string, perUnit float64) *OneWay {
		var groups [][]int64
		for _, g := range grouped(t, readTable(t, name), "group", "y", same) {
			var out []int64
			for _, y := range g {
				out = append(out, int64(math.Round(y*perUnit)))
			}
			groups = append(groups, out)
		}
		o, err := OneWayTicks(groups, 1/perUnit)
		if err != nil {
			t.Fatal(err)
		}
		return o
	}
	o = ticks("AtmWtAg", 1e7)
	relative(t, "AtmWtAg between, ticks", o.Between, 3.63834187500000e-09, 1e-14)
	relative(t, "AtmWtAg within, ticks", o.Within, 1.04951729166667e-08, 1e-14)
	relative(t, "AtmWtAg F, ticks", *o.F, 15.9467335677930, 1e-14)
	relative(t, "AtmWtAg s, ticks", *o.S, 1.51048314446410e-05, 1e-14)
	o = ticks("SmLs07", 10)
	relative(t, "SmLs07 between", o.Between, 1.68, 1e-14)
	relative(t, "SmLs07 within", o.Within, 1.80, 1e-14)
	relative(t, "SmLs07 F", *o.F, 21, 1e-14)
	relative(t, "SmLs07 s", *o.S, 0.1, 1e-14)
	if o.DFBetween != 8 || o.DFWithin != 180 {
		t.Errorf("df %d and %d", o.DFBetween, o.DFWithin)
	}
}

func TestNISTLongley(t *testing.T) {
	// Certified values of the NIST Statistical Reference Datasets, linear
	// regression.
	d := readTable(t, "Longley")
	columns := [][]float64{ones(16)}
	for _, n := range []string{"x1", "x2", "x3", "x4", "x5", "x6"} {
		columns = append(columns, d.numbers(t, n))
	}
	r, err := Regress(columns, d.numbers(t, "y"))
	if err != nil {
		t.Fatal(err)
	}
	relative(t, "B0", *r.Coef[0], -3482258.63459582, 1e-10)
	relative(t, "B1", *r.Coef[1], 15.0618722713733, 1e-9)
	relative(t, "B6", *r.Coef[6], 1829.15146461355, 1e-10)
	relative(t, "s", *r.S, 304.854073561965, 1e-11)
	f := 0.0
	for _, v := range r.SS[1:] {
		f += v
	}
	relative(t, "F", f/6/(*r.S**r.S), 330.285339234588, 1e-11)
}

func TestStackLossHuber(t *testing.T) {
	// Source: R 4.2.2 with MASS 7.3-58, rlm(stack.loss ~ ., stackloss, k =
	// 1.345) run to convergence.
	d := readTable(t, "stackloss")
	columns := [][]float64{ones(21), d.numbers(t, "Air.Flow"), d.numbers(t, "Water.Temp"), d.numbers(t, "Acid.Conc.")}
	r, err := RegressHuber(columns, d.numbers(t, "stack.loss"), HuberK)
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []float64{-41.0264853732950, .829385770253849, .926059415548633, -.127846317965418} {
		near(t, "coefficient", *r.Coef[i], want, 1e-10)
	}
	near(t, "s", *r.Scale, 2.4404890459929, 1e-10)
	for i, want := range []float64{9.806872294353353, 0.111174962319929, 0.303393403349562, 0.128846345686815} {
		near(t, "SE", *r.SE[i], want, 1e-9)
	}
	if _, err := RegressHuber([][]float64{ones(5)}, []float64{1, 1, 1, 1, 9}, HuberK); !errors.Is(err, ErrBadInput) {
		t.Errorf("scale zero: %v", err)
	}
}

func TestMedianPolish(t *testing.T) {
	// Source: R 4.2.2, medpolish of OrchardSprays rows by columns.
	d := readTable(t, "OrchardSprays")
	rows, cols, y := d.numbers(t, "rowpos"), d.numbers(t, "colpos"), d.numbers(t, "decrease")
	table := make([][]float64, 8)
	for r := range table {
		table[r] = make([]float64, 8)
	}
	for i := range y {
		table[int(rows[i])-1][int(cols[i])-1] = y[i]
	}
	for _, c := range []struct{ eps, overall float64 }{{1e-12, 37.671875}, {0.01, 38.0625}} {
		p, err := MedianPolish(table, c.eps, 1000)
		if err != nil || !p.Settled {
			t.Fatal(err)
		}
		near(t, "overall", p.Overall, c.overall, 1e-13)
		near(t, "sum of |residual|", p.AbsResiduals, 1783, 1e-13)
	}
	if p, err := MedianPolish([][]float64{{1, math.NaN()}, {2, 5}}, 0.01, 10); err != nil || math.IsNaN(p.Overall) {
		t.Errorf("with a missing stint: %+v, %v", p, err)
	}
	if _, err := MedianPolish([][]float64{{1, 2}, {1}}, 0.01, 10); !errors.Is(err, ErrBadInput) {
		t.Error(err)
	}
}

func lapsMS(ms ...int) []time.Duration {
	out := make([]time.Duration, len(ms))
	for i, m := range ms {
		out[i] = time.Duration(m) * time.Millisecond
	}
	return out
}

func TestConsistencyFigures(t *testing.T) {
	// Source: R 4.2.2, mean, sd, median, mad, quantile types 7 and 1.
	c, err := ConsistencyOf(lapsMS(6412, 6305, 6287, 6330, 9871, 6294, 6301, 6318, 6279, 6340))
	if err != nil {
		t.Fatal(err)
	}
	for _, v := range []struct {
		what string
		got  *float64
		want float64
	}{
		{"mean", c.Mean, 6673.7}, {"sd", c.SD, 1124.05832687731}, {"median", c.Median, 6311.5}, {"MAD", c.MAD, 31.8759},
		{"best", c.Best, 6279}, {"best 5", c.Best5, 6293.2}, {"best 5 in a row", c.Best5Row, 6306.4},
		{"p05", c.P05, 6282.6}, {"p95", c.P95, 8314.45}, {"p95 nearest rank", c.P95Rank, 9871},
	} {
		near(t, v.what, *v.got*1000, v.want, 1e-12)
	}
	if c.Best5From != 6 || len(c.Flagged) != 2 || c.Flagged[0] != 1 || c.Flagged[1] != 5 {
		t.Errorf("best five from lap %d, flagged %v", c.Best5From, c.Flagged)
	}
	// morley, experiment 1, read as milliseconds.
	d := readTable(t, "morley")
	var speeds []int
	for i, e := range d.words("Expt") {
		if e == "1" {
			speeds = append(speeds, int(d.numbers(t, "Speed")[i]))
		}
	}
	if c, err = ConsistencyOf(lapsMS(speeds...)); err != nil {
		t.Fatal(err)
	}
	for _, v := range []struct {
		what string
		got  *float64
		want float64
	}{
		{"mean", c.Mean, 909}, {"sd", c.SD, 104.926039114276}, {"median", c.Median, 940}, {"MAD", c.MAD, 88.956},
		{"p05", c.P05, 735.5}, {"p25", c.P25, 850}, {"p75", c.P75, 980}, {"p95", c.P95, 1003.5},
		{"p05 nearest rank", c.P05Rank, 650}, {"p95 nearest rank", c.P95Rank, 1000},
	} {
		near(t, v.what, *v.got*1000, v.want, 1e-12)
	}
	if len(c.Flagged) != 1 || c.Flagged[0] != 14 {
		t.Errorf("flagged %v, want lap 14", c.Flagged)
	}
}

func TestConsistencyOfFewOrEqualLaps(t *testing.T) {
	c, err := ConsistencyOf(nil)
	if err != nil || c.Mean != nil || c.P05 != nil {
		t.Errorf("no laps: %+v, %v", c, err)
	}
	if c, _ = ConsistencyOf(lapsMS(6000)); c.SD != nil || c.Best5 != nil || *c.Mean != 6 {
		t.Errorf("one lap: %+v", c)
	}
	if c, _ = ConsistencyOf(lapsMS(6000, 6000, 6000, 6000, 6000, 9000)); len(c.Flagged) != 0 || *c.MAD != 0 {
		t.Errorf("MAD 0 flags nothing: %+v", c)
	}
	if _, err = ConsistencyOf(lapsMS(6000, 0)); !errors.Is(err, ErrBadInput) {
		t.Error(err)
	}
	// A missed pass moves mean and sd, not the median.
	c, _ = ConsistencyOf(lapsMS(6010, 6020, 5990, 6000, 12010, 6030, 5980))
	if *c.Median != 6.01 || len(c.MaybeTwo) != 1 || c.MaybeTwo[0] != 5 {
		t.Errorf("missed pass: %+v", c)
	}
	if h := Hampel(lapsMS(6010, 6020, 5990, 6000, 12010, 6030, 5980), 5); len(h) != 1 || h[0] != 5 {
		t.Errorf("moving window: %v", h)
	}
	if Pace(lapsMS(6000, 6000, 6000)) != nil {
		t.Error("a pace from two laps")
	}
	near(t, "pace", *Pace(lapsMS(9000, 6100, 6000, 6200)), math.Log(6.1), 1e-15)
}
