package board

import (
	"math"
	"slices"
	"strings"
	"testing"
)

const (
	inch = 25.4   // mm, exactly
	mil  = 0.0254 // mm
	// tolPublished: profiles and publications print hundredths of a millimetre.
	tolPublished = 0.006
)

func load(t *testing.T, id string) *Profile {
	t.Helper()
	p, err := Load(id)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// same tells whether two sets of points are the same within tolPublished, in any order.
func same(a, b []Point) bool {
	near := func(p Point, list []Point) bool {
		return slices.ContainsFunc(list, func(q Point) bool { return math.Hypot(p[0]-q[0], p[1]-q[1]) <= tolPublished })
	}
	for _, p := range a {
		if !near(p, b) {
			return false
		}
	}
	for _, p := range b {
		if !near(p, a) {
			return false
		}
	}
	return len(a) == len(b)
}

// Holes of each board by two publications that do not copy one another.
func TestHolesAgainstPublishedFigures(t *testing.T) {
	for _, c := range []struct {
		id, source string
		holes      []Point
	}{
		{"96boards-ce", "Consumer Edition 1.0, p. 24", []Point{{4, 18.5}, {81, 18.5}, {4, 50}, {81, 50}}},
		// The template has its origin at the board's; it prints the holes as 77 apart along x and 31.5 along y.
		{"96boards-ce", "mezzanine template and sensors mezzanine", []Point{{4, 50 - 31.5}, {4 + 77, 50 - 31.5}, {4, 50}, {4 + 77, 50}}},
		{"96boards-ce-extended", "Consumer Edition 1.0, p. 26", []Point{{4, 18.5}, {81, 18.5}, {4, 50}, {81, 50}, {4, 96}, {81, 96}}},
		{"96boards-ie", "IoT Edition template", []Point{{4, 4}, {56, 4}, {56, 26}, {4, 26}}},
		// PC/104 2.6 Figure 3, whose zero is the lower right corner.
		{"pc104", "PC/104 2.6, Figure 3", []Point{{95.89 - 5.08, 5.08}, {95.89 - 5.08, 85.09}, {95.89 - 90.81, 8.89}, {95.89 - 90.81, 82.55}}},
		// Four open layouts: pairs 73.66 and 80.01 apart, 85.73 between the pairs, 0.2 in from the edges.
		{"pc104", "four open layouts", []Point{{90.81, 0.2 * inch}, {90.81, 0.2*inch + 80.01}, {90.81 - 85.73, 0.35 * inch}, {90.81 - 85.73, 0.35*inch + 73.66}}},
		// Chain of inches, geekscomputer.blogspot.com: 0.4 rear to C, 0.9 C to F, 6.1 C to H, 6.2 H to J, 0.25 J to the edge.
		{"mini-itx", "chain in inches", []Point{{0.25 * inch, 1.3 * inch}, {0.25 * inch, 6.5 * inch}, {6.45 * inch, 0.4 * inch}, {6.45 * inch, 6.5 * inch}}},
		{"outline-86x55", "production drill file, in mil", []Point{{575 * mil, 125 * mil}, {3175 * mil, 250 * mil}, {575 * mil, 2025 * mil}, {3175 * mil, 1900 * mil}}},
		{"outline-51x23", "specification: 0.9 x 2.0 in, holes 0.1 in from each edge", []Point{{0.1 * inch, 0.1 * inch}, {0.1 * inch, 0.8 * inch}, {1.9 * inch, 0.1 * inch}, {1.9 * inch, 0.8 * inch}}},
		{"outline-68x53", "project template, in mil", []Point{{550 * mil, 100 * mil}, {600 * mil, 2000 * mil}, {2600 * mil, 300 * mil}, {2600 * mil, 1400 * mil}}},
	} {
		if got := load(t, c.id).MountPoints(); !same(got, c.holes) {
			t.Errorf("%s: %v, %s has %v", c.id, got, c.source, c.holes)
		}
	}
	// The other way round: a mirrored PC/104 is not a PC/104, and neither is one turned by 180 degrees.
	p := load(t, "pc104")
	var mirrored, turned []Point
	for _, m := range p.MountPoints() {
		mirrored = append(mirrored, Point{95.89 - m[0], m[1]})
		turned = append(turned, Point{95.89 - m[0], 90.17 - m[1]})
	}
	if same(mirrored, p.MountPoints()) || same(turned, p.MountPoints()) || p.Turned180(1) {
		t.Error("PC/104 holes must not meet when mirrored or turned")
	}
}

func TestOutlinesAgainstPublishedFigures(t *testing.T) {
	for _, c := range []struct {
		id            string
		length, width float64
		thickness     float64
	}{
		{"96boards-ce", 85, 54, 0.062 * inch}, // p. 5; 62 mil, p. 6; board size 54 x 85 in a published manual
		{"96boards-ce-extended", 85, 100, 0.062 * inch},
		{"96boards-ie", 60, 30, 0},
		{"pc104", 3.775 * inch, 3.550 * inch, 0.062 * inch}, // Fig. 3
		{"mini-itx", 170, 170, 0},
		{"outline-86x55", 3.4 * inch, 2.15 * inch, 0.062 * inch},
		{"outline-51x23", 2.0 * inch, 0.9 * inch, 0},
		{"outline-68x53", 2.7 * inch, 2.1 * inch, 1.6},
	} {
		o := load(t, c.id).Outline
		if math.Abs(o.Length.MM-c.length) > tolPublished || math.Abs(o.Width.MM-c.width) > tolPublished || math.Abs(o.Thickness.MM-c.thickness) > tolPublished {
			t.Errorf("%s: %v x %v x %v, published %v x %v x %v", c.id, o.Length.MM, o.Width.MM, o.Thickness.MM, c.length, c.width, c.thickness)
		}
	}
}

// Headers of the Consumer Edition: the standard gives the first column (x 10.00) and the centre line, the
// mezzanine template the centres (29, 50) and (32.75, 15.45).
func TestHeadersAgainstTemplate(t *testing.T) {
	p := load(t, "96boards-ce")
	low := p.HeaderOf("low-speed")
	x1, y1, ok1 := low.PinAt("1")
	x2, y2, ok2 := low.PinAt("40")
	if !ok1 || !ok2 || math.Abs((x1+x2)/2-29) > 0.001 || math.Abs((y1+y2)/2-50) > 0.001 {
		t.Errorf("low-speed header from %v, %v to %v, %v; template centre 29, 50", x1, y1, x2, y2)
	}
	high := p.HeaderOf("high-speed")
	if centre := high.Pin1X.MM + high.Pitch.MM*(high.Columns.V-1)/2; math.Abs(centre-32.75) > 0.001 || high.CentreLineY.MM != 15.45 {
		t.Errorf("high-speed header centre %v, %v; template 32.75, 15.45", centre, high.CentreLineY.MM)
	}
	if x, y, _ := p.HeaderOf("low-speed").PinAt("37"); x != 46 || y != 49 {
		t.Errorf("pin 37 at %v, %v", x, y)
	}
	if _, _, ok := low.PinAt("41"); ok {
		t.Error("there is no pin 41")
	}
	// The strips of the 51 x 23 outline are 0.8 in apart (layout and public footprint).
	f := load(t, "outline-51x23")
	_, a, _ := f.HeaderOf("JP1").PinAt("1")
	_, b, _ := f.HeaderOf("JP3").PinAt("1")
	if math.Abs(b-a-0.8*inch) > 0.001 {
		t.Errorf("strips %v mm apart", b-a)
	}
}

// Supply pins: the standard, p. 16. Signals: two published lists that agree.
func TestPinsAgainstPublishedLists(t *testing.T) {
	published := strings.Fields(`GND GND UART0_CTS PWR_BTN_N UART0_TxD RST_BTN_N UART0_RxD SPI0_SCLK UART0_RTS SPI0_DIN
		UART1_TxD SPI0_CS UART1_RxD SPI0_DOUT I2C0_SCL PCM_FS I2C0_SDA PCM_CLK I2C1_SCL PCM_DO I2C1_SDA PCM_DI
		GPIO-A GPIO-B GPIO-C GPIO-D GPIO-E GPIO-F GPIO-G GPIO-H GPIO-I GPIO-J GPIO-K GPIO-L +1V8 SYS_DCIN +5V SYS_DCIN GND GND`)
	rename := map[string]string{"+1V8": "1V8", "+5V": "5V", "SYS_DCIN": "SYS_DCIN-out"}
	for _, id := range []string{"96boards-ce", "96boards-ce-extended"} {
		pins := load(t, id).Pins()
		if len(pins) != 40 {
			t.Fatalf("%s: %d pins", id, len(pins))
		}
		for i, want := range published {
			if r, ok := rename[want]; ok {
				want = r
			}
			if pins[i].Signal != want {
				t.Errorf("%s pin %s: %q, published %q", id, pins[i].Name, pins[i].Signal, want)
			}
		}
	}
	// Limits: 7 W, 5 W, 0.18 W and 0.1 A (p. 9 and p. 19); 100 mA and 5 W in a published manual.
	p := load(t, "96boards-ce")
	if r := p.RailOf("1V8"); r.Amps.V != 0.1 || r.Watts.V != 0.18 || math.Abs(r.Volts.V*r.Amps.V-r.Watts.V) > 1e-9 {
		t.Errorf("1V8: %+v", r)
	}
	if r := p.RailOf("5V"); r.Watts.V != 5 || r.Basis.Of("amps") != "derived" {
		t.Errorf("5V: %+v", r)
	}
	if r := p.RailOf("SYS_DCIN-out"); r.Watts.V != 7 {
		t.Errorf("SYS_DCIN: %+v", r)
	}
	// PC/104 2.6 Table 1: most a module draws, each +-5 %.
	for id, want := range map[string][2]float64{"+12V": {12, 1}, "+5V": {5, 2}, "-5V": {-5, 0.2}, "-12V": {-12, 0.3}} {
		r := load(t, "pc104").RailOf(id)
		if r == nil || r.Volts.V != want[0] || r.Amps.V != want[1] || math.Abs(r.VoltsMax.V-r.VoltsMin.V-math.Abs(want[0])*0.1) > 1e-9 {
			t.Errorf("pc104 %s: %+v", id, r)
		}
	}
	if got, err := load(t, "pc104").Resolve("J1.B9"); err != nil || got.Rail.ID.S != "+12V" {
		t.Errorf("J1.B9: %+v, %v", got, err)
	}
}

// Plug bodies and openings: Type-C R2.0 and Micro-USB 1.01 limits, USB 1.1 Figure 6-7 (series A mouth),
// EIAJ list.
func TestConnectorsAgainstPublishedFigures(t *testing.T) {
	for _, c := range []struct {
		id            string
		width, height float64
	}{{"usb-c", 12.35, 6.50}, {"usb-micro-b", 10.6, 8.5}} {
		f, ok := FamilyOf(c.id)
		if !ok || f.Plug.Width.MM != c.width || f.Plug.Height.MM != c.height || f.Basis.Of("plug") != "standard" {
			t.Errorf("%s: %+v", c.id, f)
		}
	}
	a, _ := FamilyOf("usb-a")
	if w, h, _ := a.Mouth.Pair(); w != 12.5 || h != 5.12 {
		t.Errorf("usb-a mouth %v x %v", w, h)
	}
	e, _ := FamilyOf("dc-eiaj-3")
	if e.Barrel.Outer.MM != 4.75 || e.Barrel.Inner.MM != 1.7 || e.Jack.Hole.MM != 5.15 || e.Jack.Polarity.S != "centre-positive" || !WeakBasis(e.plug().Basis) {
		t.Errorf("dc-eiaj-3: %+v", e)
	}
	for _, id := range Families() {
		f, _ := FamilyOf(id)
		for _, s := range f.Sources {
			if !slices.ContainsFunc(ConnectorSources(), func(x Source) bool { return x.ID.S == s.S }) {
				t.Errorf("%s: source %q is not listed", id, s.S)
			}
		}
		if len(f.Sources) == 0 || f.Basis.IsZero() {
			t.Errorf("%s has no source or basis", id)
		}
		for _, e := range f.Basis.Each {
			if BasisWords(e.Value.S) == "" {
				t.Errorf("%s: basis %q", id, e.Value.S)
			}
		}
	}
	// Neighbours on the Consumer Edition: 19.4 and 15.0 apart, so plugs of 16 and 10.6 do not touch.
	p := load(t, "96boards-ce")
	x := func(id string) float64 { return p.PortOf(id).Axis.X.MM }
	if d := x("usb-host-1") - x("usb-host-2"); math.Abs(d-19.4) > 1e-9 {
		t.Errorf("USB-A pair %v apart", d)
	}
	if d := x("usb-host-2") - x("usb-3"); math.Abs(d-15) > 1e-9 {
		t.Errorf("third port %v apart", d)
	}
}
