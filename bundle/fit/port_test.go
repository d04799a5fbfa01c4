package fit

import (
	"math"
	"slices"
	"testing"

	"dropwright/bundle/board"
	"dropwright/bundle/facts"
	"dropwright/bundle/mesh"
)

// wallWith is a wall 60 x 40, from y -2 to 0, with an opening of the given outline (x, z; counter-clockwise seen
// from outside), as four sides of prisms: each edge of the opening is joined to the border.
func wallWith(hole [][2]float64) *mesh.Mesh {
	m := &mesh.Mesh{}
	n := len(hole)
	const hx, hz = 30.0, 20.0
	put := func(x, y, z float64) uint32 {
		m.Vertices = append(m.Vertices, [3]float32{float32(x), float32(y), float32(z)})
		return uint32(len(m.Vertices) - 1)
	}
	border := func(p [2]float64) [2]float64 {
		s := max(math.Abs(p[0])/hx, math.Abs(p[1])/hz)
		return [2]float64{p[0] / s, p[1] / s}
	}
	var in, out [2][]uint32
	for k, y := range [2]float64{-2, 0} {
		for _, p := range hole {
			b := border(p)
			in[k] = append(in[k], put(p[0], y, p[1]))
			out[k] = append(out[k], put(b[0], y, b[1]))
		}
	}
	quad := func(a, b, c, d uint32) {
		m.Triangles = append(m.Triangles, [3]uint32{a, b, c}, [3]uint32{a, c, d})
	}
	for i := range n {
		j := (i + 1) % n
		quad(in[0][i], in[0][j], in[1][j], in[1][i])
		quad(out[0][i], out[1][i], out[1][j], out[0][j])
		quad(in[0][i], out[0][i], out[0][j], in[0][j])
		quad(in[1][i], in[1][j], out[1][j], out[1][i])
	}
	return m
}

func circle(d float64, n int) [][2]float64 {
	var out [][2]float64
	for i := range n {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / float64(n))
		out = append(out, [2]float64{d / 2 * cos, d / 2 * sin})
	}
	return out
}

func rect(w, h float64) [][2]float64 {
	return [][2]float64{{w / 2, -h / 2}, {w / 2, h / 2}, {-w / 2, h / 2}, {-w / 2, -h / 2}}
}

// stadium is two half circles of n chords each, joined by straight lines.
func stadium(w, h float64, n int) [][2]float64 {
	var out [][2]float64
	for side := range 2 {
		for i := range n + 1 {
			sin, cos := math.Sincos(-math.Pi/2 + math.Pi*(float64(i)/float64(n)+float64(side)))
			cx := (w - h) / 2
			if side == 1 {
				cx = -cx
			}
			out = append(out, [2]float64{cx + h/2*cos, h / 2 * sin})
		}
	}
	return out
}

// through measures sections through a wall, from 1 mm inside outwards.
func through(m *mesh.Mesh, o ...outline2) []passage {
	s := &scene{}
	s.add(true, m, newGrid(m), rigid{m: [3]vec{{1}, {0, 1}, {0, 0, 1}}})
	return s.pass(way{face: vec{0, 1, 0}, along: 1, across: 0, up: 2, sign: -1, length: 25}, o...)
}

// Closed forms of plane geometry for openings in a wall, to 0.002 mm.
func TestPassageClosedForms(t *testing.T) {
	const tol = 0.002
	for _, c := range []struct {
		name      string
		hole      [][2]float64
		o         outline2
		low, high float64
	}{
		// A rectangle a x b centred in a circle D of N chords: D/2 cos(pi/N) .. D/2, less half the diagonal.
		{"4.6 square in a hole of 7", circle(7, 32), outline2{w: 4.6, h: 4.6}, 3.5*math.Cos(math.Pi/32) - 4.6/math.Sqrt2, 3.5 - 4.6/math.Sqrt2},
		{"the same in a rounder one", circle(7, 256), outline2{w: 4.6, h: 4.6}, 3.5 - 4.6/math.Sqrt2 - 0.0003, 3.5 - 4.6/math.Sqrt2},
		{"rectangle in rectangle", rect(15.5, 6.6), outline2{w: 14, h: 4.6}, 0.75, 0.75},
		{"another", rect(16.5, 14), outline2{w: 16, h: 13.5}, 0.25, 0.25},
		{"circle in circle", circle(13, 512), outline2{r: 5}, 6.5*math.Cos(math.Pi/512) - 5, 1.5},
		{"circle in rectangle", rect(13, 12.5), outline2{r: 5}, 1.25, 1.25},
		// 8.4 x 2.6 in a stadium 9.6 x 3.6: the corner (4.2, 1.3) against the arc of 1.8 about 3.0: 1.8 - hypot(1.2, 1.3).
		{"8.4 x 2.6 in a stadium", stadium(9.6, 3.6, 256), outline2{w: 8.4, h: 2.6}, 1.8 - math.Hypot(1.2, 1.3) - 0.0002, 1.8 - math.Hypot(1.2, 1.3)},
	} {
		g := through(wallWith(c.hole), c.o)[0]
		if g.clearance < c.low-tol || g.clearance > c.high+tol || g.meets || g.blocked != 0 {
			t.Errorf("%s: clearance %.4f, want %.4f to %.4f; meets %v, blocked %v", c.name, g.clearance, c.low, c.high, g.meets, g.blocked)
		}
	}
	// Deliberately wrong inputs: too large, touching, beside the opening.
	g := through(wallWith(rect(15.5, 6.6)), outline2{w: 16, h: 6}, outline2{w: 15.5, h: 6.6}, outline2{w: 14, h: 4})
	if want := 2 * 0.25 * 6 / 96; !g[0].meets || g[0].clearance != 0 || math.Abs(g[0].blocked-want) > 0.005 || math.Abs(g[0].deep-3) > 1e-6 {
		t.Errorf("too large: %+v, want blocked %.4f", g[0], want)
	}
	if g[1].meets || g[1].clearance > 1e-6 || g[1].blocked != 0 {
		t.Errorf("touching is not blocked: %+v", g[1])
	}
	if g[2].meets || math.Abs(g[2].travel[0]-0.75) > 1e-6 || math.Abs(g[2].travel[3]-1.3) > 1e-6 || math.Abs(g[2].open[1]-7.75) > 1e-6 {
		t.Errorf("ways: %+v", g[2])
	}
	// A notch that is open at the top: 14 wide for a plug of 14 x 16.
	notch := mesh.Join(mesh.Transform(mesh.Box(20, 2, 40), mesh.Shift(-27, -2, -10)), mesh.Transform(mesh.Box(20, 2, 40), mesh.Shift(7, -2, -10)), mesh.Transform(mesh.Box(54, 2, 5), mesh.Shift(-27, -2, -15)))
	g = through(notch, outline2{w: 14, h: 16})
	if g[0].clearance > 1e-6 || g[0].blocked != 0 || g[0].travel[0] != 0 || !math.IsInf(g[0].travel[3], 1) || math.Abs(g[0].travel[2]-2) > 1e-6 {
		t.Errorf("notch: %+v", g[0])
	}
	// A solid wall covers all of it.
	g = through(mesh.Transform(mesh.Box(60, 2, 40), mesh.Shift(-30, -2, -20)), outline2{w: 14, h: 16}, outline2{r: 5})
	if g[0].blocked != 1 || g[1].blocked != 1 || g[0].open[0] != 0 {
		t.Errorf("solid wall: %+v", g)
	}
}

const socket = `profile: 1
id: socket
title: board with one socket
outline: {length: 40, width: 30, thickness: 1.6}
ports: [{id: usb, connector: usb-c, required: true, side: top, insertion: "+y", axis: {x: 20}, face: 0}]
basis_default: measured
sources: [{id: S1, title: measured with a caliper}]
`

// The verdicts for a USB-C receptacle: plug body 12.35 x 6.5, shell opening 10 x 4, set-back 0.5 by one source
// and 2.0 by another (table of connectors).
func TestPortVerdicts(t *testing.T) {
	p := own(t, socket)
	for _, c := range []struct {
		name     string
		w, h     float64
		gap      float64 // from the receptacle's face to the inner face of a wall of 2
		want     string
		deep     float64
		openLeft float64
	}{
		{"wide", 13, 7, 1, facts.PortFree, 0, 6.5},
		{"as large as the plug", 12.4, 6.6, 1, facts.PortTight, 0, 6.2},
		{"small, wall flush with the face", 10.2, 4.2, -1.8, facts.PortTight, 0.2, 5.1},
		{"small, within the looser set-back", 10.2, 4.2, -0.2, facts.PortTight, 1.8, 5.1},
		{"small, too far back", 10.2, 4.2, 1, facts.PortBlocked, 3, 5.1},
		{"too small for the shell", 9.8, 4.2, -1.8, facts.PortBlocked, 0.2, 4.9},
	} {
		wall := mesh.Transform(wallWith(rect(c.w, c.h)), mesh.Shift(20, -c.gap, 1.63))
		s := &scene{}
		s.add(true, wall, newGrid(wall), rigid{m: [3]vec{{1}, {0, 1}, {0, 0, 1}}})
		f := s.port(p.Paths(&p.Ports[0])[0])
		deep := 0.0
		if f.Setback != nil {
			deep = *f.Setback
		}
		if f.Verdict != c.want || math.Abs(deep-c.deep) > 1e-3 || math.Abs(*f.Opening.Left-c.openLeft) > 1e-3 {
			t.Errorf("%s: %s (set-back %v, opening %v), want %s (%v, %v)", c.name, f.Verdict, deep, *f.Opening.Left, c.want, c.deep, c.openLeft)
		}
	}
	// What the profile does not know is never a pass.
	q := own(t, `{profile: 1, id: x, title: x, outline: {length: 40, width: 30, thickness: 1.6}, ports: [{id: usb, connector: usb-c, insertion: "+y", axis: {x: 20}}]}`)
	if f := (&scene{}).port(q.Paths(&q.Ports[0])[0]); f.Verdict != facts.PortUnknown || len(f.Missing) == 0 {
		t.Errorf("without a face: %+v", f)
	}
}

// The pairs of the Consumer Edition: 19.4 between the two hosts and 15.0 to the third socket leave room
// (16 + 0 and (10.6 + 16) / 2 = 13.3); two such sockets 13 apart do not.
func TestCrowdedPlugs(t *testing.T) {
	if c := crowded(profileOf(t, "96boards-ce")); len(c) > 0 {
		t.Errorf("the standard's own sockets: %+v", c)
	}
	p := own(t, `{profile: 1, id: x, title: x, outline: {length: 60, width: 30, thickness: 1.6}, ports: [
  {id: a, connector: usb-a, insertion: "+y", axis: {x: 20}, face: 0}, {id: b, connector: usb-a, insertion: "+y", axis: {x: 33}, face: 0}]}`)
	if c := crowded(p); len(c) != 1 || c[0].Overlap != 3 {
		t.Errorf("16 wide, 13 apart: %+v", c)
	}
}

func FuzzSeat(f *testing.F) {
	for _, id := range board.Builtin() {
		text, _ := board.BuiltinText(id)
		f.Add(text)
	}
	f.Add([]byte(relay))
	m := plate(70, 50, [][2]float64{{13, 13}, {57, 13}, {13, 37}, {57, 37}})
	in := seatIn(f, m, nil)
	f.Fuzz(func(t *testing.T, text []byte) {
		p, found := board.Parse("own.yaml", text)
		if p == nil || len(found) > 0 {
			return
		}
		in := in
		in.Profile = p
		SeatOf(in)
	})
}

func TestPinConstants(t *testing.T) {
	got := PinConstants("// pins\r\n#define SERVO_PIN 23 // orange\n#define TWICE (SERVO_PIN * 2)\nconstexpr uint8_t lampPin{5};\nstatic const int A = 0x11;\nFAN = \"GPIO17\"  # fan\nif (x == 3) {\n")
	want := []facts.PinConstant{{Line: 2, Name: "SERVO_PIN", Value: "23"}, {Line: 4, Name: "lampPin", Value: "5"}, {Line: 5, Name: "A", Value: "0x11"}, {Line: 6, Name: "FAN", Value: "GPIO17"}}
	if !slices.Equal(got, want) {
		t.Errorf("%+v", got)
	}
}

func FuzzPinConstants(f *testing.F) {
	f.Add("#define SERVO_PIN 23\nconst int x = 4;\nFAN = 'GPIO1'\n")
	f.Fuzz(func(t *testing.T, text string) {
		if n := len(PinConstants(text)); n > mostConstants {
			t.Errorf("%d constants", n)
		}
	})
}
