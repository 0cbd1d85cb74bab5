package control

import "time"

// bench is the judge's memory of the heat being driven.
type bench struct{}

func (b *bench) reset() { *b = bench{} }

// consult asks the judge about a seat after a pass.
func (d *desk) consult(time.Time, int) {}
