package mesh

import "math"

// SuspectUnit guesses from size alone whether the numbers of a mesh are not millimetres. It returns
// "inch", "centimetre", "metre", or "" where millimetres are likely. size is the bounding box;
// thickness the mean wall, twice the volume over the area, or 0 where it is not known.
//
// STL has no unit, and two of the ten scale mistakes seen in published designs are exports in inches
// (25.4 times too small) and in centimetres (10 times). The rule, our own, follows those cases:
//
//   - longest side of 12 or more: millimetres. Parts exported in other units had a longest side of
//     less, since most are smaller than 300 mm and 120 mm;
//   - below 0.5 no printer could make the part: metres, unless inches give rounder sizes;
//   - in between a small part is possible, so the sizes must speak against it: a longest side below 3,
//     or walls thinner on average than the 0.4 of the usual nozzle, or sizes that are round (to 0.05
//     mm) in inches only.
//
// Between inches and centimetres the rounder sizes decide, then the length: centimetres from 6 on.
func SuspectUnit(size [3]float64, thickness float64) string {
	longest := max(size[0], size[1], size[2])
	if !(longest > 0) || longest >= 12 {
		return ""
	}
	asIs, inch, metre := roundSizes(size, 1), roundSizes(size, 25.4), roundSizes(size, 1000)
	inchRounder := inch >= 2 && inch > asIs
	if longest < 0.5 {
		if inchRounder && inch > metre {
			return "inch"
		}
		return "metre"
	}
	thin := thickness > 0 && thickness < 0.4
	if longest >= 3 && !thin && !(inch == 3 && asIs <= 1) {
		return ""
	}
	switch {
	case inchRounder:
		return "inch"
	case asIs >= 2 || longest >= 6:
		return "centimetre"
	}
	return "inch"
}

// UnitAgainst compares a size with the one that the part should have, both in any order of the axes,
// and returns "inch", "centimetre" or "metre" where that unit, taken for millimetres, explains all
// three sides to within 2 %; "" otherwise, and where the sizes agree.
func UnitAgainst(got, want [3]float64) string {
	sortThree(&got)
	sortThree(&want)
	for _, u := range []struct {
		name  string
		scale float64
	}{{"inch", 25.4}, {"centimetre", 10}, {"metre", 1000}} {
		fits := true
		for k := range 3 {
			fits = fits && want[k] > 0 && math.Abs(got[k]*u.scale-want[k]) <= 0.02*want[k]
		}
		if fits {
			return u.name
		}
	}
	return ""
}

func sortThree(v *[3]float64) {
	if v[0] > v[1] {
		v[0], v[1] = v[1], v[0]
	}
	if v[1] > v[2] {
		v[1], v[2] = v[2], v[1]
	}
	if v[0] > v[1] {
		v[0], v[1] = v[1], v[0]
	}
}

// roundSizes counts the sides that, scaled, are multiples of 0.05 mm but for float32 noise.
func roundSizes(size [3]float64, scale float64) int {
	n := 0
	for _, s := range size {
		v := s * scale / 0.05
		if v >= 1 && math.Abs(v-math.Round(v)) < max(1e-3, 4e-7*v) {
			n++
		}
	}
	return n
}
