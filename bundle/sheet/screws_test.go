package sheet

import (
	"math"
	"testing"

	"dropwright/bundle/bom"
	"dropwright/bundle/hardware"
)

// trueSheet draws some designations.
func trueSheet(t *testing.T, designations ...string) []*Drawing {
	t.Helper()
	in := hook()
	in.BOM.Variants[0].Fasteners = nil
	for _, d := range designations {
		in.BOM.Variants[0].Fasteners = append(in.BOM.Variants[0].Fasteners, bom.Fastener{Designation: d, Kind: "screw", Count: 1})
	}
	var out []*Drawing
	for _, b := range newComposer(in).screws() {
		if b.Kind == Plan {
			out = append(out, b.Drawing)
		}
	}
	return out
}

// spans of a drawing's level lines of one width, by length.
func level(d *Drawing, width float64) []float64 {
	var out []float64
	for _, s := range d.Shapes {
		if len(s.Points) == 2 && !s.Closed && s.Stroke == width && s.Points[0].Y == s.Points[1].Y && !s.Dash {
			out = append(out, math.Abs(s.Points[1].X-s.Points[0].X))
		}
	}
	return out
}

func near(a, b float64) bool { return math.Abs(a-b) < 0.002 }

func contains(list []float64, x float64) bool {
	for _, y := range list {
		if near(x, y) {
			return true
		}
	}
	return false
}

// profile is the extent in x of the side view: of all outlines but the hexagons of end views, which are about as
// wide as high.
func profile(d *Drawing) (from, to float64) {
	from, to = math.Inf(1), math.Inf(-1)
	for _, s := range d.Shapes {
		if !s.Closed {
			continue
		}
		a, b, low, high := math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
		for _, p := range s.Points {
			a, b, low, high = math.Min(a, p.X), math.Max(b, p.X), math.Min(low, p.Y), math.Max(high, p.Y)
		}
		if k := (b - a) / (high - low); len(s.Points) == 6 && k > 0.8 && k < 1.25 {
			continue
		}
		from, to = math.Min(from, a), math.Max(to, b)
	}
	return from, to
}

// TestTrueSizes holds lengths against the standards' own way of measuring: ISO 4762, ISO 7045 and ISO 4017
// below the head, ISO 10642 and ISO 7046 over everything, ISO 4026 the whole screw.
func TestTrueSizes(t *testing.T) {
	for _, c := range []struct {
		designation string
		length      float64 // dimension line
		over        float64 // from end to end of the side view
	}{
		{"ISO 4762 - M3 x 16", 16, 19},   // head height 3 (ISO 4762 table 1)
		{"ISO 10642 - M3 x 12", 12, 12},  // the head is in the length
		{"ISO 4026 - M3 x 6", 6, 6},      // no head
		{"ISO 7045 - M3 x 10", 10, 12.4}, // head height 2.4 (ISO 7045 table 1)
		{"ISO 4032 - M3", 2.4, 2.4},      // height 2.4 (ISO 4032 table 1)
		{"insert M3, outer 4.6, length 5.7", 5.7, 5.7},
		{"standoff M2.5 x 10, female-male", 10, 16}, // a stud of 6 beside the body
	} {
		d := trueSheet(t, c.designation)
		if len(d) != 1 {
			t.Errorf("%s: %d drawings", c.designation, len(d))
			continue
		}
		if !d[0].True {
			t.Errorf("%s: the page may scale the drawing", c.designation)
		}
		if !contains(level(d[0], Wide), barLength) {
			t.Errorf("%s: no bar of 50 mm", c.designation)
		}
		if !contains(level(d[0], Narrow), c.length) {
			t.Errorf("%s: no dimension line of %v mm in %v", c.designation, c.length, level(d[0], Narrow))
		}
		if from, to := profile(d[0]); math.Abs(to-from-c.over) > 0.02 && hardwareKnows(c.designation) {
			t.Errorf("%s: %.3f mm from end to end, want %v", c.designation, to-from, c.over)
		}
	}
}

// hardwareKnows lets the stud's length be the table's where the table has it.
func hardwareKnows(designation string) bool {
	d, err := hardware.ParseDesignation(designation)
	if err != nil || d.Kind != hardware.KindStandoff {
		return true
	}
	s, ok := hardware.StandoffOf(d.Size)
	return ok && s.ThreadLength == 6
}

// TestEveryStandardIsDrawn holds that each standard of the tables can be drawn in a size that it has.
func TestEveryStandardIsDrawn(t *testing.T) {
	for _, s := range hardware.Standards() {
		drawn := false
		for _, size := range hardware.Sizes() {
			d := hardware.Designation{Kind: s.Kind, Standard: s.Number, Size: size, Length: 12}
			if newComposer(hook()).drawTrue(d) != nil {
				drawn = true
				break
			}
		}
		if !drawn {
			t.Errorf("%s is drawn in no size", s.Number)
		}
	}
}

// TestManyFastenersNeedMorePages holds that a long list goes on with a bar of its own, and that nothing leaves
// the sheet.
func TestManyFastenersNeedMorePages(t *testing.T) {
	var many []string
	for i := range 30 {
		many = append(many, []string{"ISO 4762 - M3 x 16", "ISO 4762 - M8 x 100", "ISO 4032 - M5"}[i%3])
	}
	drawings := trueSheet(t, many...)
	if len(drawings) < 2 {
		t.Fatalf("%d drawings", len(drawings))
	}
	for _, d := range drawings {
		if !contains(level(d, Wide), barLength) || d.Height > trueHeight+40 {
			t.Errorf("height %v, bar %v", d.Height, contains(level(d, Wide), barLength))
		}
		for _, s := range d.Shapes {
			for _, p := range s.Points {
				if p.X < 0 || p.X > d.Width || p.Y < 0 || p.Y > d.Height {
					t.Errorf("%v lies outside %v x %v", p, d.Width, d.Height)
				}
			}
		}
	}
}

// TestUnknownFastenersAreNamed holds that what cannot be drawn is said.
func TestUnknownFastenersAreNamed(t *testing.T) {
	in := hook()
	in.BOM.Variants[0].Fasteners = []bom.Fastener{{Designation: "rivet 3 x 8", Kind: "screw", Count: 2, UsedBy: []string{"rivet"}}}
	found := false
	for _, b := range newComposer(in).screws() {
		if b.Kind == Para && plain(b.Spans) == english.say("screws unknown", "rivet 3 x 8") {
			found = true
		}
	}
	if !found {
		t.Error("a fastener that cannot be drawn is not named")
	}
}
