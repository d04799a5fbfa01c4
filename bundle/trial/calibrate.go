package trial

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"dropwright/bundle/estimate"
)

// Least is how many trials a factor or an allowance takes: with two, nobody can say which is the odd one.
const Least = 3

// Fit is a figure learnt from trials.
type Fit struct {
	Value   float64 // factor on the model, or allowance in mm
	Spread  float64 // 19 of 20 prints lie within Value +- Spread: a share of the factor, or mm
	Used    int     // trials that it rests on
	Dropped int     // trials left out as outliers
}

// Enough says whether the fit rests on enough trials to be used.
func (f Fit) Enough() bool { return f.Used >= Least }

// Factors is what was learnt of one printer with one material.
type Factors struct {
	Printer, Material string
	Grams             Fit // weighed over modelled mass
	Seconds           Fit // measured over modelled time
	Hole              Fit // mm that holes come out narrower than drawn, on the diameter
	Prints, Failures  int // logged prints, and those that failed
}

// Calibrate learns from a log, one entry for each printer and material in it, sorted by both. Mass and
// time come from accepted prints that carry the model's figure, holes from every record that has them.
// Records without a printer or material form entries of their own under "".
func Calibrate(log []Record) []Factors {
	type key struct{ printer, material string }
	type samples struct {
		grams, seconds, holes []float64
		prints, failures      int
	}
	all := map[key]*samples{}
	for _, r := range log {
		k := key{r.Printer, r.Material}
		s := all[k]
		if s == nil {
			s = &samples{}
			all[k] = s
		}
		if r.Outcome != "" {
			s.prints++
		}
		if r.Outcome == Failed {
			s.failures++
		}
		if m := r.Model; m != nil && r.Outcome == OK {
			if r.Grams > 0 && m.Grams > 0 {
				s.grams = append(s.grams, math.Log(r.Grams/m.Grams))
			}
			if r.Seconds > 0 && m.Seconds > 0 {
				s.seconds = append(s.seconds, math.Log(r.Seconds/m.Seconds))
			}
		}
		for _, h := range r.Holes {
			s.holes = append(s.holes, h.Drawn-h.Measured)
		}
	}
	list := make([]Factors, 0, len(all))
	for k, s := range all {
		list = append(list, Factors{
			Printer: k.printer, Material: k.material,
			Grams: factor(s.grams), Seconds: factor(s.seconds), Hole: robust(s.holes, sameHole),
			Prints: s.prints, Failures: s.failures,
		})
	}
	slices.SortFunc(list, func(a, b Factors) int {
		return cmp.Or(cmp.Compare(a.Printer, b.Printer), cmp.Compare(a.Material, b.Material))
	})
	return list
}

// Find returns the entry of a printer and a material.
func Find(list []Factors, printer, material string) (Factors, bool) {
	for _, f := range list {
		if f.Printer == printer && f.Material == material {
			return f, true
		}
	}
	return Factors{}, false
}

// Apply returns the estimate times the factors that rest on enough trials, and whether there were any.
// A simulated print file is left as it is: the factors are those of the model.
func (f Factors) Apply(e estimate.Estimate) (estimate.Estimate, bool) {
	mass, time := f.Grams.Enough(), f.Seconds.Enough()
	if e.Basis == estimate.Toolpath || !mass && !time {
		return e, false
	}
	grams, seconds := f.Grams, f.Seconds
	if !mass {
		grams = Fit{Value: 1}
	}
	if !time {
		seconds = Fit{Value: 1}
	}
	n := max(grams.Used, seconds.Used)
	c := e.Scaled(grams.Value, grams.Spread, seconds.Value, seconds.Spread, fmt.Sprintf("%d prints on %s in %s", n, f.Printer, f.Material))
	if !mass {
		c.GramsLow, c.GramsHigh = e.GramsLow, e.GramsHigh
		c.Band += "; the mass is the model's"
	}
	if !time {
		c.SecondsLow, c.SecondsHigh = e.SecondsLow, e.SecondsHigh
		c.Band += "; the time is the model's"
	}
	return c, true
}

// How far from the middle a trial may lie without being called an outlier, whatever the others'
// scatter: three prints that happen to agree must not make a fourth one wrong. Weighing and flow
// scatter by a few percent, calipers in small holes by some hundredths. Assumed, no source.
const (
	sameRatio = 0.15 // in the logarithm: 16 %
	sameHole  = 0.15 // mm
)

// factor fits ratios given as logarithms: twice and half as much are equally far off.
func factor(logs []float64) Fit {
	f := robust(logs, sameRatio)
	f.Value, f.Spread = math.Exp(f.Value), math.Expm1(f.Spread)
	return f
}

// robust is the mean of the samples near their median. Those farther than 3.5 times the scatter (median
// distance from the median times 1.4826, which is the standard deviation of normal noise: Iglewicz and
// Hoaglin's rule, from memory) and farther than same are dropped, so that one wild figure has no
// weight at all.
func robust(x []float64, same float64) Fit {
	if len(x) == 0 {
		return Fit{}
	}
	x = slices.Sorted(slices.Values(x))
	middle := median(x)
	away := make([]float64, len(x))
	for i, v := range x {
		away[i] = math.Abs(v - middle)
	}
	slices.Sort(away)
	limit := math.Max(same, 3.5*1.4826*median(away))
	var f Fit
	sum := 0.0
	for _, v := range x {
		if math.Abs(v-middle) > limit {
			f.Dropped++
			continue
		}
		f.Used++
		sum += v
	}
	f.Value = sum / float64(f.Used)
	squares := 0.0
	for _, v := range x {
		if d := v - f.Value; math.Abs(v-middle) <= limit {
			squares += d * d
		}
	}
	if n := float64(f.Used); f.Used > 1 {
		f.Spread = student(f.Used-1) * math.Sqrt(squares/(n-1)*(1+1/n))
	}
	return f
}

// median of a sorted, non-empty list.
func median(x []float64) float64 {
	n := len(x)
	return (x[(n-1)/2] + x[n/2]) / 2
}

// student is the two-sided 95 % point of Student's distribution (standard table, from memory).
func student(degrees int) float64 {
	table := [...]float64{12.71, 4.30, 3.18, 2.78, 2.57, 2.45, 2.36, 2.31, 2.26, 2.23, 2.20, 2.18, 2.16, 2.14, 2.13, 2.12, 2.11, 2.10, 2.09, 2.09}
	if degrees <= len(table) {
		return table[degrees-1]
	}
	return 1.96 + 2.6/float64(degrees)
}
