package toolpath

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"

	"dropwright/bundle/motion"
)

const tol = 1e-9

// bench is the machine of the hand-derived times: 1500 mm/s2, corner deviation 0.02 mm.
var bench = Machine{Limits: motion.Limits{Acceleration: 1500, CornerDeviation: 0.02}, Travel: 100}

func read(t *testing.T, text string) Result {
	t.Helper()
	r, err := Read(strings.NewReader(text), bench)
	if err != nil {
		t.Fatalf("%q: %v", text, err)
	}
	return r
}

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if math.IsNaN(got) || math.Abs(got-want) > tol {
		t.Errorf("%s: got %.12g, want %.12g (within %g)", what, got, want, tol)
	}
}

// Written by hand, one line of arithmetic each: filament, layers, bounds.
func TestCommands(t *testing.T) {
	cases := []struct {
		name, text string
		filament   float64
		layers     int
		min, max   [3]float64
	}{
		{"absolute", "G90\nM82\nG1 Z0.2 F600\nG1 X10 E1\nG1 X20 E2.5\n", 2.5, 1, [3]float64{0, 0, 0.2}, [3]float64{20, 0, 0.2}},
		{"relative", "G91\nG1 Z0.2 F600\nG1 X10 E1\nG1 X10 E1.5\n", 2.5, 1, [3]float64{0, 0, 0.2}, [3]float64{20, 0, 0.2}},
		{"absolute axes, relative feed", "G90\nM83\nG1 Z.2 F600\nG1 X10 E1\nG1 X20 E1.5\n", 2.5, 1, [3]float64{0, 0, 0.2}, [3]float64{20, 0, 0.2}},
		{"M83 outlives G90", "M83\nG90\nG1 X10 E1 F600\nG1 X20 E1\n", 2, 1, [3]float64{}, [3]float64{20, 0, 0}},
		{"G91 drags E along until G90", "G90\nM82\nG1 X10 E1 F600\nG91\nG1 X10 E1\nG90\nG1 X0 E3\n", 3, 1, [3]float64{}, [3]float64{20, 0, 0}},
		{"M82 after G91", "G91\nM82\nG1 X10 E1 F600\nG1 X10 E3\n", 3, 1, [3]float64{}, [3]float64{20, 0, 0}},
		{"inches", "G20\nG1 X1 E1 F20\nG21\nG1 X50.8 E50.8 F600\n", 50.8, 1, [3]float64{}, [3]float64{50.8, 0, 0}},
		{"inches, relative", "G20\nG91\nG1 X1 E1 F20\nG1 X1 E.5\n", 38.1, 1, [3]float64{}, [3]float64{50.8, 0, 0}},
		{"reset of E", "M82\nG1 X10 E5 F600\nG92 E0\nG1 X0 E5\nG92 E100\nG1 X10 E101\n", 11, 1, [3]float64{}, [3]float64{10, 0, 0}},
		{"reset of all", "G1 X10 Y10 F600\nG92\nG1 X10 E1\n", 1, 1, [3]float64{10, 10, 0}, [3]float64{20, 10, 0}},
		{"reset of an axis", "G1 X10 F600\nG92 X100\nG1 X110 E1\n", 1, 1, [3]float64{10, 0, 0}, [3]float64{20, 0, 0}},
		{"home after reset", "G1 X10 F600\nG92 X100\nG28 X\nG1 X5 E1\n", 1, 1, [3]float64{}, [3]float64{5, 0, 0}},
		{"home one axis", "G1 X10 Y10 F600\nG28 Y\nG1 X20 E1\n", 1, 1, [3]float64{10, 0, 0}, [3]float64{20, 0, 0}},
		{"home with zeros", "G1 X10 Y10 F600\nG28 X0 Y0\nG1 X20 E1\n", 1, 1, [3]float64{}, [3]float64{20, 0, 0}},
		{"retraction", "G1 X10 E5 F600\nG1 E3\nG0 X20\nG1 E5\nG1 X30 E6\n", 6, 1, [3]float64{}, [3]float64{30, 0, 0}},
		{"retraction at the end", "G1 X10 E5 F600\nG1 E3\n", 5, 1, [3]float64{}, [3]float64{10, 0, 0}},
		{"feed in percent", "M83\nM221 S50\nG1 X10 E2 F600\nM221 S100\nG1 X0 E2\n", 3, 1, [3]float64{}, [3]float64{10, 0, 0}},
		{"feed in mm3", "M83\nM200 D2\nG1 X10 E3.14159265358979 F600\nM200 D0\nG1 X0 E1\n", 2, 1, [3]float64{}, [3]float64{10, 0, 0}},
		{"comments", "; G1 X99 E99\nG1 (X50) X10 E1 F600 ; E7\n(G1 E9)\n", 1, 1, [3]float64{}, [3]float64{10, 0, 0}},
		{"text of a message", "M117 Layer 3 (of 9; G1 X1\nG1 X10 E1 F600\n", 1, 1, [3]float64{}, [3]float64{10, 0, 0}},
		{"small letters, no spaces", "g1x10e1f600\n", 1, 1, [3]float64{}, [3]float64{10, 0, 0}},
		{"spaces and tabs", "G1 X 10\tE 1  F600\r\n", 1, 1, [3]float64{}, [3]float64{10, 0, 0}},
		{"two commands and a repeat", "G21 G90 G1 X10 E1 F600\nX20 E2\n", 2, 1, [3]float64{}, [3]float64{20, 0, 0}},
		{"commands with a point are skipped", "M862.3 P1 (text\nG28 W\nG28 XYZ\nG1 X10 E1 F600\n", 1, 1, [3]float64{}, [3]float64{10, 0, 0}},
		{"tape marks, byte order mark", "\ufeff%\nG1 X10 E1 F600\n%\n", 1, 1, [3]float64{}, [3]float64{10, 0, 0}},
		{"no line end", "G1 X10 E1 F600", 1, 1, [3]float64{}, [3]float64{10, 0, 0}},
		{"layers and a hop", "G1 Z.2 F600\nG1 X9 E1\nG1 Z.4\nG1 X0 E2\nG1 Z5\nG0 X5\nG1 Z.4\nG1 X9 E3\n", 3, 2, [3]float64{0, 0, .2}, [3]float64{9, 0, .4}},
		// Quarter turns about (0,0): from (10,0) to (0,10), counter-clockwise and clockwise.
		{"arc", "G0 X10 F600\nG3 X0 Y10 I-10 J0 E1\n", 1, 1, [3]float64{}, [3]float64{10, 10, 0}},
		{"arc the long way", "G0 X10 F600\nG2 X0 Y10 I-10 J0 E1\n", 1, 1, [3]float64{-10, -10, 0}, [3]float64{10, 10, 0}},
		{"arc by radius", "G0 X10 F600\nG3 X0 Y10 R10 E1\n", 1, 1, [3]float64{}, [3]float64{10, 10, 0}},
		{"arc by radius, long way", "G0 X10 F600\nG3 X0 Y10 R-10 E1\n", 1, 1, [3]float64{0, 0, 0}, [3]float64{20, 20, 0}},
		{"full circle", "G0 X10 F600\nG2 I-10 E1\n", 1, 1, [3]float64{-10, -10, 0}, [3]float64{10, 10, 0}},
		{"relative arc in inches", "G20\nG91\nG0 X1 F20\nG3 X-1 Y1 I-1 E.5\n", 12.7, 1, [3]float64{}, [3]float64{25.4, 25.4, 0}},
		{"helix", "G0 X10 F600\nG3 X-10 Y0 Z4 I-10 E1\n", 1, 0, [3]float64{-10, 0, 0}, [3]float64{10, 10, 4}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			r := read(t, c.text)
			near(t, "filament", r.Filament, c.filament, tol)
			if r.Layers != c.layers {
				t.Errorf("layers: got %d, want %d", r.Layers, c.layers)
			}
			for i := range 3 {
				near(t, "min", r.Min[i], c.min[i], tol)
				near(t, "max", r.Max[i], c.max[i], tol)
			}
		})
	}
}

func TestRetractionLeftAtTheEnd(t *testing.T) {
	near(t, "retracted", read(t, "G1 X10 E5 F600\nG1 E3\n").Retracted, 2, tol)
}

// Times derived by hand from the closed form: v/a to start and stop, the rest at speed.
func TestTimes(t *testing.T) {
	const a = 1500.0
	line := func(l, v float64) float64 { return l/v + v/a } // long enough to reach v
	side := 20 - 0.45
	cases := []struct {
		name, text string
		want, tol  float64
	}{
		{"one line", "G1 X100 E1 F3000\n", line(100, 50), tol},
		{"inches", "G20\nG1 X4 E1 F120\n", line(101.6, 50.8), tol},
		{"collinear lines", "G1 X30 E1 F3000\nG1 X60 E2\nX100 E3\n", line(100, 50), tol},
		{"there and back", "G1 X100 E1 F3000\nG1 X0 E2\n", 2 * line(100, 50), tol},
		{"dwell", "G1 X100 E1 F3000\nG4 P500\nG4 S2\n", line(100, 50) + 2.5, tol},
		{"speed in percent", "M220 S200\nG1 X100 E1 F3000\n", line(100, 100), tol},
		{"retraction", "G1 X100 E10 F3000\nG1 E5 F1800\n", line(100, 50) + line(5, 30), tol},
		{"homing at travel speed", "G1 X100 E1 F3000\nG28\n", line(100, 50) + line(100, 100), tol},
		{"before the first F", "G1 X100 E1\n", line(100, 100), tol},
		{"waiting for heat stops the head", "G1 X50 E1 F3000\nM109 S200\nG1 X100 E2\n", 2 * line(50, 50), tol},
		// Outer loop of a 20 mm square in 0.45 mm lines at 50 mm/s: 1.666 s, as for package motion.
		{"square loop", fmt.Sprintf("M83\nG1 X%[1]g E1 F3000\nG1 Y%[1]g E1\nG1 X0 E1\nG1 Y0 E1\n", side), 1.666, 6e-4},
		// A full circle of radius 20 at 50 mm/s: the bend allows sqrt(1500*20) = 173.
		{"circle", "G3 I20 E1 F3000\n", line(2*math.Pi*20, 50), tol},
		// Radius 1: sqrt(1500*1) = 38.7 mm/s.
		{"tight circle", "G2 J1 E1 F6000\n", line(2*math.Pi, math.Sqrt(1500)), tol},
		{"line into its tangent arc and out", "G1 X50 E1 F3000\nG3 X70 Y20 J20 E2\nG1 Y70 E3\n", line(100+10*math.Pi, 50), tol},
		{"the same the other way", "G1 X50 E1 F3000\nG2 X70 Y-20 J-20 E2\nG1 Y-70 E3\n", line(100+10*math.Pi, 50), tol},
		{"helix", "G3 X0 Y0 Z3 I20 E1 F3000\n", line(math.Hypot(2*math.Pi*20, 3), 50), tol},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) { near(t, "seconds", read(t, c.text).Seconds, c.want, c.tol) })
	}
}

// Hand calculation: 1.17217 m of 1.75 mm filament are 2819.4064 mm3, 3.4961 g at 1.24 g/cm3; a metre
// is 2.405 cm3 and a metre of 1.27 g/cm3 weighs 1000/327.4 g (printed filament tables).
func TestMass(t *testing.T) {
	r := Result{Filament: 1172.17}
	near(t, "volume", r.Volume(1.75), 2819.4064, 0.05)
	near(t, "grams", r.Grams(1.75, 1.24), 3.4961, 1e-4)
	near(t, "a metre", Result{Filament: 1000}.Volume(1.75)/1000, 2.405, 5e-4)
	near(t, "metres a kilogram", 1000/Result{Filament: 1000}.Grams(1.75, 1.27), 327.4, 0.05)
}

func TestChecksum(t *testing.T) {
	// N3 T0*57 is the example of the community documentation, from memory.
	r := read(t, "N3 T0*57\nN4 G1 X10 E1 F600*81\n")
	near(t, "filament", r.Filament, 1, tol)
	read(t, "N1 M117 a*b*44\nG1 X10 E1 F600\n")
	for _, bad := range []string{"N3 T0*58\n", "N3 T0*\n", "N3 T0*5x\n", "N1 M117 a*b*41\n", "N4 G1 X11 E1 F600*81\n"} {
		refuse(t, bad, 1, "checksum")
	}
}

func refuse(t *testing.T, text string, line int, want string) {
	t.Helper()
	r, err := Read(strings.NewReader(text), bench)
	var e *LineError
	if !errors.As(err, &e) {
		t.Errorf("%q: got %v and %v, want a line error", clip([]byte(text)), r, err)
		return
	}
	if e.Line != line || !strings.Contains(e.Error(), want) {
		t.Errorf("%q: got %v, want line %d and %q", clip([]byte(text)), e, line, want)
	}
	if r.Filament != 0 || r.Seconds != 0 {
		t.Errorf("%q: totals beside an error: %v", clip([]byte(text)), r)
	}
}

func TestRefused(t *testing.T) {
	good := "G1 X10 E1 F600\n"
	for _, c := range []struct {
		text string
		line int
		want string
	}{
		{good + "G1 X10 Y\n", 2, "Y without a number"},
		{good + "G1 X10 E", 2, "E without a number"},
		{good + "G1 X-", 2, "number expected"},
		{good + "G", 2, "G without a number"},
		{good + good + "G1 X1.2.3\n", 3, `'.'`},
		{good + "G1 X1 X2\n", 2, "twice"},
		{good + "\x00\x01\x02\n", 2, "zero byte"},
		{good + "; comment\x00\n", 2, "zero byte"},
		{"\x89PNG\r\n\x1a\n", 1, "not G-code"},
		{good + "G1 X\xc3\xa9\n", 2, "not G-code"},
		{good + "G5 X10 Y10 E1\n", 2, "G5 is not understood"},
		{good + "G18\n", 2, "G18"},
		{good + "G92.1\n", 2, "G92.1"},
		{good + "M82.5\n", 2, "M82.5"},
		{good + "PURGE_LINE LENGTH=40\n", 2, `"PURGE_LINE" is a name`},
		{good + "G1 G2 X1\n", 2, "on one line"},
		{good + "G1 X1 M82\n", 2, "on one line"},
		{good + "T1\n", 2, "T1"},
		{good + "M98 P100\n", 2, "another file"},
		{good + "o100 sub\n", 2, "O"},
		{good + "G1 A10\n", 2, "word A"},
		{good + "G1 X10 I5\n", 2, "belong to arcs"},
		{good + "G1 X1 F0\n", 2, "feed rate"},
		{good + "G1 X1 F-5\n", 2, "feed rate"},
		{good + "G1 X1e5\n", 2, ""}, // E stands for itself: fine unless out of place; see below
		{good + "G1 X99999999\n", 2, "out of range"},
		{good + "G91\n" + strings.Repeat("G1 X9999999\n", 3), 3, "from zero"},
		{good + "G1 X" + strings.Repeat("1", 400) + "\n", 2, "digits"},
		{good + "G4 P-1\n", 2, "G4"},
		{good + "G4 S1000000\n", 2, "G4"},
		{good + "G92 E\n", 2, "G92"},
		{good + "G2 X20\n", 2, "needs I and J"},
		{good + "G2 X20 I0 J0\n", 2, "radius zero"},
		{good + "G2 X20 I5 R5\n", 2, "either"},
		{good + "G2 X20 Y0 I50\n", 2, "from its centre"},
		{good + "G2 X20 R2\n", 2, "too short"},
		{good + "G2 R5\n", 2, "full circle"},
		{good + "G2 I5 P3\n", 2, "P on an arc"},
		{good + "M221 S0\n", 2, "percent"},
		{good + "M200 D99\n", 2, "diameter"},
		{good + "(open\n", 2, "not closed"},
		{"X10 E1\n", 1, "without a command"},
		{"version https://example.org/spec/v1\n", 1, ""},
		{"solid cube\n facet normal 0 0 1\n", 1, ""},
		{strings.Repeat("A", 3<<20), 1, "longer than"},
		{"; " + strings.Repeat("A", 3<<20), 1, "longer than"},
	} {
		if c.text == good+"G1 X1e5\n" {
			near(t, "X1e5 is X1 E5", read(t, c.text).Filament, 5, tol)
			continue
		}
		refuse(t, c.text, c.line, c.want)
	}
	for _, text := range []string{"", "\n\n", "; nothing\n", "G28\nG1 X10 F600\n", "G1 E-5 F600\n", "M104 S200\n"} {
		if r, err := Read(strings.NewReader(text), bench); !errors.Is(err, ErrNoFilament) {
			t.Errorf("%q: got %v, %v, want ErrNoFilament", text, r, err)
		}
	}
}

// Many heights must not fill the memory.
func TestTooManyHeights(t *testing.T) {
	var b strings.Builder
	b.WriteString("M83\nG91\nG1 F600\n")
	for range mostHeights + 1 {
		b.WriteString("G0 Z.01\nG1 X.1 E1\n")
	}
	refuse(t, b.String(), 3+2*(mostHeights+1), "different heights")
}

func TestCutOff(t *testing.T) {
	for text, want := range map[string]int{
		"G1 X10 E1 F600\nG1 X20 E2": 2, "G1 X10 E1 F600\nG1 X20 E2\n": 0,
		"G1 X10 E1 F600\nM84": 0, "G1 X10 E1 F600\n; end": 0,
	} {
		if got := read(t, text).CutOff; got != want {
			t.Errorf("%q: cut off %d, want %d", text, got, want)
		}
	}
}

type brokenReader struct{ n int }

func (b *brokenReader) Read(p []byte) (int, error) {
	if b.n == 0 {
		return 0, errors.New("disk on fire")
	}
	b.n--
	return copy(p, "G1 X10 E1 F600\n"), nil
}

type slowReader struct{}

func (slowReader) Read([]byte) (int, error) { return 0, nil }

func TestReaderThatFails(t *testing.T) {
	r, err := Read(&brokenReader{n: 3}, bench)
	if err == nil || !strings.Contains(err.Error(), "disk on fire") || r.Filament != 0 {
		t.Errorf("got %v, %v", r, err)
	}
	if _, err := Read(slowReader{}, bench); err == nil {
		t.Error("a reader that gives nothing must not hang")
	}
}

// One byte at a time, and lines across chunks: the same result.
func TestChunks(t *testing.T) {
	var b strings.Builder
	b.WriteString("M83\n")
	for i := range 20_000 {
		fmt.Fprintf(&b, "G1 X%d Y%d E0.5 F1200 ; pad\n", i%100, i%7)
	}
	whole := read(t, b.String())
	r, err := Read(oneByte{strings.NewReader(b.String())}, bench)
	if err != nil || fmt.Sprint(r) != fmt.Sprint(whole) {
		t.Errorf("one byte at a time: %v, %v; at once %v", r, err, whole)
	}
	near(t, "filament", whole.Filament, 10_000, 1e-6)
	if whole.Lines != 20_001 {
		t.Errorf("lines: %d", whole.Lines)
	}
}

type oneByte struct{ r *strings.Reader }

func (o oneByte) Read(p []byte) (int, error) { return o.r.Read(p[:1]) }

func TestSkippedAreCounted(t *testing.T) {
	r := read(t, "M104 S200\nM106 S255\nM106 S0\nG29\nG1 X1 E1 F60\nM84\n")
	if got, want := fmt.Sprint(r.Skipped), "[{G29 1} {M84 1} {M104 1} {M106 2}]"; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
}
