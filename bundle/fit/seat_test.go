package fit

import (
	"fmt"
	"math"
	"os"
	"slices"
	"strings"
	"testing"

	"dropwright/bundle/board"
	"dropwright/bundle/design"
	"dropwright/bundle/facts"
	"dropwright/bundle/mesh"
	"dropwright/bundle/mesh/stl"
	"dropwright/bundle/section"
	"dropwright/bundle/unit"
)

// demoMesh reads a mesh of the demo season.
func demoMesh(t testing.TB, name string) *mesh.Mesh {
	t.Helper()
	data, err := os.ReadFile("../../examples/allotment-instruments/designs/" + name)
	if err != nil {
		t.Fatal(err)
	}
	res, err := stl.Survey(data)
	if err != nil {
		t.Fatal(err)
	}
	return res.Mesh
}

func profileOf(t testing.TB, id string) *board.Profile {
	t.Helper()
	p, err := board.Load(id)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func seatIn(t testing.TB, m *mesh.Mesh, p *board.Profile) SeatInput {
	t.Helper()
	c, err := section.Holes(m, section.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return SeatInput{Profile: p, Census: &c, Mesh: m}
}

const (
	caseCE    = "vent-minder/meshes/case-ce.stl"
	caseStack = "vent-minder/meshes/case-stack.stl"
)

// seatMove is a turn about z by quarter turns, about x and y by half turns, and a shift.
func seatMove(quarters int, over [2]bool, shift vec) mesh.Matrix {
	sin, cos := sincos(float64(quarters) * 90)
	t := mesh.Matrix{{cos, -sin, 0, 0}, {sin, cos, 0, 0}, {0, 0, 1, 0}}
	if over[0] {
		t = t.Then(mesh.Matrix{{1, 0, 0, 0}, {0, -1, 0, 0}, {0, 0, -1, 0}})
	}
	if over[1] { // open side to +y
		t = t.Then(mesh.Matrix{{1, 0, 0, 0}, {0, 0, 1, 0}, {0, -1, 0, 0}})
	}
	return t.Then(mesh.Shift(shift[0], shift[1], shift[2]))
}

// The places come from the maker of the demo's meshes: x and y are the boards' own, posts are 7 and 11.5 high on
// a floor of 2.4, boards 1.575 and 1.57 thick.
func TestSeatsOfTheDemo(t *testing.T) {
	for _, c := range []struct {
		file, profile string
		at            vec
	}{{caseCE, "96boards-ce", vec{0, 0, 10.975}}, {caseStack, "pc104", vec{0, 0, 15.47}}} {
		m, p := demoMesh(t, c.file), profileOf(t, c.profile)
		for quarters := range 4 {
			for _, over := range [][2]bool{{}, {true, false}, {false, true}} {
				for _, shift := range []vec{{}, {-113.7, 41.3, 12}} {
					name := fmt.Sprintf("%s turned %d over %v by %v", c.profile, quarters, over, shift)
					move := seatMove(quarters, over, shift)
					got := SeatOf(seatIn(t, mesh.Transform(m, move), p))
					if got.State != facts.SeatFound || got.Pose == nil {
						t.Fatalf("%s: %s %+v", name, got.State, got.Nearest)
					}
					if got.Residual > 0.05 || len(got.Others) > 0 || got.Face != "up" || !got.Turned {
						t.Errorf("%s: residual %v, others %v, face %s, turned %v", name, got.Residual, got.Others, got.Face, got.Turned)
					}
					if want := move.Apply(c.at); distance(got.At, want) > 0.01 {
						t.Errorf("%s: at %v, want %v", name, got.At, want)
					}
					if !over[0] && !over[1] && math.Abs(got.Turn-float64(quarters)*90) > 1e-9 {
						t.Errorf("%s: turn %v", name, got.Turn)
					}
					for _, f := range got.Ports {
						if f.Verdict != facts.PortFree {
							t.Errorf("%s: %s %s is %s", name, f.ID, f.Connector, f.Verdict)
						}
					}
					for _, s := range got.Mounts {
						if !s.Met || s.Support < 5 {
							t.Errorf("%s: %+v", name, s)
						}
					}
					for _, k := range got.Keepouts {
						if k.Hit != nil && !k.Antenna {
							t.Errorf("%s: keepout %s is hit at %v", name, k.ID, k.Hit.At)
						}
					}
					if got.Inside || *got.Gap < 0.999 || *got.Gap > 1.001 || got.Above.Short != nil || got.Below.Short != nil {
						t.Errorf("%s: gap %v, above %+v, below %+v", name, *got.Gap, got.Above, got.Below)
					}
				}
			}
		}
		// The mirror image is refused, in whichever plane it is mirrored, however it is turned.
		for quarters := range 4 {
			got := SeatOf(seatIn(t, mesh.Transform(mesh.Mirror(m), seatMove(quarters, [2]bool{}, vec{7, 8, 9})), p))
			if got.State != facts.SeatMirrored || got.Pose != nil {
				t.Errorf("%s mirrored, turned %d: %s", c.profile, quarters, got.State)
			}
		}
	}
}

// The figures of the demo's ports, from its maker: half a millimetre beside the plugs of the card and of the
// first host, 0.68 below the plug of the small connector, a supply opening 13 wide for a plug of 10.
func TestPortsOfTheDemo(t *testing.T) {
	got := SeatOf(seatIn(t, demoMesh(t, caseCE), profileOf(t, "96boards-ce")))
	want := map[string]float64{"microsd microsd": 0.5, "usb-host-1 usb-a": 0.5, "usb-3 usb-micro-b": 0.68, "dc-in dc-eiaj-3": 1.25, "display hdmi-a": 1.3}
	for _, f := range got.Ports {
		if w, ok := want[f.ID+" "+f.Connector]; ok {
			delete(want, f.ID+" "+f.Connector)
			if math.Abs(f.Clearance-w) > 0.002 {
				t.Errorf("%s %s: clearance %v, want %v", f.ID, f.Connector, f.Clearance, w)
			}
		}
	}
	if len(want) > 0 {
		t.Errorf("not judged: %v", want)
	}
}

// plate is a box with round posts that have holes in them, all pointing up.
func plate(x, y float64, posts [][2]float64) *mesh.Mesh {
	list := []*mesh.Mesh{mesh.Box(x, y, 3)}
	for _, p := range posts {
		// A tube with a floor: outer wall, top ring, bore of 4, closed below.
		tube := mesh.Lathe([][2]float64{{0, 0}, {3, 0}, {3, 6}, {1.1, 6}, {1.1, 2}, {0, 2}}, 48)
		list = append(list, mesh.Transform(tube, mesh.Shift(p[0], p[1], 3)))
	}
	return mesh.Join(list...)
}

func own(t testing.TB, text string) *board.Profile {
	t.Helper()
	p, found := board.Parse("own.yaml", []byte(text))
	if p == nil || len(found) > 0 {
		t.Fatalf("profile: %v", found)
	}
	return p
}

const relay = `profile: 1
id: relay
title: relay board
outline: {length: 50, width: 30, thickness: 1.6, tolerance: 0.2}
mounts: [{id: A, x: 3, y: 3, hole: 3.2, screw: M3}, {id: B, x: 47, y: 3, hole: 3.2, screw: M3}, {id: C, x: 3, y: 27, hole: 3.2, screw: M3}, {id: D, x: 47, y: 27, hole: 3.2, screw: M3}]
heights: {top: 15, bottom: 2}
`

func TestSeatCases(t *testing.T) {
	p := own(t, relay)
	posts := [][2]float64{{13, 13}, {57, 13}, {13, 37}, {57, 37}}
	moved := func(i int, dx, dy float64) [][2]float64 {
		out := slices.Clone(posts)
		out[i] = [2]float64{out[i][0] + dx, out[i][1] + dy}
		return out
	}

	t.Run("two seats fit a board whose pattern is symmetrical", func(t *testing.T) {
		got := SeatOf(seatIn(t, plate(70, 50, posts), p))
		if got.State != facts.SeatFound || len(got.Others) != 1 || math.Abs(math.Abs(got.Others[0].Turn-got.Turn)-180) > 1e-9 {
			t.Errorf("%s, others %+v", got.State, got.Others)
		}
		if got.At != (vec{10, 10, 10.6}) && got.At != (vec{60, 40, 10.6}) {
			t.Errorf("at %v", got.At)
		}
		if got.Turned {
			t.Error("turned by 180 degrees it meets the holes, so that is no trap")
		}
	})
	t.Run("a post is 2 mm off", func(t *testing.T) {
		got := SeatOf(seatIn(t, plate(70, 50, moved(3, 2, 0)), p))
		i := slices.IndexFunc(got.Mounts, func(m facts.SeatMount) bool { return !m.Met })
		if got.State != facts.SeatFound || i < 0 || got.Mounts[i].Off == nil || math.Abs(*got.Mounts[i].Off-2) > 0.01 {
			t.Errorf("%s %+v", got.State, got.Mounts)
		}
	})
	t.Run("a post is missing", func(t *testing.T) {
		got := SeatOf(seatIn(t, plate(70, 50, posts[:3]), p))
		i := slices.IndexFunc(got.Mounts, func(m facts.SeatMount) bool { return !m.Met })
		if got.State != facts.SeatFound || i < 0 || got.Mounts[i].Off != nil || got.Mounts[i].Support != 0 {
			t.Errorf("%s %+v", got.State, got.Mounts)
		}
	})
	t.Run("another board's posts", func(t *testing.T) {
		got := SeatOf(seatIn(t, plate(70, 50, [][2]float64{{13, 13}, {54, 13}, {13, 34}, {54, 34}}), p))
		if got.State != facts.SeatNone || got.Nearest == nil || got.Nearest.Of != 4 || got.Nearest.Off < 1 {
			t.Errorf("%s %+v", got.State, got.Nearest)
		}
	})
	t.Run("no holes at all", func(t *testing.T) {
		got := SeatOf(seatIn(t, mesh.Box(70, 50, 3), p))
		if got.State != facts.SeatNone || got.Nearest != nil {
			t.Errorf("%s %+v", got.State, got.Nearest)
		}
	})
	t.Run("a typed seat counts, and says what it misses", func(t *testing.T) {
		in := seatIn(t, plate(70, 50, posts), p)
		in.Typed = typedSeat(10, 11.5, 10.6, 0, "")
		got := SeatOf(in)
		if got.State != facts.SeatTyped || got.At != (vec{10, 11.5, 10.6}) || got.Found == nil || got.Mounts[0].Met || math.Abs(*got.Mounts[0].Off-1.5) > 1e-9 {
			t.Errorf("%s %+v %+v", got.State, got.Pose, got.Mounts)
		}
		in.Typed = typedSeat(10, 10, 10.6, 0, "up")
		if got := SeatOf(in); !got.Mounts[3].Met || *got.Mounts[3].Off != 0 || *got.Mounts[3].Lower != 0 {
			t.Errorf("%+v", got.Mounts)
		}
	})
	t.Run("component side down when the manifest says so", func(t *testing.T) {
		in := seatIn(t, plate(70, 50, posts), p)
		in.Typed.Face = design.Val[design.BoardFace]{V: "down"}
		got := SeatOf(in)
		if got.State != facts.SeatFound || got.Face != "down" || got.At[2] != 9 || got.Above.Short == nil {
			t.Errorf("%s %+v above %+v", got.State, got.Pose, got.Above)
		}
	})
	t.Run("standoffs lift the board", func(t *testing.T) {
		in := seatIn(t, plate(70, 50, posts), p)
		in.Raise = 10
		if got := SeatOf(in); got.At[2] != 20.6 || !got.Mounts[0].Met || got.Mounts[0].Support == 0 {
			t.Errorf("%+v %+v", got.Pose, got.Mounts)
		}
	})
	t.Run("without thickness nothing is judged along z", func(t *testing.T) {
		q := own(t, "profile: 1\nid: x\ntitle: x\noutline: {length: 50, width: 30}\nmounts: [{id: A, x: 3, y: 3, hole: 3.2}, {id: B, x: 47, y: 3, hole: 3.2}, {id: C, x: 3, y: 27, hole: 3.2}]\n")
		got := SeatOf(seatIn(t, plate(70, 50, posts[:3]), q))
		if got.State != facts.SeatFound || got.Above != nil || !slices.Contains(got.Missing, "outline.thickness unknown") {
			t.Errorf("%s %+v", got.State, got)
		}
	})
	t.Run("a wall too near, a rod through the board, a roof too low", func(t *testing.T) {
		wall := mesh.Transform(mesh.Box(2, 50, 20), mesh.Shift(60.1, 0, 0))
		in := seatIn(t, mesh.Join(plate(70, 50, posts), wall), p)
		in.Typed = typedSeat(10, 10, 10.6, 0, "")
		got := SeatOf(in)
		if got.Inside || math.Abs(*got.Gap-0.1) > 1e-3 || got.NeedGap != 0.4 || math.Abs(*got.Sides[1].Free-0.1) > 1e-3 || got.Sides[0].Free != nil {
			t.Errorf("gap %v of %v, sides %+v", *got.Gap, got.NeedGap, got.Sides)
		}
		rod := mesh.Transform(mesh.Box(3, 3, 30), mesh.Shift(30, 30, 0))
		in = seatIn(t, mesh.Join(plate(70, 50, posts), rod), p)
		in.Typed = typedSeat(10, 10, 10.6, 0, "")
		if got := SeatOf(in); !got.Inside || got.Above.Short == nil || got.Below.Short == nil {
			t.Errorf("inside %v, above %+v, below %+v", got.Inside, got.Above, got.Below)
		}
		in = seatIn(t, plate(70, 50, posts), p)
		in.Typed = typedSeat(10, 10, 10.6, 0, "")
		in.Others = []Placed{{Name: "lid", Mesh: mesh.Box(70, 50, 2), Move: mesh.Shift(0, 0, 20)}}
		if got := SeatOf(in); got.Above.Short == nil || math.Abs(got.Above.Short.Free-9.4) > 1e-3 || got.Above.Short.Need != 15 {
			t.Errorf("above %+v", got.Above)
		}
		block := mesh.Transform(mesh.Box(90, 90, 40), mesh.Shift(-10, -10, -10))
		in = seatIn(t, block, p)
		in.Typed = typedSeat(10, 10, 10.6, 0, "")
		if got := SeatOf(in); !got.Inside {
			t.Error("a board in the middle of a block is not seen")
		}
	})
	t.Run("the corner of a pocket is nearer than its walls", func(t *testing.T) {
		// geometry of a board's corner in a pocket with inner radius r and gap g < r: r - sqrt2 (r - g).
		const r, g = 1.6, 0.6
		arc := []vec{}
		for i := range 65 {
			a := math.Pi + math.Pi/2*float64(i)/64
			arc = append(arc, vec{r - g + r*math.Cos(a), r - g + r*math.Sin(a), 0})
		}
		best := math.Inf(1)
		for i := 1; i < len(arc); i++ {
			d, _ := toLoop([]vec{arc[i-1], arc[i]}, []board.Point{{0, 0}, {50, 0}, {50, 30}, {0, 30}})
			best = min(best, d)
		}
		if want := r - math.Sqrt2*(r-g); math.Abs(best-want) > 0.002 {
			t.Errorf("corner gap %v, want %v", best, want)
		}
	})
}

func typedSeat(x, y, z, turn float64, face string) design.Seat {
	v := func(f float64) design.Val[unit.Length] { return design.Val[unit.Length]{V: unit.Length(f)} }
	return design.Seat{At: []design.Val[unit.Length]{v(x), v(y), v(z)}, Turn: design.Val[unit.Angle]{V: unit.Angle(turn)}, Face: design.Val[design.BoardFace]{V: design.BoardFace(face)}}
}

// A profile with far too many mounts on a plate full of holes ends soon.
func TestSeatOfTooManyMounts(t *testing.T) {
	var text strings.Builder
	text.WriteString("profile: 1\nid: x\ntitle: x\noutline: {length: 90, width: 90, thickness: 1.6}\nmounts:\n")
	for i := range 400 {
		fmt.Fprintf(&text, "  - {id: M%d, x: %.1f, y: %.1f, hole: 2.5}\n", i, 2+float64(i%20)*4.3, 2+float64(i/20)*4.1)
	}
	var posts [][2]float64
	for i := range 36 {
		posts = append(posts, [2]float64{5 + float64(i%6)*13.1, 5 + float64(i/6)*12.7})
	}
	got := SeatOf(seatIn(t, plate(90, 90, posts), own(t, text.String())))
	if got.State != facts.SeatNone || len(got.Missing) == 0 {
		t.Errorf("%s, missing %q", got.State, got.Missing)
	}
}

// Any profile in any part: no panic, no endless search. Noise of holes must not make seats.
func TestSeatInPerforatedPlate(t *testing.T) {
	list := []*mesh.Mesh{}
	for i := range 12 {
		for j := range 12 {
			tube := mesh.Lathe([][2]float64{{0, 0}, {3, 0}, {3, 6}, {1.1, 6}, {1.1, 2}, {0, 2}}, 12)
			list = append(list, mesh.Transform(tube, mesh.Shift(float64(i)*7.3, float64(j)*7.9, 0)))
		}
	}
	m := mesh.Join(list...)
	for _, id := range board.Builtin() {
		p := profileOf(t, id)
		got := SeatOf(seatIn(t, m, p))
		t.Logf("%s: %s", id, got.State)
	}
}

func BenchmarkSeat(b *testing.B) {
	m, p := demoMesh(b, caseCE), profileOf(b, "96boards-ce")
	small := seatIn(b, m, p)
	b.Run("5k", func(b *testing.B) {
		for b.Loop() {
			SeatOf(small)
		}
	})
	dense := m
	for len(dense.Triangles) < 1_200_000 {
		dense = split(dense)
	}
	big := seatIn(b, dense, p)
	b.Run(fmt.Sprintf("%dk", len(dense.Triangles)/1000), func(b *testing.B) {
		for b.Loop() {
			SeatOf(big)
		}
	})
	b.Run("census", func(b *testing.B) {
		for b.Loop() {
			if _, err := section.Holes(dense, section.Options{}); err != nil {
				b.Fatal(err)
			}
		}
	})
}

// split divides every facet in four.
func split(m *mesh.Mesh) *mesh.Mesh {
	out := &mesh.Mesh{Vertices: slices.Clone(m.Vertices)}
	mids := map[[2]uint32]uint32{}
	mid := func(a, b uint32) uint32 {
		k := [2]uint32{min(a, b), max(a, b)}
		if i, ok := mids[k]; ok {
			return i
		}
		p, q := m.Vertices[a], m.Vertices[b]
		out.Vertices = append(out.Vertices, [3]float32{(p[0] + q[0]) / 2, (p[1] + q[1]) / 2, (p[2] + q[2]) / 2})
		mids[k] = uint32(len(out.Vertices) - 1)
		return mids[k]
	}
	for _, t := range m.Triangles {
		a, b, c := mid(t[0], t[1]), mid(t[1], t[2]), mid(t[2], t[0])
		out.Triangles = append(out.Triangles, [3]uint32{t[0], a, c}, [3]uint32{a, t[1], b}, [3]uint32{c, b, t[2]}, [3]uint32{a, b, c})
	}
	return out
}

// Every built-in board on posts under its mounts, the part turned by any angle and moved: the seat is found, or one
// of the seats where the pattern leaves several.
func TestEveryBoardOnItsPosts(t *testing.T) {
	for _, id := range board.Builtin() {
		p := profileOf(t, id)
		points := p.MountPoints()
		if len(points) < 3 {
			continue
		}
		var posts [][2]float64
		for _, q := range points {
			posts = append(posts, [2]float64{q[0] + 12, q[1] + 12})
		}
		part := plate(p.Outline.Length.MM+24, p.Outline.Width.MM+24, posts)
		for _, deg := range []float64{0, 17.3, 90, 211} {
			sin, cos := math.Sincos(deg * math.Pi / 180)
			move := mesh.Matrix{{cos, -sin, 0, 31}, {sin, cos, 0, -77}, {0, 0, 1, 4.5}}
			in := seatIn(t, mesh.Transform(part, move), p)
			got := SeatOf(in)
			if got.State != facts.SeatFound || got.Residual > 0.05 {
				t.Errorf("%s turned %v: %s %+v", id, deg, got.State, got.Pose)
				continue
			}
			top := 9 + p.Outline.Thickness.MM
			want := move.Apply(vec{12, 12, top})
			hit := false
			for _, q := range append(got.Others, *got.Pose) {
				hit = hit || distance(q.At, want) < 0.05
			}
			if !hit {
				t.Errorf("%s turned %v: at %v and %v, want %v", id, deg, got.At, got.Others, want)
			}
		}
	}
}

// A wall that belongs to another part whose place is known stands in a plug's way as well.
func TestPortThroughAnotherPart(t *testing.T) {
	p := own(t, `{profile: 1, id: x, title: x, outline: {length: 50, width: 30, thickness: 1.6}, basis_default: measured,
  mounts: [{id: A, x: 3, y: 3, hole: 3.2, screw: M3}, {id: B, x: 47, y: 3, hole: 3.2, screw: M3}, {id: C, x: 3, y: 27, hole: 3.2, screw: M3}, {id: D, x: 40, y: 27, hole: 3.2, screw: M3}],
  ports: [{id: usb, connector: usb-c, required: true, side: top, insertion: "+y", axis: {x: 25}, face: 0}]}`)
	lid := plate(70, 50, [][2]float64{{13, 13}, {57, 13}, {13, 37}, {50, 37}})
	in := seatIn(t, lid, p)
	verdict := func() string { return SeatOf(in).Ports[0].Verdict }
	if v := verdict(); v != facts.PortFree {
		t.Errorf("nothing before it: %s", v)
	}
	// The base stands on its head over the lid: turned about x, and its opening comes before the port.
	axis := vec{10 + 25, 10, 3 + 6 + 1.6 + 1.63}
	over := mesh.Matrix{{1, 0, 0, 0}, {0, -1, 0, 0}, {0, 0, -1, 0}}
	wall := mesh.Transform(wallWith(rect(13, 7)), mesh.Shift(0, 2, 0)) // y 0 to 2, so that turned it lies at -2 to 0
	in.Others = []Placed{{Name: "base", Mesh: wall, Move: over.Then(mesh.Shift(axis[0], axis[1]-1, axis[2]))}}
	if v := verdict(); v != facts.PortFree {
		t.Errorf("before the opening: %s", v)
	}
	in.Others[0].Move = over.Then(mesh.Shift(axis[0]+3, axis[1]-1, axis[2]))
	if v := verdict(); v != facts.PortBlocked {
		t.Errorf("the base shifted by 3: %s", v)
	}
}
