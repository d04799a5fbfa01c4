package main

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"dropwright/bundle/facts"
	"dropwright/bundle/hardware"
	"dropwright/bundle/section"
	"dropwright/bundle/unit"
)

// printHoles groups equal holes: axis, diameter, depth, through or blind, sink; and says of each group
// what it could be for. Widths come first, so that holes of one width stand together.
func (a *app) printHoles(f facts.Mesh, row func(string, string, ...any)) {
	if f.Holes == nil {
		return
	}
	type group struct {
		like  facts.Hole
		uses  string
		count int
	}
	var groups []group
	told := false
	holes := slices.Clone(f.Holes)
	slices.SortStableFunc(holes, func(x, y facts.Hole) int {
		return cmp.Or(cmp.Compare(y.Kind, x.Kind), cmp.Compare(math.Round(100*x.Diameter), math.Round(100*y.Diameter)))
	})
	for _, h := range holes {
		i := slices.IndexFunc(groups, func(g group) bool { return holesAlike(g.like, h) })
		if i < 0 {
			i = len(groups)
			groups = append(groups, group{like: h, uses: holeUses(h)})
		}
		groups[i].count++
		told = told || groups[i].uses != ""
	}
	if len(groups) == 0 {
		row("holes", "none that is round or a hexagon")
	}
	for i, g := range groups {
		name := "holes"
		if i > 0 {
			name = ""
		}
		row(name, "%d × %s", g.count, holeText(g.like))
		if g.uses != "" {
			row("", "    could be %s", g.uses)
		}
	}
	if told {
		allowance, _ := hardware.HoleAllowance()
		row("", "going by width alone, holes printing %s mm smaller than drawn; `dropwright hardware M3` shows the limits and their sources", unit.Number(allowance))
	}
	if n := len(f.Openings); n > 0 {
		row("openings", "%d of other shapes", n)
	}
}

// holesAlike tells whether two holes print as one line: a hundredth more or less is the rounding of a mesh.
func holesAlike(a, b facts.Hole) bool {
	near := func(x, y float64) bool { return math.Abs(x-y) < 0.0101 }
	if a.Kind != b.Kind || a.Through != b.Through || axisText(a.Axis) != axisText(b.Axis) || (a.Sink == nil) != (b.Sink == nil) {
		return false
	}
	if s, t := a.Sink, b.Sink; s != nil && !(s.Kind == t.Kind && near(s.Diameter, t.Diameter) && near(s.Depth, t.Depth)) {
		return false
	}
	return near(a.Diameter, b.Diameter) && near(a.Passes, b.Passes) && near(a.Depth, b.Depth)
}

// holeText describes a hole.
func holeText(h facts.Hole) string {
	shape := fmt.Sprintf("⌀ %.2f mm (a rod of %.2f passes)", h.Diameter, h.Passes)
	if h.Kind == section.Hexagon {
		shape = fmt.Sprintf("hexagon %.2f mm across flats", h.Diameter)
	}
	depth := fmt.Sprintf("%.2f mm deep", h.Depth)
	if h.Through {
		depth = fmt.Sprintf("through %.2f mm", h.Depth)
	}
	sink := ""
	if h.Sink != nil {
		sink = fmt.Sprintf(", %s ⌀ %.2f × %.2f mm", h.Sink.Kind, h.Sink.Diameter, h.Sink.Depth)
	}
	return fmt.Sprintf("along %s: %s, %s%s", axisText(h.Axis), shape, depth, sink)
}

// axisText is x, y or z, or the direction of a tilted axis.
func axisText(axis any) string {
	if v, ok := tilted(axis); ok {
		return fmt.Sprintf("(%.3f, %.3f, %.3f)", v[0], v[1], v[2])
	}
	return fmt.Sprint(axis)
}

// tilted is the direction of a hole off the main axes. Facts that come out of the cache hold a list.
func tilted(axis any) (v [3]float64, ok bool) {
	switch a := axis.(type) {
	case [3]float64:
		return a, true
	case []any:
		for i := range min(3, len(a)) {
			v[i], _ = a[i].(float64)
		}
		return v, len(a) == 3
	}
	return v, false
}

// holeUses says what a hole could be for a fastener: each size whose published band holds the width that a rod
// could fill. It is "" for a hole that fits none. The bands do not know what the part is for: fit does, from
// the joints of a design.
func holeUses(h facts.Hole) string {
	allowance, _ := hardware.HoleAllowance()
	roles := []struct {
		name string
		band func(size hardware.Size) (hardware.Band, bool)
	}{
		{"a clearance hole of", func(s hardware.Size) (hardware.Band, bool) {
			b, ok := hardware.ClearanceBand(s, allowance)
			return b, ok && h.Through
		}},
		{"a thread cut in plastic of", func(s hardware.Size) (hardware.Band, bool) { return hardware.PilotBand(s, allowance) }},
		{"a hole for an insert of", func(s hardware.Size) (hardware.Band, bool) {
			n, ok := hardware.InsertHole(s, 0, 0, allowance)
			return n.Hole, ok
		}},
	}
	if h.Kind == section.Hexagon {
		roles = roles[:1]
		roles[0].name, roles[0].band = "a nut pocket of", func(s hardware.Size) (hardware.Band, bool) {
			n, ok := hardware.NutOf(hardware.DefaultNut, s)
			return hardware.PocketBand(n, allowance), ok
		}
	}
	var out []string
	for _, r := range roles {
		var sizes []string
		for _, s := range hardware.Sizes() {
			if b, ok := r.band(s); ok && b.Contains(h.Passes) {
				sizes = append(sizes, string(s))
			}
		}
		if len(sizes) > 0 {
			out = append(out, r.name+" "+strings.Join(sizes, ", "))
		}
	}
	return strings.Join(out, "; ")
}
