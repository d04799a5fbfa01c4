package fit

import (
	"math"
	"strings"
	"testing"

	"dropwright/bundle/design"
	"dropwright/bundle/facts"
	"dropwright/bundle/finding"
	"dropwright/bundle/hardware"
	"dropwright/bundle/mesh"
	"dropwright/bundle/section"
	"dropwright/bundle/unit"
)

// round is a hole along +z with its upper opening at a place: down to a floor, or right through.
func round(x, y, top, d, deep float64, through bool) section.Hole {
	h := section.Hole{Axis: [3]float64{0, 0, 1}, Kind: section.Round, Diameter: d, Passes: d, Corners: 64, Depth: deep, Narrow: deep, Through: through,
		From: section.End{At: [3]float64{x, y, top - deep}, Mouth: section.Closed}, To: section.End{At: [3]float64{x, y, top}, Mouth: section.Open},
		Centre: [3]float64{x, y, top - deep/2}}
	if through {
		h.From.Mouth = section.Open
	}
	return h
}

func shapeWith(holes ...section.Hole) *Shape {
	for i := range holes {
		if holes[i].Group == 0 {
			holes[i].Group = 100 + i
		}
	}
	return &Shape{Census: section.Census{Holes: holes}, Walls: make([]float64, len(holes))}
}

var at = finding.Place{File: "design.yaml", Line: 1, Column: 1}

func val[T any](v T) design.Val[T] { return design.Val[T]{V: v, At: at} }

func all[T any](v T) design.ByVariant[T] {
	x := val(v)
	return design.ByVariant[T]{At: at, All: &x}
}

// screwInto is a design of a lid on a box with one fastener.
func screwInto(screw string, head design.Head, count int, into design.Into, through ...design.Name) *design.Design {
	f := design.Fastener{At: at, Name: val(design.Name("screw")), Screw: all(design.Text(screw)), Count: all(design.Int(count)), Into: into}
	if head != "" {
		f.Head = val(head)
	}
	for _, t := range through {
		f.Through = append(f.Through, val(t))
	}
	part := func(n string) design.Part {
		return design.Part{At: at, Name: val(design.Name(n)), Mesh: all(design.Path(n + ".stl"))}
	}
	return &design.Design{Parts: []design.Part{part("lid"), part("box")}, Fasteners: []design.Fastener{f}}
}

func into(name string) design.Into {
	return design.Into{At: at, Target: val(design.Name(name))}
}

func work(d *design.Design, shapes map[string]*Shape) facts.Joint {
	return Work(Input{Design: d, House: &design.House{}, Shapes: shapes}).Joints[0]
}

var square = [][2]float64{{0, 0}, {30, 0}, {30, 20}, {0, 20}}

func holesAt(ps [][2]float64, top, d, deep float64, through bool) []section.Hole {
	var out []section.Hole
	for _, p := range ps {
		out = append(out, round(p[0], p[1], top, d, deep, through))
	}
	return out
}

func near(a, b float64) bool { return math.Abs(a-b) < 0.01 }

// The figures of each kind of joint, worked out by hand.
func TestWhatScrewsClampAndBite(t *testing.T) {
	lid := shapeWith(holesAt(square, 2.5, 3.4, 2.5, true)...)
	insert := design.Into{At: at, Held: &design.IntoMap{In: val(design.Name("box")), Insert: &design.InsertUse{At: at, Thread: val(design.Text("M3")), Outer: val(unit.Length(4.6)), Length: val(unit.Length(5.7))}}}
	nut := func(in string) design.Into {
		m := &design.IntoMap{Nut: val(design.Text("ISO 4032"))}
		if in != "" {
			m.In = val(design.Name(in))
		}
		return design.Into{At: at, Held: m}
	}
	var pockets []section.Hole
	for i, p := range square {
		r := round(p[0], p[1], 20, 3.4, 6, true)
		r.Group = i + 1
		r.From.At[2], r.To.At[2] = 14, 20
		hex := section.Hole{Axis: [3]float64{0, 0, 1}, Kind: section.Hexagon, Diameter: 5.7, Passes: 5.7, Corners: 6, Depth: 3, Narrow: 3, Group: i + 1,
			From: section.End{At: [3]float64{p[0], p[1], 11}, Mouth: section.Open}, To: section.End{At: [3]float64{p[0], p[1], 14}, Mouth: section.Narrowed}, Centre: [3]float64{p[0], p[1], 12.5}}
		pockets = append(pockets, r, hex)
	}
	bore := holesAt(square, 4, 3.4, 4, true)
	for i := range bore {
		bore[i].Sinks = []section.Sink{{Kind: section.Counterbore, Diameter: 6.4, Depth: 1.5, Length: 1.5, AtTo: true}}
	}
	cone := holesAt(square, 2.5, 3.4, 2.5, true)
	for i := range cone { // 6 mm real head (CODECUP max for M3) in a cone of 6.6: its top lies 0.3 deep
		cone[i].Sinks = []section.Sink{{Kind: section.Countersink, Diameter: 6.6, Depth: 1.6, Length: 1.6, Angle: 90, AtTo: true}}
	}
	for _, c := range []struct {
		name     string
		screw    string
		head     design.Head
		lid, box *Shape
		into     design.Into
		through  []design.Name
		clamped  float64
		bites    float64
		needs    float64
		room     float64
		min, max float64
		open     bool
	}{
		// M3x8: 8 - 2.5 = 5.5 of 2 x 3 = 6 needed; blind 9: 11.5 at the most.
		{"plastic", "M3x8", "", lid, shapeWith(holesAt(square, 12, 2.65, 9, false)...), into("box"), []design.Name{"lid"}, 2.5, 5.5, 6, 9, 8.5, 11.5, false},
		// A washer of ISO 7089 is 0.5 thick.
		{"washer", "M3x10", "", lid, shapeWith(holesAt(square, 12, 2.65, 9, false)...), into("box"), []design.Name{"washer", "lid"}, 3, 7, 6, 9, 9, 12, false},
		// Into an insert 5.7 long in a hole 6.7 deep: 1 x 3 needed.
		{"insert", "M3x8", "", lid, shapeWith(holesAt(square, 12, 4.1, 6.7, false)...), insert, []design.Name{"lid"}, 2.5, 5.5, 3, 6.7, 5.5, 9.2, false},
		// Into a nut in a pocket: the part around the nut is clamped too, 2.5 + 6; the nut is 2.4 high.
		{"nut in a pocket", "M3x12", "", lid, shapeWith(pockets...), nut("box"), []design.Name{"lid"}, 8.5, 2.4, 2.4, 0, 10.9, 0, true},
		// A loose nut behind: nothing else is clamped.
		{"loose nut", "M3x6", "", lid, shapeWith(), nut(""), []design.Name{"lid"}, 2.5, 2.4, 2.4, 0, 4.9, 0, true},
		// A recess takes 1.5 of the 4 off.
		{"counterbore", "M3x10", "", shapeWith(bore...), shapeWith(holesAt(square, 12, 2.65, 9, false)...), into("box"), []design.Name{"lid"}, 2.5, 7.5, 6, 9, 8.5, 11.5, false},
		// A countersunk screw counts with its head: 10 - (2.5 - 0.3) = 7.8.
		{"countersunk", "M3x10", "countersunk", shapeWith(cone...), shapeWith(holesAt(square, 12, 2.65, 9, false)...), into("box"), []design.Name{"lid"}, 2.2, 7.8, 6, 9, 8.2, 11.2, false},
		// A thread cut right through has no floor.
		{"through", "M3x10", "", lid, shapeWith(holesAt(square, 7, 2.65, 7, true)...), into("box"), []design.Name{"lid"}, 2.5, 7, 6, 0, 8.5, 0, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			j := work(screwInto(c.screw, c.head, 4, c.into, c.through...), map[string]*Shape{"lid.stl": c.lid, "box.stl": c.box})
			if len(j.Unknown) > 0 || len(j.Screws) != 4 || j.Fits == nil {
				t.Fatalf("not worked out: %+v", j)
			}
			for _, s := range j.Screws {
				if !near(s.Clamped, c.clamped) || !near(s.Bites, c.bites) || !near(s.Needs, c.needs) || !near(s.Room, c.room) {
					t.Errorf("got %+v, want clamped %g, bites %g, needs %g, room %g", s, c.clamped, c.bites, c.needs, c.room)
				}
			}
			if !near(j.Fits.Min, c.min) || c.max > 0 && !near(j.Fits.Max, c.max) || j.Fits.Open != c.open {
				t.Errorf("fits %+v, want %g to %g", *j.Fits, c.min, c.max)
			}
			for _, l := range j.Fits.Made {
				if l < j.Fits.Min || l > j.Fits.Max {
					t.Errorf("%g mm is suggested and does not fit %+v", l, *j.Fits)
				}
			}
		})
	}
}

// Two screws in one standoff share its bore (row 22 of the published faults: 12 mm, screws of 11 from both ends).
func TestScrewsMeetInAStandoff(t *testing.T) {
	d := screwInto("M3x11", "", 1, into("post"), "lid")
	d.Fasteners[0].Name = val(design.Name("upper"))
	lower := d.Fasteners[0]
	lower.Name, lower.Through = val(design.Name("lower")), []design.Val[design.Name]{val(design.Name("box"))}
	d.Fasteners = append(d.Fasteners, lower, design.Fastener{At: at, Name: val(design.Name("post")), Standoff: all(design.Text("M3x12")), Count: all(design.Int(1)), Into: into("box")})
	one := [][2]float64{{0, 0}}
	f := Work(Input{Design: d, House: &design.House{}, Shapes: map[string]*Shape{"lid.stl": shapeWith(holesAt(one, 2, 3.4, 2, true)...), "box.stl": shapeWith(holesAt(one, 2, 3.4, 2, true)...)}})
	up := f.Joints[0]
	if len(up.Screws) != 1 || !near(up.Screws[0].Reach, 9) || !near(up.Screws[0].Room, 3) {
		t.Errorf("upper screw: %+v, want 9 mm deep with 3 mm left by the lower one", up.Screws)
	}
	if post := f.Joints[2]; len(post.Unknown) != 1 || !strings.Contains(post.Unknown[0].Text, "two female ends") {
		t.Errorf("the standoff itself: %+v", post.Unknown)
	}
}

// A thickness that nobody states makes one unknown, not one for each screw.
func TestOneUnknownForAJoint(t *testing.T) {
	d := screwInto("M3x8", "", 12, into("box"), "servo")
	d.Bought = []design.Bought{{At: at, Name: val(design.Name("servo"))}}
	j := work(d, map[string]*Shape{"box.stl": shapeWith(holesAt(square, 12, 2.65, 9, false)...)})
	if len(j.Unknown) != 1 || j.Unknown[0].Topic != "length" || !strings.Contains(j.Unknown[0].Text, "thickness") || len(j.Screws) != 0 {
		t.Errorf("unknown %+v, screws %d", j.Unknown, len(j.Screws))
	}
}

// Counts and copies that nobody means must not take memory or time, and what cannot be read is said.
func TestOddEntries(t *testing.T) {
	shapes := map[string]*Shape{"lid.stl": shapeWith(holesAt(square, 2.5, 3.4, 2.5, true)...), "box.stl": shapeWith(holesAt(square, 12, 2.65, 9, false)...)}
	for name, d := range map[string]*design.Design{
		"a million screws": screwInto("M3x8", "", 1_000_000, into("box"), "lid"),
		"no such thread":   screwInto("M77x8", "", 4, into("box"), "lid"),
		"no such target":   screwInto("M3x8", "", 4, into("nothing"), "nowhere"),
		"no into":          screwInto("M3x8", "", 4, design.Into{}, "lid"),
	} {
		if j := work(d, shapes); len(j.Unknown) == 0 {
			t.Errorf("%s: nothing is said: %+v", name, j)
		}
	}
	d := screwInto("M3x8", "", 4, into("box"), "lid")
	d.Parts[0].Copies, d.Parts[1].Copies = all(design.Int(1_000_000)), all(design.Int(999_999))
	work(d, shapes)
	work(screwInto("M3x8", "", 4, into("box"), "lid"), nil)
	work(screwInto("M3x8", "", 4, into("lid"), "lid"), shapes)
	if s, err := ShapeOf(meshOf(t, "vent-minder/meshes/cheek-left.stl")); err != nil || len(s.Walls) != len(s.Holes) {
		t.Errorf("walls %d, holes %d: %v", len(s.Walls), len(s.Holes), err)
	}
}

// A fork: the screw passes one lug and cuts its thread in the other, the part it holds lies between.
func TestOnePartTwice(t *testing.T) {
	d := screwInto("M3x16", "", 2, into("box"), "box", "lid")
	two := [][2]float64{{0, 0}, {25, 0}}
	box := append(holesAt(two, 20, 3.4, 4, true), holesAt(two, 10, 2.65, 8, false)...)
	j := work(d, map[string]*Shape{"lid.stl": shapeWith(holesAt(two, 3, 3.4, 3, true)...), "box.stl": shapeWith(box...)})
	if len(j.Screws) != 2 || !near(j.Screws[0].Clamped, 7) || !near(j.Screws[0].Bites, 8) {
		t.Errorf("screws %+v, want 4 + 3 clamped and 8 in the lower lug: %+v", j.Screws, j.Unknown)
	}
}

// Every suggestion keeps both promises: bite enough, and room at the tip.
func TestDemands(t *testing.T) {
	j := work(screwInto("M3x8", "", 4, into("box"), "lid"), map[string]*Shape{"lid.stl": shapeWith(holesAt(square, 2.5, 3.4, 2.5, true)...), "box.stl": shapeWith(holesAt(square, 12, 2.65, 9, false)...)})
	ds := Demands([]facts.Joint{j}, "lamp")
	if len(ds) != 1 || ds[0].Where != "lamp: screw" || ds[0].Size != "M3" || ds[0].Count != 4 || ds[0].Lengths.Min != 8.5 {
		t.Fatalf("%+v", ds)
	}
	s := hardware.FewestSizes(ds)
	if len(s) != 1 || len(s[0].After) != 1 || s[0].After[0] != 10 {
		t.Errorf("%+v: M3x10 is the one that fits 8.5 to 11.5 with the tolerance of its length", s)
	}
}

// Meshes lie as they print: turning, tilting or mirroring one of the parts changes no figure of a joint.
func TestJointsDoNotDependOnHowPartsLie(t *testing.T) {
	insert := design.Into{At: at, Held: &design.IntoMap{In: val(design.Name("box")), Insert: &design.InsertUse{At: at, Thread: val(design.Text("M3")), Outer: val(unit.Length(4.6)), Length: val(unit.Length(5.7))}}}
	d := screwInto("M3x8", "", 4, insert, "lid")
	lid, box := meshOf(t, "vent-minder/meshes/window-ce.stl"), meshOf(t, "vent-minder/meshes/case-ce.stl")
	shape := func(m *mesh.Mesh) *Shape {
		s, err := ShapeOf(m)
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	tilt := func(m *mesh.Mesh, about int, degrees float64) *mesh.Mesh {
		sin, cos := math.Sincos(degrees * math.Pi / 180)
		out := &mesh.Mesh{Triangles: m.Triangles}
		u, v := (about+1)%3, (about+2)%3
		for _, p := range m.Vertices {
			q := p
			q[u], q[v] = float32(cos*float64(p[u])-sin*float64(p[v])), float32(sin*float64(p[u])+cos*float64(p[v]))
			out.Vertices = append(out.Vertices, q)
		}
		return out
	}
	want := work(d, map[string]*Shape{"lid.stl": shape(lid), "box.stl": shape(box)})
	if len(want.Screws) != 4 {
		t.Fatalf("%+v", want)
	}
	for name, m := range map[string][2]*mesh.Mesh{
		"lid turned over":  {tilt(lid, 0, 180), box},
		"box on its side":  {lid, tilt(box, 1, 90)},
		"both askew":       {tilt(lid, 2, 33), tilt(box, 2, -71)},
		"lid mirrored":     {mesh.Mirror(lid), box},
		"box leaning 20 d": {lid, tilt(box, 0, 20)},
	} {
		got := work(d, map[string]*Shape{"lid.stl": shape(m[0]), "box.stl": shape(m[1])})
		if len(got.Screws) != 4 || len(got.Unknown) > 0 {
			t.Errorf("%s: %d screws worked out, unknown %v", name, len(got.Screws), got.Unknown)
			continue
		}
		for i := range got.Screws {
			g, w := got.Screws[i], want.Screws[i]
			if math.Abs(g.Clamped-w.Clamped) > 0.02 || math.Abs(g.Bites-w.Bites) > 0.02 || math.Abs(g.Room-w.Room) > 0.02 {
				t.Errorf("%s: screw %d: %+v, as it lies %+v", name, i, g, w)
			}
		}
		for _, x := range got.Members {
			for _, h := range x.Holes {
				if h.Missing || h.Low > 0 || h.Off > 0 {
					t.Errorf("%s: a hole of %s is off: %+v", name, x.Name, h)
				}
			}
		}
	}
}
