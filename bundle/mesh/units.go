package mesh

import "math"

// SuspectUnit guesses from size alone whether the numbers of a mesh are not millimetres. It returns
// "inch", "centimetre", "metre", or "" where millimetres are likely. size is the bounding box, volume
// and area those of the mesh, or 0 where they are not known.
//
// STL has no unit, and exports in inches (25.4 times too small) and in centimetres (10 times) are among the
// mistakes seen in published designs. The rule, our own, follows those cases:
//
//   - longest side of 12 or more: millimetres. Parts exported in other units had a longest side of
//     less, since most are smaller than 300 mm and 120 mm;
//   - below 0.5 no printer could make the part: metres, unless inches give rounder sizes;
//   - in between a small part is possible, so something must speak against it: a longest side below 3;
//     or walls thinner on average (twice the volume over the area) than the 0.4 of the usual nozzle;
//     or less than 60 mm3, a fifteenth of a gram; or sizes that are round (to 0.05 mm) in inches only.
//
// Between inches and centimetres the rounder sizes decide, then the length: centimetres from 6 on.
func SuspectUnit(size [3]float64, volume, area float64) string {
	longest := max(size[0], size[1], size[2])
	if !(longest > 0) || longest >= 12 {
		return ""
	}
	asIs, inch, metre := roundSides(size[:], 1), roundSides(size[:], 25.4), roundSides(size[:], 1000)
	inchRounder := inch >= 2 && inch > asIs
	if longest < 0.5 {
		if inchRounder && inch > metre {
			return "inch"
		}
		return "metre"
	}
	volume = math.Abs(volume)
	slight := volume > 0 && (volume < 60 || 2*volume < 0.4*area)
	if longest >= 3 && !slight && !(inch == 3 && asIs <= 1) {
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

// SuspectUnitByHoles guesses from the diameters (mm) of the round holes of a mesh: "inch", "centimetre",
// or "" where there are none or the largest is 1 mm or more. The smallest screw in use in such parts,
// M2, needs a hole of 1.6 mm at least (its tapping drill; from memory); drawn in centimetres even that of an M8
// is below 1.
func SuspectUnitByHoles(diameters []float64) string {
	largest := 0.0
	for _, d := range diameters {
		largest = max(largest, d)
	}
	switch inch, ten := roundSides(diameters, 25.4), roundSides(diameters, 10); {
	case largest == 0 || largest >= 1:
		return ""
	case inch > ten:
		return "inch"
	case ten > inch || largest > 0.3:
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

// roundSides counts the lengths that, scaled, are multiples of 0.05 mm but for float32 noise.
func roundSides(lengths []float64, scale float64) int {
	n := 0
	for _, s := range lengths {
		v := s * scale / 0.05
		if v >= 1 && math.Abs(v-math.Round(v)) < max(1e-3, 4e-7*v) {
			n++
		}
	}
	return n
}
