package toolpath

import (
	"fmt"
	"math"
)

// Shape is what is known of the mesh that a file is said to print.
type Shape struct {
	Size   [3]float64 // mm, as it stands on the bed
	Layers int        // layers under its print settings; 0: not judged
	Line   float64    // line width in mm

	// Outline holds points of the mesh seen from above (mm), at least those of its convex hull. With
	// them a part that was turned about z on the bed is recognised; without, only in steps of 90 degrees.
	Outline [][2]float64
}

// Tolerances of Misfits. None has a source: they are wider than what preparing a print does to a
// part (first layer squeezed in, holes opened, supports and raised rims standing out) and narrower
// than what makes two parts differ.
const (
	smallerBy = 1.0 // mm by which the paths may be narrower than the mesh
	largerBy  = 3.0 // mm by which they may be wider: supports stand out
	layersBy  = 2   // layers: purge lines, an odd first layer
	turnStep  = 1   // degrees
)

// Misfits says why the file does not print the shape, in sentences with both figures; none: it may.
func (r Result) Misfits(s Shape) []string {
	var list []string
	step := 0.5
	if r.Layers > 1 {
		step = (r.Max[2] - r.Min[2]) / float64(r.Layers-1)
	}
	if h := r.Max[2]; math.Abs(h-s.Size[2]) > step+0.05 {
		list = append(list, fmt.Sprintf("it prints up to %.2f mm, the mesh is %.2f mm high", h, s.Size[2]))
	}
	if s.Layers > 0 && !r.Spiral && (r.Layers-s.Layers > layersBy || s.Layers-r.Layers > layersBy) {
		list = append(list, fmt.Sprintf("it has %d layers, the print settings give %d", r.Layers, s.Layers))
	}
	w, d := r.BodyMax[0]-r.BodyMin[0]+s.Line, r.BodyMax[1]-r.BodyMin[1]+s.Line
	if !s.fitsFlat([4]float64{w, d, r.BodyDiagonal[0] + s.Line, r.BodyDiagonal[1] + s.Line}) {
		list = append(list, fmt.Sprintf("it covers %.1f x %.1f mm, the mesh %.1f x %.1f mm", w, d, s.Size[0], s.Size[1]))
	}
	return list
}

// fitsFlat tries the shape in every turn it is told about against the widths of what was printed, along the
// axes and the diagonals. Two widths would not do: a square that is turned a little is as wide and as deep as
// a larger one that is not.
func (s Shape) fitsFlat(widths [4]float64) bool {
	near := func(want ...float64) bool {
		for i, x := range want {
			if widths[i]-x > largerBy || x-widths[i] > smallerBy {
				return false
			}
		}
		return true
	}
	if len(s.Outline) == 0 {
		return near(s.Size[0], s.Size[1]) || near(s.Size[1], s.Size[0])
	}
	for turn := 0; turn < 180; turn += turnStep {
		sin, cos := math.Sincos(float64(turn) * math.Pi / 180)
		var b box
		for _, p := range s.Outline {
			b.add([3]float64{p[0]*cos - p[1]*sin, p[0]*sin + p[1]*cos, 0})
		}
		if w := b.widths(); near(w[:]...) {
			return true
		}
	}
	return false
}
