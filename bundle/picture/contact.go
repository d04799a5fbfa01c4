package picture

import (
	"cmp"
	"math"
	"slices"

	"dropwright/bundle/mesh"
)

// Contact stands bodies beside one another on a bed, in rows from the front, as they are turned: each with its
// lowest point at height 0 and gap millimetres around it (0: a twelfth of the largest one's side). The rows make a
// field about as wide as aspect times its depth. Low ones stand in front, so that none is
// hidden; the result is in the order of bodies.
func Contact(bodies []Body, gap, aspect float64) []Body {
	out := slices.Clone(bodies)
	boxes := make([]bound, len(bodies))
	area, widest := 0.0, 0.0
	for i, b := range bodies {
		boxes[i] = boundOf(b)
		if s := boxes[i].size(); !boxes[i].empty() {
			widest = math.Max(widest, math.Max(s[0], s[1]))
		}
	}
	if gap <= 0 {
		gap = widest / 12
	}
	for _, b := range boxes {
		if s := b.size(); !b.empty() {
			area += (s[0] + gap) * (s[1] + gap)
		}
	}
	if !(aspect > 0) {
		aspect = 1
	}
	width := math.Max(math.Sqrt(area*aspect), widest)
	x, y, depth := 0.0, 0.0, 0.0
	order := make([]int, len(boxes))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(i, k int) int { return cmp.Compare(boxes[i].size()[2], boxes[k].size()[2]) })
	for _, i := range order {
		b := boxes[i]
		if b.empty() {
			continue
		}
		s := b.size()
		if x > 0 && x+s[0] > width+1e-9 {
			x, y, depth = 0, y+depth+gap, 0
		}
		out[i] = bodies[i].Moved(vec{x - b.low[0], y - b.low[1], -b.low[2]})
		x += s[0] + gap
		depth = math.Max(depth, s[1])
	}
	return out
}

// Stand turns a mesh so that the face with this outward normal ("+x" … "-z") lies on the bed; any other word
// leaves it as it is drawn.
func Stand(face string) mesh.Matrix {
	switch face {
	case "+z":
		return mesh.Matrix{{1, 0, 0, 0}, {0, -1, 0, 0}, {0, 0, -1, 0}}
	case "-x":
		return mesh.Matrix{{0, 1, 0, 0}, {0, 0, 1, 0}, {1, 0, 0, 0}}
	case "+x":
		return mesh.Matrix{{0, 1, 0, 0}, {0, 0, -1, 0}, {-1, 0, 0, 0}}
	case "-y":
		return mesh.Matrix{{1, 0, 0, 0}, {0, 0, -1, 0}, {0, 1, 0, 0}}
	case "+y":
		return mesh.Matrix{{1, 0, 0, 0}, {0, 0, 1, 0}, {0, -1, 0, 0}}
	}
	return mesh.Identity
}

// Beside lays items in a row to the right of a scene, from its front edge back, on its lowest plane: what
// belongs to it and has no known place in it.
func Beside(scene, items []Body) []Body {
	all := emptyBound()
	for _, b := range scene {
		if x := boundOf(b); !x.empty() {
			all = all.with(x)
		}
	}
	out := slices.Clone(items)
	if all.empty() {
		return Contact(items, 0, 2)
	}
	gap := all.diagonal() / 16
	x, y, widest := all.high[0]+2*gap, all.low[1], 0.0
	for i, b := range items {
		box := boundOf(b)
		if box.empty() {
			continue
		}
		s := box.size()
		if y > all.low[1] && y+s[1] > all.high[1] {
			x, y, widest = x+widest+gap, all.low[1], 0
		}
		out[i] = b.Moved(vec{x - box.low[0], y - box.low[1], all.low[2] - box.low[2]})
		y += s[1] + gap
		widest = math.Max(widest, s[0])
	}
	return out
}

// Span is the diagonal of the box around bodies, mm.
func Span(bodies []Body) float64 {
	all := emptyBound()
	for _, b := range bodies {
		if x := boundOf(b); !x.empty() {
			all = all.with(x)
		}
	}
	if all.empty() {
		return 0
	}
	return all.diagonal()
}
