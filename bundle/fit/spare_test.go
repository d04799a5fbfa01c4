package fit

import (
	"testing"

	"dropwright/bundle/design"
	"dropwright/bundle/facts"
	"dropwright/bundle/section"
)

var six = [][2]float64{{0, 0}, {35, 0}, {70, 0}, {0, 42}, {35, 42}, {70, 42}}

// spareOf is what is left over of lid and box with these holes and so many screws M3x8.
func spareOf(count, lids, boxes int, lid, box []section.Hole, more ...design.Fastener) []facts.Unlisted {
	d := screwInto("M3x8", "", count, into("box"), "lid")
	d.Parts[0].Copies, d.Parts[1].Copies = all(design.Int(lids)), all(design.Int(boxes))
	d.Fasteners = append(d.Fasteners, more...)
	return Work(Input{Design: d, House: &design.House{}, Shapes: map[string]*Shape{"lid.stl": shapeWith(lid...), "box.stl": shapeWith(box...)}}).Unlisted
}

func TestAPatternThatGoesOnIsTold(t *testing.T) {
	clear := func(ps [][2]float64) []section.Hole { return holesAt(ps, 2, 3.4, 2, true) }
	pilot := func(ps [][2]float64) []section.Hole { return holesAt(ps, 14, 2.65, 9, false) }
	second := screwInto("M3x10", "", 2, into("box"), "lid").Fasteners[0]
	second.Name = val(design.Name("long"))
	aside := [][2]float64{{0, 0}, {35, 0}, {70, 0}, {0, 42}, {33, 20}, {61, 11}}
	for name, c := range map[string]struct {
		got                       []facts.Unlisted
		free, listed, holes, twin int // free 0: nothing is told
	}{
		"six holes, four listed":      {spareOf(4, 1, 1, clear(six), pilot(six)), 2, 4, 6, 1},
		"one left over":               {spareOf(5, 1, 1, clear(six), pilot(six)), 1, 5, 6, 1},
		"as many as listed":           {spareOf(6, 1, 1, clear(six), pilot(six)), 0, 0, 0, 0},
		"two pairs":                   {spareOf(8, 2, 2, clear(six), pilot(six)), 2, 8, 12, 2},
		"a second entry takes two":    {spareOf(4, 1, 1, clear(six), pilot(six), second), 0, 0, 0, 0},
		"free holes in the lid only":  {spareOf(4, 1, 1, clear(six), pilot(six[:4])), 0, 0, 0, 0},
		"free holes in the box only":  {spareOf(4, 1, 1, clear(six[:4]), pilot(six)), 0, 0, 0, 0},
		"the others do not meet":      {spareOf(4, 1, 1, clear(aside), pilot(six)), 0, 0, 0, 0},
		"the others are of a size M2": {spareOf(4, 1, 1, clear(six), append(pilot(six[:4]), holesAt(six[4:], 14, 1.7, 9, false)...)), 0, 0, 0, 0},
	} {
		if c.free == 0 {
			if len(c.got) > 0 {
				t.Errorf("%s: told %+v", name, c.got)
			}
			continue
		}
		if len(c.got) != 1 {
			t.Errorf("%s: told %+v, want one", name, c.got)
			continue
		}
		if u := c.got[0]; u.Fastener != "screw" || u.Count != c.free || u.Listed != c.listed || u.Holes != c.holes || u.Copies != c.twin {
			t.Errorf("%s: %+v, want %d free, %d listed, %d holes", name, u, c.free, c.listed, c.holes)
		}
	}
}

// TestThreeFeetHaveThreeHoles: a part that stands there once gives each copy of its counterpart a hole of its own.
func TestThreeFeetHaveThreeHoles(t *testing.T) {
	d := screwInto("M4x16", "", 3, into("box"), "lid")
	d.Parts[1].Copies = all(design.Int(3))
	three := [][2]float64{{0, 38}, {-33, -19}, {33, -19}}
	j := work(d, map[string]*Shape{"lid.stl": shapeWith(holesAt(three, 3, 4.5, 3, true)...), "box.stl": shapeWith(round(0, 0, 24, 3.45, 15.5, false))})
	seen := map[[3]float64]bool{}
	for _, h := range j.Members[0].Holes {
		seen[h.At] = true
	}
	if len(seen) != 3 {
		t.Errorf("the base's holes %+v, want three places", j.Members[0].Holes)
	}
	for _, h := range j.Members[1].Holes {
		if h.Missing || h.At != j.Members[1].Holes[0].At {
			t.Errorf("a foot's hole %+v: each copy has the one that the mesh has", h)
		}
	}
}
