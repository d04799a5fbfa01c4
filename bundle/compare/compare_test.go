package compare

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"

	"dropwright/bundle/facts"
	"dropwright/bundle/mesh"
	"dropwright/bundle/mesh/same"
)

// ring is a round plate with a bore, diameters and height in mm: a washer, the smallest part with a hole.
func ring(bore, outer, height float64) *mesh.Mesh {
	return mesh.Lathe([][2]float64{{bore / 2, 0}, {outer / 2, 0}, {outer / 2, height}, {bore / 2, height}, {bore / 2, 0}}, 96)
}

// wedge has no symmetry: its mirror image is another part.
func wedge() *mesh.Mesh {
	return &mesh.Mesh{Vertices: [][3]float32{{0, 0, 0}, {30, 0, 0}, {0, 20, 0}, {0, 0, 10}},
		Triangles: [][3]uint32{{0, 2, 1}, {0, 1, 3}, {0, 3, 2}, {1, 2, 3}}}
}

func hole(d float64, at ...float64) facts.Hole {
	return facts.Hole{Axis: "z", Kind: "round", Diameter: d, Centre: [3]float64(at), Through: true}
}

// shelf finds meshes by their keys.
type shelf map[string]*mesh.Mesh

func (s shelf) compare(a, b string) (same.Result, error) {
	if s[a] == nil || s[b] == nil {
		return same.Result{}, errors.New("no such mesh")
	}
	return same.Compare(s[a], s[b], same.Options{}), nil
}

func side(name string, parts ...Part) Side {
	return Side{Name: name, Variants: []Variant{{Name: "plain", Parts: parts}}}
}

// TestVerdicts: corrections as makers publish them, each with the answer that a builder needs.
func TestVerdicts(t *testing.T) {
	s := shelf{"ring29": ring(2.9, 20, 5), "ring32": ring(3.2, 20, 5), "thick": ring(2.9, 20, 6), "hair": ring(2.9, 20.04, 5), "wedge": wedge(), "mirror": mesh.Mirror(wedge()),
		"turned": mesh.Transform(wedge(), mesh.Matrix{{0, -1, 0, 0}, {1, 0, 0, 0}, {0, 0, 1, 0}}), "moved": mesh.Transform(wedge(), mesh.Shift(5, 0, 0))}
	h29, h32 := []facts.Hole{hole(2.9, 0, 0, 2.5)}, []facts.Hole{hole(3.2, 0, 0, 2.5)}
	for _, c := range []struct {
		name            string
		a, b            Part
		change, reprint string
		level, why      string
	}{
		{"the same file", Part{Mesh: "wedge", SHA256: "1"}, Part{Mesh: "wedge", SHA256: "1"}, Same, No, "patch", "the file is the same"},
		{"another header", Part{Mesh: "wedge", SHA256: "1"}, Part{Mesh: "wedge", SHA256: "2"}, Same, No, "patch", "only the file differs"},
		{"turned", Part{Mesh: "wedge"}, Part{Mesh: "turned"}, Turned, No, "patch", "turned by 90 degrees"},
		{"moved", Part{Mesh: "wedge"}, Part{Mesh: "moved"}, Moved, No, "patch", "another place"},
		{"mirrored", Part{Mesh: "wedge"}, Part{Mesh: "mirror", Joined: true}, Mirrored, Yes, "major", "other hand"},
		{"hole 2.9 to 3.2", Part{Mesh: "ring29", Holes: h29}, Part{Mesh: "ring32", Holes: h32, Joined: true}, Changed, OnlyIf, "patch", "1 hole goes from 2.9 to 3.2 mm"},
		{"thicker", Part{Mesh: "ring29", Holes: h29}, Part{Mesh: "thick", Holes: h29}, Changed, Yes, "patch", "differs by up to 1.00 mm"},
		{"a hair wider", Part{Mesh: "ring29"}, Part{Mesh: "hair"}, Changed, No, "patch", "less than a printed part shows"},
		{"hole elsewhere", Part{Mesh: "ring29", Holes: h29}, Part{Mesh: "thick", Holes: []facts.Hole{hole(2.9, 4, 0, 2.5)}, Joined: true}, Changed, Yes, "major", "differs"},
		{"one more", Part{Mesh: "wedge", Copies: 1}, Part{Mesh: "wedge", Copies: 2}, Same, OnlyIf, "patch", "fewer than 2"},
		{"another colour", Part{Mesh: "wedge", Filament: "clay"}, Part{Mesh: "wedge", Filament: "moss"}, Same, OnlyIf, "patch", "moss in place of clay"},
		{"more walls", Part{Mesh: "wedge", Print: "3 walls"}, Part{Mesh: "wedge", Print: "5 walls"}, Same, OnlyIf, "patch", "too weak"},
	} {
		c.a.Name, c.b.Name = "part", "part"
		d, err := Compare(side("1.0.0", c.a), side("1.0.1", c.b), s.compare)
		if err != nil {
			t.Fatal(err)
		}
		p := d.Parts[0]
		if p.Change != c.change || p.Reprint != c.reprint || !strings.Contains(p.Why, c.why) {
			t.Errorf("%s: %s, reprint %s, %q; want %s, %s, …%s…", c.name, p.Change, p.Reprint, p.Why, c.change, c.reprint, c.why)
		}
		if level, why := Level(d); level != c.level || why == "" {
			t.Errorf("%s: level %s, %s; want %s", c.name, level, why, c.level)
		}
	}
}

// TestSampled: a deviation from samples only is told as such, whatever the answer.
func TestSampled(t *testing.T) {
	for _, dev := range []float64{0, 0.01, 1} {
		for _, sampled := range []bool{false, true} {
			p := Part{Name: "part", Mesh: "m"}
			d, err := Compare(side("1.0.0", p), side("1.0.1", p), func(a, b string) (same.Result, error) {
				return same.Result{Kind: same.Changed, Deviation: dev, Sampled: sampled}, nil
			})
			if err != nil {
				t.Fatal(err)
			}
			if why := d.Parts[0].Why; strings.Contains(why, "places sampled") != sampled {
				t.Errorf("%v mm, sampled %v: %q", dev, sampled, why)
			}
		}
	}
}

// TestPairs: parts that came, went, were renamed; variants that came and went; what is alike in all variants is
// said once.
func TestPairs(t *testing.T) {
	s := shelf{"wedge": wedge(), "ring": ring(3, 20, 5), "other": ring(5, 30, 9)}
	a := side("1", Part{Name: "arm", Mesh: "wedge"}, Part{Name: "foot", Mesh: "ring", Joined: true})
	b := side("2", Part{Name: "lever", Mesh: "wedge"}, Part{Name: "cap", Mesh: "other"})
	d, err := Compare(a, b, s.compare)
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, p := range d.Parts {
		got = append(got, fmt.Sprintf("%s %s %s %s", p.Part, p.Was, p.Change, p.Reprint))
	}
	if want := []string{"lever arm same no", "cap  added yes", "foot  removed no"}; !slices.Equal(got, want) {
		t.Errorf("got %q, want %q", got, want)
	}
	if level, _ := Level(d); level != "major" {
		t.Errorf("a joined part is gone: %s", level)
	}
	two := Side{Variants: []Variant{{Name: "ce", Parts: a.Variants[0].Parts}, {Name: "stack", Parts: a.Variants[0].Parts}}}
	if d, err = Compare(two, two, s.compare); err != nil || len(d.Parts) != 2 || d.Parts[0].Variant != "" || !d.Same() {
		t.Errorf("two variants alike: %+v %v", d, err)
	}
	three := Side{Variants: append(slices.Clone(two.Variants), Variant{Name: "duo"})}
	if d, err = Compare(two, three, s.compare); err != nil || len(d.Variants) != 1 || d.Same() {
		t.Errorf("a variant is new: %+v %v", d, err)
	}
	if level, _ := Level(d); level != "minor" {
		t.Errorf("a variant is new: %s", level)
	}
	if d, _ = Compare(three, two, s.compare); d.Variants[0].Change != Removed {
		t.Errorf("a variant is gone: %+v", d.Variants)
	}
	if _, err := Compare(a, side("x", Part{Name: "arm", Mesh: "none"}), s.compare); err == nil {
		t.Error("a mesh that is not there passes")
	}
}

// TestLines: fasteners, bought parts, wiring, settings and steps.
func TestLines(t *testing.T) {
	a := Side{Variants: []Variant{{Name: "plain", Fasteners: []Line{{"lid-screw", "4 x M3x8"}, {"foot-screw", "2 x M3x12"}}, Steps: []Line{{"Close it", "hand tight"}}}}}
	b := Side{Variants: []Variant{{Name: "plain", Fasteners: []Line{{"lid-screw", "4 x M3x10"}}, Bought: []Line{{"fan", "1 x fan 40"}}, Steps: []Line{{"Close it", "hand tight"}}}}}
	d, err := Compare(a, b, nil)
	if err != nil {
		t.Fatal(err)
	}
	want := []string{"fastener lid-screw: 4 x M3x10, was 4 x M3x8", "fastener foot-screw: gone: 2 x M3x12", "bought fan: new: 1 x fan 40"}
	if got := Draft(d); !slices.Equal(got, want) {
		t.Errorf("got %q, want %q", got, want)
	}
	if len(d.Steps) != 0 || d.Same() {
		t.Errorf("%+v", d)
	}
}

// BenchmarkMillion compares two parts of a million triangles of which one has a dent.
func BenchmarkMillion(b *testing.B) {
	x := mesh.Torus(30, 10, 1000, 500)
	y := &mesh.Mesh{Vertices: append([][3]float32(nil), x.Vertices...), Triangles: x.Triangles}
	y.Vertices[12345][2] += 0.4
	s := shelf{"x": x, "y": y}
	b.ReportMetric(float64(len(x.Triangles)), "triangles")
	for b.Loop() {
		if _, err := Compare(side("1", Part{Name: "p", Mesh: "x"}), side("2", Part{Name: "p", Mesh: "y"}), s.compare); err != nil {
			b.Fatal(err)
		}
	}
}
