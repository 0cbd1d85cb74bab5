// Package judge looks at the passes of one car on one lane and says which of them look wrong: a sensor that fired twice, a pass of
// nothing, a car that was not seen. It is pure and knows nothing of heats, drivers or rules.
//
// What it can know. Two passes within the dead time are certainly not two laps; that alone is certain. A phantom in mid-lap leaves two short
// laps that add up to one, which an off-track excursion never does, so phantoms can nearly be decided. A missed pass leaves one
// lap twice as long, and so does an excursion of just that length: that cannot be told from times alone. So everything but the dead time
// is a proposal for a person to accept or refuse, and nothing here changes a count.
//
// Method. Lap times are one-sided: rarely much below a clean lap, often above. The clean lap is therefore taken as the median of the
// shortest half of the intervals (the shorth: Rousseeuw and Leroy, "Robust Regression and Outlier Detection", 1987), its spread from
// the median absolute deviation times 1.4826 (Rousseeuw and Croux, J. Am. Stat. Assoc. 88, 1993). Then the labelling of the whole
// stint with the least total cost is found by dynamic programming (Bellman): see [Judge].
package judge
