package board

import (
	"encoding/json"
	"errors"
	"math"
	"os"
	"slices"
	"strings"
	"testing"

	"dropwright/bundle/finding"
)

func TestBuiltinProfilesAreWhole(t *testing.T) {
	want := []string{"96boards-ce", "96boards-ce-extended", "96boards-ie", "mini-itx", "outline-51x23", "outline-68x53", "outline-86x55", "pc104"}
	if got := Builtin(); !slices.Equal(got, want) {
		t.Fatalf("built in: %v", got)
	}
	for _, id := range Builtin() {
		text, err := BuiltinText(id)
		if err != nil {
			t.Fatal(err)
		}
		p, found := Parse(id+".yaml", text)
		for _, f := range found {
			t.Errorf("%v: %s (%s)", f.At, f.Text, f.Hint)
		}
		if p.ID.S != id || p.Title.S == "" || len(p.Sources) == 0 || p.BasisAll.S == "" {
			t.Errorf("%s: id %q, title %q, %d sources, basis %q", id, p.ID.S, p.Title.S, len(p.Sources), p.BasisAll.S)
		}
		for _, pin := range p.Pins() {
			if pin.Rail != nil && pin.Rail.Role.S == "return" != (pin.Signal == "GND") {
				t.Errorf("%s %s: %s", id, pin, pin.Signal)
			}
		}
		if loop := p.Loop(); len(loop) < 4 || area(loop) <= 0 {
			t.Errorf("%s: outline of %d corners", id, len(loop))
		}
		a, err := json.Marshal(p)
		b, _ := json.Marshal(p)
		if err != nil || string(a) != string(b) || strings.Contains(string(a), `"At"`) || strings.Contains(string(a), "null") {
			t.Errorf("%s: JSON %v %s", id, err, a)
		}
	}
	if _, err := Load("96board-ce"); err == nil || !strings.Contains(err.Error(), "did you mean 96boards-ce?") {
		t.Errorf("unknown board: %v", err)
	}
	if _, err := Load("../profile"); err == nil {
		t.Error("a path was taken for a board")
	}
	a, _ := Load("pc104")
	if b, _ := Load("pc104"); a != b {
		t.Error("a profile is read twice")
	}
}

func area(loop []Point) float64 {
	twice := 0.0
	for i, p := range loop {
		q := loop[(i+1)%len(loop)]
		twice += p[0]*q[1] - q[0]*p[1]
	}
	return twice / 2
}

// Rounded corners take (4 - pi) r^2 / 4 each from a rectangle; chords take a little more.
func TestLoopArea(t *testing.T) {
	p := load(t, "outline-51x23")
	exact := 50.80*22.86 - (4-math.Pi)*2.54*2.54
	if got := area(p.Loop()); got > exact || exact-got > 0.02 {
		t.Errorf("area %v, exact %v", got, exact)
	}
	p = load(t, "outline-86x55")
	exact = 86.36*54.61 - (4-math.Pi)/4*(2*6.35*6.35+2*12.7*12.7)
	if got := area(p.Loop()); got > exact || exact-got > 0.5 {
		t.Errorf("area %v, exact %v", got, exact)
	}
	if got := area(load(t, "96boards-ce").Loop()); got != 85*54 {
		t.Errorf("area %v", got)
	}
}

const goodProfile = `profile: 1
id: relay-4
title: relay board
kind: accessory
outline: {length: 70, width: 50, thickness: 1.6}
mounts:
  - {id: M1, x: 3, y: 3, hole: 3.2, screw: M3}
  - {id: M2, x: 67, y: 3, hole: 3.2}
ports:
  - {id: usb, connector: usb-c, insertion: "+x", axis: {y: 25}, face: 0}
headers:
  - {id: in, rows: 1, columns: 4, pitch: 2.54, first: [10, 45], along: "+x", pins: {1: GND, 2: 5V, 3: IN1, 4: IN2}}
rails:
  - {id: 5V, role: input, volts: 5, amps: 0.3}
  - {id: GND, role: return}
  - {id: LOAD, role: output, volts: 230, ac: true, hazard: mains}
basis_default: measured
`

// Broken profiles: each differs from the good one in one place, and the finding points there.
func TestBrokenProfiles(t *testing.T) {
	if _, found := Parse("relay.yaml", []byte(goodProfile)); len(found) > 0 {
		t.Fatalf("the good one: %+v", found)
	}
	for _, c := range []struct {
		from, to, code, text, hint string
		line, column               int
	}{
		{"profile: 1", "profile: 2", "value-wrong", "expected format 1", "", 1, 10},
		{"id: relay-4", "id: Relay 4", "value-wrong", "name of a file", "", 2, 5},
		{"id: relay-4\n", "", "value-missing", `"id" is missing`, "add id", 1, 1},
		{"kind: accessory", "kind: accesory", "value-wrong", "expected one of", "did you mean accessory?", 4, 7},
		{"outline:", "outlines:", "key-unknown", `unknown key "outlines"`, "did you mean outline?", 5, 1},
		{"width: 50", "width: 5O", "value-wrong", "width", "", 5, 30},
		{"width: 50", "width: -50", "value-wrong", "not possible", "", 5, 30},
		{"width: 50, ", "", "value-missing", `"width" is missing`, "", 5, 10},
		{"thickness: 1.6", "thickness: 1,6", "key-unknown", `unknown key "6"`, "", 5, 47},
		{"{id: M2, x: 67", "{id: M2, x: 76", "value-wrong", "lies outside the outline of 70 x 50 mm", "lower left", 8, 17},
		{"id: M2", "id: M1", "name-twice", `mount "M1" is already there, in line 7`, "", 8, 10},
		{"screw: M3", "screw: M3x8", "value-wrong", "not a thread", "", 7, 44},
		{"connector: usb-c", "connector: usbc", "name-unknown", `"usbc"`, "did you mean usb-c?", 10, 26},
		{`insertion: "+x"`, `insertion: east`, "value-wrong", "insertion", "", 10, 44},
		{"4: IN2}", "9: IN2}", "value-wrong", "has pins 1 to 4, not 9", "", 12, 108},
		{"4: IN2}", "Z9: IN2}", "value-wrong", "has 4 pins in a row", "", 12, 108},
		{"4: IN2}", "4: IN2, 4: IN3}", "key-twice", "", "", 12, 116},
		{"id: in,", "id: in.1,", "value-wrong", "dot", "", 12, 10},
		{"first: [10, 45]", "first: [10]", "value-wrong", "expected two figures, found 1", "", 12, 0},
		{"role: return", "role: ground", "value-wrong", "expected one of input, output, return", "", 15, 0},
		{"id: LOAD", "id: 5V", "name-twice", `rail "5V"`, "", 16, 10},
		{"id: LOAD", "id: in", "name-twice", "is a rail and a header", "", 16, 10},
		{"amps: 0.3", "amps: -1", "value-wrong", "amps", "", 14, 0},
		{"volts: 5,", "volts: 5, volts_min: 9,", "value-wrong", "outside volts_min", "", 14, 0},
		{"hazard: mains", "hazard: main", "value-wrong", "hazard", "did you mean mains?", 16, 0},
		{"basis_default: measured", "basis_default: guessed", "value-wrong", "basis_default", "", 17, 16},
		{"rows: 1,", "rows: 1.5,", "value-wrong", "whole number", "", 12, 0},
	} {
		text := strings.Replace(goodProfile, c.from, c.to, 1)
		if text == goodProfile {
			t.Fatalf("%q is not in the good profile", c.from)
		}
		_, found := Parse("relay.yaml", []byte(text))
		i := slices.IndexFunc(found, func(f finding.Finding) bool {
			return f.Code == c.code && strings.Contains(f.Text, c.text) && strings.Contains(f.Hint, c.hint) && f.At.Line == c.line && (c.column == 0 || f.At.Column == c.column)
		})
		if i < 0 || found[i].Hint == "" || found[i].At.File != "relay.yaml" {
			t.Errorf("%q -> %q: want %s at %d:%d, found %+v", c.from, c.to, c.code, c.line, c.column, found)
		}
	}
	for _, text := range []string{"", "profile: [", "- a\n", "\xff\xfe", strings.Repeat("[", 5000)} {
		if _, found := Parse("x.yaml", []byte(text)); finding.Count(found, finding.Error) == 0 {
			t.Errorf("%q gives no finding", text[:min(len(text), 9)])
		}
	}
	many := goodProfile + "keepouts:\n" + strings.Repeat("  - {id: a, rect: [0, 0, 1, 1]}\n", most+1)
	if _, found := Parse("x.yaml", []byte(many)); !slices.ContainsFunc(found, func(f finding.Finding) bool { return strings.Contains(f.Text, "up to 400") }) {
		t.Error("an endless list was taken")
	}
	polygon := strings.Replace(goodProfile, "width: 50,", "width: 50, polygon: [[0, 0], [0, 50], [70, 50]],", 1)
	if _, found := Parse("x.yaml", []byte(polygon)); len(found) != 1 || !strings.Contains(found[0].Text, "counter-clockwise") {
		t.Errorf("clockwise outline: %+v", found)
	}
}

func TestResolve(t *testing.T) {
	ce := load(t, "96boards-ce")
	for path, want := range map[string]struct {
		rail string
		pins string
	}{
		"GND": {"GND", "low-speed.1 low-speed.2 low-speed.39 low-speed.40"}, "5V": {"5V", "low-speed.37"}, "low-speed.37": {"5V", "low-speed.37"},
		"low-speed.23": {"", "low-speed.23"}, "UART0_TxD": {"", "low-speed.5"}, "USB": {"USB", ""}, "SYS_DCIN": {"SYS_DCIN", ""}, "high-speed.1": {"", "high-speed.1"},
	} {
		got, err := ce.Resolve(path)
		rail, pins := "", []string{}
		if got.Rail != nil {
			rail = got.Rail.ID.S
		}
		for _, p := range got.Pins {
			pins = append(pins, p.String())
		}
		if err != nil || rail != want.rail || strings.Join(pins, " ") != want.pins {
			t.Errorf("%s: %q %v, %v", path, rail, pins, err)
		}
	}
	if got, _ := ce.Resolve("high-speed.1"); got.Pins[0].Signal != "" {
		t.Error("the profile does not say what is on high-speed.1")
	}
	if _, ok := (Target{}).Exact(); ok {
		t.Error("nothing is exact")
	}
	for path, hint := range map[string]string{
		"5v5": "did you mean 5V?", "low-sped.3": "did you mean low-speed?", "low-speed.41": "2 rows of 20", "low-speed": "low-speed.1", "": "rails: SYS_DCIN",
		"low-speed.x": "counted from 1", "high-speed.61": "2 rows of 30", "gizmo.1": "headers: low-speed", "low-speed.000000001": "2 rows",
	} {
		_, err := ce.Resolve(path)
		var u *UnknownPin
		if !errors.As(err, &u) || !strings.Contains(u.Hint, hint) {
			t.Errorf("%q: %v, hint %q", path, err, u)
		}
	}
	pc := load(t, "pc104")
	if got, err := pc.Resolve("J2.c0"); err != nil || got.Rail == nil || got.Rail.ID.S != "GND" {
		t.Errorf("J2.c0: %+v %v", got, err)
	}
	if _, err := pc.Resolve("J1.B0"); err == nil {
		t.Error("J1 counts from 1")
	}
	if got, err := pc.Resolve("+5V"); err != nil || len(got.Pins) != 3 {
		t.Errorf("+5V: %+v %v", got, err)
	}
}

func TestHeights(t *testing.T) {
	p := load(t, "96boards-ce")
	for _, c := range []struct {
		x, y   float64
		bottom bool
		want   float64
		basis  string
	}{
		{60, 5, false, 7, "scaled"},    // USB-A, inside the connector strip of 6.5
		{10, 10, false, 6.5, "scaled"}, // connector strip
		{30, 30, false, 4, "scaled"},   // hatched area
		{60, 44, false, 6.5, "scaled"}, // DC jack reaches over the hatched area
		{80, 50, false, 7, "stated"},   // no zone: the board's limit
		{30, 30, true, 3.4, "stated"},
	} {
		if got := p.HeightAt(c.x, c.y, c.bottom); !got.Given || got.MM != c.want || got.Basis != c.basis {
			t.Errorf("%v, %v: %+v, want %v %s", c.x, c.y, got, c.want, c.basis)
		}
	}
	if got := load(t, "outline-68x53").HeightAt(10, 10, false); got.Given {
		t.Errorf("nobody says how high: %+v", got)
	}
}

func TestPaths(t *testing.T) {
	ce := load(t, "96boards-ce")
	paths := ce.Paths(ce.PortOf("usb-host-1"))
	if len(paths) != 2 || paths[0].Family != "usb-a" || paths[1].Family != "usb-c" {
		t.Fatalf("%+v", paths)
	}
	a := paths[0]
	if a.Face != [3]float64{76, -0.8, 3.34} || a.Out != [3]float64{0, -1, 0} || a.Across != [3]float64{1, 0, 0} || a.Plug.Width != 16 || a.Plug.Height != 8 || a.Length != 25 {
		t.Errorf("%+v", a)
	}
	if len(a.Missing) != 0 || !slices.ContainsFunc(a.Weak, func(s string) bool { return strings.Contains(s, "plug: from memory") }) {
		t.Errorf("missing %v, weak %v", a.Missing, a.Weak)
	}
	if c := paths[1]; c.Setback != 0.5 || c.SetbackRelaxed != 2 || c.Shell.Width != 10 {
		t.Errorf("%+v", c)
	}
	for _, id := range []string{"96boards-ce", "96boards-ce-extended", "outline-68x53", "outline-86x55"} {
		p := load(t, id)
		for i := range p.Ports {
			for _, path := range p.Paths(&p.Ports[i]) {
				if len(path.Missing) > 0 {
					t.Errorf("%s %s as %s: %v is not known", id, p.Ports[i].ID.S, path.Family, path.Missing)
				}
			}
		}
	}
	// A connector under the board: z = -thickness - height of its axis.
	b := load(t, "outline-86x55")
	if got := b.Paths(b.PortOf("display"))[0]; math.Abs(got.Face[2]-(-1.575-1.55)) > 1e-12 || got.Out != [3]float64{1, 0, 0} {
		t.Errorf("%+v", got)
	}
	m := load(t, "mini-itx")
	if got := m.Paths(&m.Ports[0])[0]; !slices.Equal(got.Missing, []string{"axis.x", "face", "axis.z"}) || !got.Plug.Known() {
		t.Errorf("%+v", got)
	}
	f := load(t, "outline-51x23")
	if got := f.Paths(f.PortOf("battery"))[0]; !slices.Contains(got.Missing, "plug size") {
		t.Errorf("%+v", got)
	}
}

func FuzzParse(f *testing.F) {
	f.Add(goodProfile)
	for _, id := range Builtin() {
		text, err := BuiltinText(id)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(string(text))
	}
	if text, err := os.ReadFile("profiles/connectors.yaml"); err == nil {
		f.Add(string(text))
	}
	f.Fuzz(func(t *testing.T, text string) {
		p, found := Parse("x.yaml", []byte(text))
		if p == nil {
			if len(found) == 0 {
				t.Error("no profile and no finding")
			}
			return
		}
		p.Loop()
		p.Turned180(0.1)
		p.HeightAt(1, 1, true)
		for i := range p.Ports {
			p.Paths(&p.Ports[i])
		}
		for _, pin := range p.Pins() {
			pin.Header.PinAt(pin.Name)
		}
		_, _ = p.Resolve("GND")
		_, _ = p.Resolve("a.1")
		if _, err := json.Marshal(p); err != nil {
			t.Error(err)
		}
	})
}
