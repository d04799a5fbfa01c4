package estimate

import (
	"fmt"
	"math"
	"slices"

	"dropwright/bundle/mesh"
)

// Outline is the convex hull of the part seen from above, corners counter-clockwise, mm: what a print file
// is compared with (toolpath.Shape) and what is laid out on a bed (bed.Item). Nil for a mesh without
// extent.
func Outline(m *mesh.Mesh) [][2]float64 {
	p := outermost(m)
	slices.SortFunc(p, func(a, b [2]float64) int {
		switch {
		case a[0] < b[0] || a[0] == b[0] && a[1] < b[1]:
			return -1
		case a == b:
			return 0
		}
		return 1
	})
	if p = slices.Compact(p); len(p) < 3 {
		return nil
	}
	// Andrew's monotone chain (1979): the lower side, then the upper one.
	half := func() [][2]float64 {
		var h [][2]float64
		for _, q := range p {
			for len(h) >= 2 {
				a, b := h[len(h)-2], h[len(h)-1]
				if (b[0]-a[0])*(q[1]-a[1])-(b[1]-a[1])*(q[0]-a[0]) > 0 {
					break
				}
				h = h[:len(h)-1]
			}
			h = append(h, q)
		}
		return h[:len(h)-1]
	}
	hull := half()
	slices.Reverse(p)
	if hull = append(hull, half()...); len(hull) < 3 {
		return nil
	}
	return hull
}

// outermost drops the vertices inside the octagon of the extreme ones (Akl and Toussaint 1978, from
// memory): sorting a million points would cost more than the whole estimate.
func outermost(m *mesh.Mesh) [][2]float64 {
	dirs := [8][2]float64{{1, 0}, {1, 1}, {0, 1}, {-1, 1}, {-1, 0}, {-1, -1}, {0, -1}, {1, -1}}
	var far [8][2]float64
	var most [8]float64
	for i := range most {
		most[i] = math.Inf(-1)
	}
	finite := func(v [3]float32) ([2]float64, bool) {
		p := [2]float64{float64(v[0]), float64(v[1])}
		d := p[0] - p[1]
		return p, !math.IsNaN(d) && !math.IsInf(d, 0)
	}
	for _, v := range m.Vertices {
		p, ok := finite(v)
		if !ok {
			continue
		}
		for i, d := range dirs {
			if s := p[0]*d[0] + p[1]*d[1]; s > most[i] {
				most[i], far[i] = s, p
			}
		}
	}
	var list [][2]float64
	for _, v := range m.Vertices {
		p, ok := finite(v)
		if !ok {
			continue
		}
		inside := true
		for i, a := range far {
			b := far[(i+1)%len(far)]
			if a != b && (b[0]-a[0])*(p[1]-a[1])-(b[1]-a[1])*(p[0]-a[0]) <= 0 {
				inside = false
				break
			}
		}
		if !inside {
			list = append(list, p)
		}
	}
	return list
}

// Against compares what the layers hold with the volume of the mesh (mm3) and returns a sentence where they
// differ by more than half a percent: layers too thick for the part's details, or a mesh that is not
// what it seems. It is empty where they agree, and for simulated print files.
func (e Estimate) Against(volume float64) string {
	if e.Basis == Toolpath || volume <= 0 || math.Abs(e.Section-volume) <= 0.005*volume {
		return ""
	}
	return fmt.Sprintf("%d layers hold %.2f cm³, the mesh %.2f cm³: the layers are too thick to follow it", e.Layers, e.Section/1000, volume/1000)
}
