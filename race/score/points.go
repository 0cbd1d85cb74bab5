package score

import (
	"fmt"
	"math/big"
	"strings"
)

// Points is an exact number of points: sharing 4 points among three drivers
// gives each 4/3. The zero value is no points. Points are never changed in
// place.
type Points struct{ r *big.Rat }

// WholePoints returns n points.
func WholePoints(n int64) Points { return Points{big.NewRat(n, 1)} }

func (p Points) rat() *big.Rat {
	if p.r == nil {
		return new(big.Rat)
	}
	return p.r
}

// Add returns p + q.
func (p Points) Add(q Points) Points { return Points{new(big.Rat).Add(p.rat(), q.rat())} }

// Sub returns p - q.
func (p Points) Sub(q Points) Points { return Points{new(big.Rat).Sub(p.rat(), q.rat())} }

// Over returns p / n; n must not be 0.
func (p Points) Over(n int64) Points { return Points{new(big.Rat).Quo(p.rat(), big.NewRat(n, 1))} }

// Cmp returns -1, 0 or 1 as p is less than, equal to or more than q.
func (p Points) Cmp(q Points) int { return p.rat().Cmp(q.rat()) }

// Float returns the nearest float64, for charts only.
func (p Points) Float() float64 { f, _ := p.rat().Float64(); return f }

// String writes the points exactly: "14", "13.5", "4 1/3", "-1/3".
func (p Points) String() string {
	r := p.rat()
	if r.IsInt() {
		return r.Num().String()
	}
	if n, exact := r.FloatPrec(); exact && n <= 2 {
		return r.FloatString(n)
	}
	abs := new(big.Rat).Abs(r)
	whole, rest := new(big.Int).QuoRem(abs.Num(), abs.Denom(), new(big.Int))
	var b strings.Builder
	if r.Sign() < 0 {
		b.WriteByte('-')
	}
	if whole.Sign() != 0 {
		b.WriteString(whole.String() + " ")
	}
	fmt.Fprintf(&b, "%v/%v", rest, abs.Denom())
	return b.String()
}

// MarshalText writes the fraction in lowest terms: "27/2", "14".
func (p Points) MarshalText() ([]byte, error) { return []byte(p.rat().RatString()), nil }

// UnmarshalText reads "14", "13.5" or "27/2".
func (p *Points) UnmarshalText(b []byte) error {
	v, err := ParsePoints(string(b))
	if err == nil {
		*p = v
	}
	return err
}

// ParsePoints reads "14", "13.5" or "27/2".
func ParsePoints(s string) (Points, error) {
	r, ok := new(big.Rat), len(s) <= 40 && !strings.ContainsAny(s, "eEpPxXbBoO_")
	if ok {
		r, ok = r.SetString(s)
	}
	if !ok {
		return Points{}, fmt.Errorf("score: points %q %w: expected a number such as 14, 13.5 or 27/2", s, ErrBadInput)
	}
	return Points{r}, nil
}

// Sharing says what level drivers get from a points table.
type Sharing int

const (
	// Average adds up the points of the places covered and divides them
	// equally. Source: FIA Formula One Sporting Regulations, article "Dead
	// heat"; Racing Rules of Sailing A7.
	Average Sharing = iota
	// Equal gives each the points of the better place. Common practice, no
	// source.
	Equal
)

// String returns the word used on a rule card.
func (s Sharing) String() string {
	switch s {
	case Average:
		return "average"
	case Equal:
		return "equal"
	}
	return fmt.Sprintf("sharing %d", int(s))
}

// MarshalText writes the sharing as its word.
func (s Sharing) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// UnmarshalText reads "average" or "equal".
func (s *Sharing) UnmarshalText(b []byte) error {
	switch string(b) {
	case "average":
		*s = Average
	case "equal":
		*s = Equal
	default:
		return fmt.Errorf("score: sharing %q %w: expected average or equal", b, ErrBadInput)
	}
	return nil
}

// Table holds the points for first, second, third and so on. Places beyond it
// score nothing.
type Table []int64

func (t Table) at(place int) int64 {
	if place < 1 || place > len(t) {
		return 0
	}
	return t[place-1]
}

// Award gives each row its points. sizes holds how many rows are level in each
// group, best group first, as [GroupSizes] returns them; the result has one
// value per row. With Average a group that reaches beyond the table shares what
// the table still holds.
func (t Table) Award(sizes []int, sharing Sharing) []Points {
	var out []Points
	before := 0
	for _, n := range sizes {
		if n < 1 {
			continue
		}
		each := WholePoints(t.at(before + 1))
		if sharing == Average {
			sum := new(big.Int)
			for p := before + 1; p <= min(before+n, len(t)); p++ {
				sum.Add(sum, big.NewInt(t.at(p)))
			}
			each = Points{new(big.Rat).SetFrac(sum, big.NewInt(int64(n)))}
		}
		for range n {
			out = append(out, each)
		}
		before += n
	}
	return out
}
