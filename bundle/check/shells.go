package check

import (
	"fmt"
	"math"

	"dropwright/bundle/design"
	"dropwright/bundle/facts"
	"dropwright/bundle/finding"
)

// surfaces: each mesh is one sound solid that faces outwards.
func surfaces(in *Input, r *report) {
	done := map[design.Path]bool{}
	for _, u := range meshUses(in.Design) {
		f, ok := in.Facts.Mesh(string(u.file.V))
		if !ok || done[u.file.V] || f.Error != "" || f.Triangles == 0 || f.OpenEdges == nil || *f.OpenEdges > 0 {
			continue // said by meshes
		}
		done[u.file.V] = true
		if f.InsideOut != nil && *f.InsideOut {
			r.add("mesh-inside-out", u.file.At, "", fmt.Sprintf("the surface of %s faces inwards", f.File), "turn its normals (in CAD: reverse, or flip the faces) and export again")
			continue
		}
		judgeFaults(f, u.file.At, r)
		if s, ok := in.Facts.Solid(f.File); ok && u.part.Role.V != "reference" {
			judgeBodies(s, u, r)
		}
	}
}

// judgeFaults speaks of the gravest fault of a closed surface only: one slip in CAD makes several.
func judgeFaults(f *facts.Mesh, at finding.Place, r *report) {
	const measure = "`dropwright measure` shows all places"
	count := func(n *int) int {
		if n == nil {
			return 0
		}
		return *n
	}
	where := func(kind string) string {
		for _, x := range f.Faults {
			if x.Kind == kind && len(x.At) > 0 {
				return fmt.Sprintf(", the first near x %.1f, y %.1f, z %.1f mm", x.At[0][0], x.At[0][1], x.At[0][2])
			}
		}
		return ""
	}
	switch {
	case count(f.FlippedEdges) > 0:
		r.add("mesh-flipped", at, "", fmt.Sprintf("%s has %s whose two faces disagree which side is outside%s", f.File, amount(*f.FlippedEdges, "edge", "edges"), where("flipped-edge")), "make the normals agree in CAD and export again; "+measure)
	case count(f.DuplicateTriangles) > 0:
		r.add("mesh-doubled", at, "", fmt.Sprintf("%s holds %s twice%s", f.File, amount(*f.DuplicateTriangles, "triangle", "triangles"), where("duplicate-triangle")), "a body lies there twice: remove one and export again; "+measure)
	case count(f.NonmanifoldEdges) > 0:
		r.add("mesh-overshared", at, "", fmt.Sprintf("%s has %s shared by more than two faces%s", f.File, amount(*f.NonmanifoldEdges, "edge", "edges"), where("nonmanifold-edge")), "bodies touch along an edge there: let them overlap, or part them by a tenth of a millimetre; "+measure)
	case count(f.DegenerateTriangles) > 0:
		r.add("mesh-degenerate", at, "", fmt.Sprintf("%s holds %s without area", f.File, amount(*f.DegenerateTriangles, "triangle", "triangles")), "nothing need be done; a finer export has none")
	}
}

// afloat is how far above the bed a body may lie and still count as standing on it: below any first layer.
// Assumed.
const afloat = 0.05 // mm

// judgeBodies looks at a mesh of several shells: bodies that lie in another, that float, that are separate.
func judgeBodies(s *facts.Solid, u meshUse, r *report) {
	var outer []facts.Body
	overlap := 0
	for _, b := range s.Bodies {
		switch {
		case !b.Closed || b.Void:
		case b.Depth > 0 || b.WrongSign:
			r.add("shell-inside", u.file.At, "", fmt.Sprintf("%s holds a body of %s that lies inside another, near x %.1f, y %.1f, z %.1f mm", s.File, extent(b), mid(b, 0), mid(b, 1), mid(b, 2)), "hide what is bought or printed apart (a bearing, a nut, a board) and export again")
			return
		default:
			outer = append(outer, b)
			if b.Overlaps {
				overlap++
			}
		}
	}
	if len(outer) < 2 {
		return
	}
	face := string(u.part.StandOn.Or("-z"))
	axis, sign := int(face[1]-'x'), 1.0
	if face[0] == '+' {
		sign = -1
	}
	low := func(b facts.Body) float64 {
		if sign > 0 {
			return b.Min[axis]
		}
		return -b.Max[axis]
	}
	bed, lowest := math.Inf(1), map[int]float64{}
	for _, b := range outer {
		if z, ok := lowest[b.Group]; !ok || low(b) < z {
			lowest[b.Group] = low(b)
		}
		bed = min(bed, low(b))
	}
	for _, b := range outer {
		if z := lowest[b.Group]; z > bed+afloat && low(b) == z {
			r.add("shell-floating", u.file.At, "", fmt.Sprintf("%s holds a body of %s that floats %.2f mm above the bed, near x %.1f, y %.1f, z %.1f mm", s.File, extent(b), z-bed, mid(b, 0), mid(b, 1), mid(b, 2)), "join it to the rest, remove it, or export it as a part of its own")
			return
		}
	}
	if len(lowest) > 1 {
		r.add("shell-extra", u.file.At, "", fmt.Sprintf("%s holds %s", s.File, amount(len(outer), "separate body", "separate bodies")), "export one part to a file, and say how many with copies; if they belong together, use_as_is: [{code: shell-extra, because: …}]")
	} else if overlap > 0 {
		r.add("shell-overlap", u.file.At, "", fmt.Sprintf("%s is made of %s that reach into each other", s.File, amount(len(outer), "body", "bodies")), "join them in CAD before the export: programs that slice differ in what they make of it")
	}
}

// amount is a count with its word.
func amount(n int, one, more string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, more)
}

func extent(b facts.Body) string {
	return size([3]float64{b.Max[0] - b.Min[0], b.Max[1] - b.Min[1], b.Max[2] - b.Min[2]})
}

func mid(b facts.Body, axis int) float64 { return (b.Min[axis] + b.Max[axis]) / 2 }

// sound reports whether a mesh is closed and faces outwards: on another, figures about walls and faces mean
// nothing, and the fault is said already.
func (in *Input) sound(file string) bool {
	f, ok := in.Facts.Mesh(file)
	return ok && f.Watertight != nil && *f.Watertight && f.InsideOut != nil && !*f.InsideOut
}
