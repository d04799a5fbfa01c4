package measure

import (
	"io/fs"
	"math"
	"slices"
	"strings"

	"dropwright/bundle/design"
	"dropwright/bundle/facts"
	"dropwright/bundle/fit"
	"dropwright/bundle/mesh"
	"dropwright/bundle/section"
)

// seats works out where boards and fans sit and what their wires go to; nil for a design without any of them.
// shapes holds the holes of meshes where the joints wanted them.
func seats(fsys fs.FS, d *design.Design, shapes *shapes, opt Options) *facts.Boards {
	w := &seatWork{fsys: fsys, d: d, opt: opt, solids: map[string]*solid{},
		profiles: fit.NewProfiles(d.File, func(name string) ([]byte, error) { return readAll(fsys, name, MaxText) })}
	var jobs []func()
	for _, name := range d.VariantNames() {
		v, _ := d.Variant(name)
		for _, b := range v.BoardList() {
			w.out.Seats = append(w.out.Seats, facts.Seat{Variant: name, Board: string(b.Name.V), Profile: string(b.Profile.V), Part: string(b.SitsIn.V), State: facts.SeatUnknown})
			w.profiles.Profile(string(b.Profile.V))
		}
		w.fans(name)
	}
	w.out.Wires = w.profiles.Wires(d)
	if f := string(d.PinsIn.V); f != "" {
		if text, err := readAll(fsys, f, MaxText); err == nil { // that it is missing is said of the file
			w.out.Pins = fit.PinConstants(string(text))
		}
	}
	w.read(shapes)
	i := 0
	for _, name := range d.VariantNames() {
		v, _ := d.Variant(name)
		for _, b := range v.BoardList() {
			s := &w.out.Seats[i]
			jobs = append(jobs, func() { w.seat(s, b) })
			i++
		}
	}
	for k := range w.out.Fans {
		f := &w.out.Fans[k]
		jobs = append(jobs, func() { w.fan(f) })
	}
	run(jobs, opt.Workers)
	if len(w.out.Seats)+len(w.out.Fans)+len(w.out.Wires) == 0 {
		return nil
	}
	w.out.Profiles = w.profiles.Facts()
	return &w.out
}

// seatWork is one design's boards while they are worked out.
type seatWork struct {
	fsys     fs.FS
	d        *design.Design
	opt      Options
	solids   map[string]*solid // by mesh file
	profiles *fit.Profiles
	out      facts.Boards
}

// solid is a mesh with its holes.
type solid struct {
	mesh   *mesh.Mesh
	census *section.Census
	wrong  string // why there is no census
}

// meshOf is the mesh file of a part in a variant, "" when there is none.
func (w *seatWork) meshOf(part, variant string) string {
	p, ok := w.d.Part(part)
	if !ok || !p.Only.Has(variant) {
		return ""
	}
	m, _ := p.Mesh.For(variant)
	return string(m.V)
}

// read reads the meshes that boards and fans sit in, and those placed beside a board.
func (w *seatWork) read(shapes *shapes) {
	wanted := map[string]bool{} // file -> its holes are wanted too
	for i := range w.out.Seats {
		s := &w.out.Seats[i]
		if s.Mesh = w.meshOf(s.Part, s.Variant); s.Mesh == "" || w.profiles.Profile(s.Profile) == nil {
			continue
		}
		wanted[s.Mesh] = true
		for _, o := range w.beside(s) {
			if _, ok := wanted[o.file]; !ok {
				wanted[o.file] = false
			}
		}
	}
	for i := range w.out.Fans {
		f := &w.out.Fans[i]
		if f.Mesh = w.meshOf(f.Part, f.Variant); f.Mesh != "" {
			wanted[f.Mesh] = true
		}
	}
	var names []string
	for n := range wanted {
		names = append(names, n)
	}
	slices.Sort(names)
	list := make([]solid, len(names))
	var jobs []func()
	for i, n := range names {
		jobs = append(jobs, func() { list[i] = w.solid(n, wanted[n], shapes) })
	}
	run(jobs, w.opt.Workers)
	for i, n := range names {
		w.solids[n] = &list[i]
	}
}

// solid reads one mesh. One that is open or inside out has holes nobody can rely on.
func (w *seatWork) solid(name string, holes bool, shapes *shapes) solid {
	f, m := meshAndSolid(w.fsys, name, Options{})
	switch {
	case m == nil || len(m.Triangles) == 0:
		return solid{wrong: "its mesh cannot be read"}
	case f.Watertight == nil || !*f.Watertight:
		return solid{wrong: "its mesh is open"}
	case f.InsideOut != nil && *f.InsideOut:
		return solid{wrong: "its mesh is inside out"}
	}
	out := solid{mesh: m}
	if !holes {
		return out
	}
	if s := shapes.byFile[name]; s != nil {
		out.census = &s.Census
		return out
	}
	c, err := section.Holes(m, section.Options{})
	if err != nil {
		return solid{wrong: "its holes could not be measured"}
	}
	out.census = &c
	return out
}

// seat works out one board.
func (w *seatWork) seat(s *facts.Seat, b design.BoardUse) {
	p, solid := w.profiles.Profile(s.Profile), w.solids[s.Mesh]
	miss := func(text string) { s.Missing = append(s.Missing, text) }
	switch {
	case p == nil:
		miss("the profile cannot be read")
		return
	case s.Part == "":
		miss("the part it sits in is not named (sits_in)")
		return
	case solid == nil:
		miss("there is no mesh of " + s.Part)
		return
	case solid.census == nil:
		miss(s.Part + ": " + solid.wrong)
		return
	}
	in := fit.SeatInput{Profile: p, Census: solid.census, Mesh: solid.mesh, Raise: w.raise(s), Typed: b.Seat}
	var placed []string
	for _, o := range w.beside(s) {
		if x := w.solids[o.file]; x != nil && x.mesh != nil {
			in.Others = append(in.Others, fit.Placed{Name: o.part, Mesh: x.mesh, Move: o.move})
			if !slices.Contains(placed, o.part) {
				placed = append(placed, o.part)
			}
		}
	}
	got := fit.SeatOf(in)
	got.Variant, got.Board, got.Profile, got.Part, got.Mesh = s.Variant, s.Board, s.Profile, s.Part, s.Mesh
	got.OtherPart = placed
	for _, q := range w.d.PartsOf(s.Variant) {
		if n := string(q.Name.V); n != s.Part && built(q) && !slices.Contains(placed, n) {
			got.Unplaced = append(got.Unplaced, n)
		}
	}
	*s = got
}

// built tells that a part belongs to the finished thing.
func built(p design.Part) bool { return p.Role.V == "" || p.Role.V == "part" }

// raise is the length of the standoffs between a board and its part: those that the board's screws go into.
func (w *seatWork) raise(s *facts.Seat) float64 {
	for _, f := range w.d.Fasteners {
		through := slices.ContainsFunc(f.Through, func(n design.Val[design.Name]) bool { return string(n.V) == s.Board })
		if !f.Only.Has(s.Variant) || !through {
			continue
		}
		g, ok := w.d.Fastener(string(f.Into.Target.V))
		if !ok || !g.Standoff.Set() || string(g.Into.Part().V) != s.Part {
			continue
		}
		if text, ok := g.Designation(s.Variant); ok {
			if x, err := fit.StandoffOf(string(text.V), string(g.Ends.V)); err == nil {
				return x.Length
			}
		}
	}
	return 0
}

// neighbour is a placed copy of another part, in the frame of the part that a board sits in.
type neighbour struct {
	part, file string
	move       mesh.Matrix
}

// beside lists the other parts of a seat's variant whose place is known. Both parts must be placed, the board's
// own once; meshes that share one frame are placed as they are.
func (w *seatWork) beside(s *facts.Seat) []neighbour {
	host, ok := w.d.Part(s.Part)
	if !ok {
		return nil
	}
	shared := string(w.d.Frame.V) == "assembled"
	back := mesh.Identity
	if !shared {
		if len(host.Place) != 1 {
			return nil
		}
		back = inverse(placement(host.Place[0]))
	}
	var out []neighbour
	for _, p := range w.d.PartsOf(s.Variant) {
		file := w.meshOf(string(p.Name.V), s.Variant)
		if string(p.Name.V) == s.Part || file == "" || !built(p) {
			continue
		}
		if shared {
			out = append(out, neighbour{string(p.Name.V), file, mesh.Identity})
		}
		for _, at := range p.Place {
			if !shared {
				out = append(out, neighbour{string(p.Name.V), file, placement(at).Then(back)})
			}
		}
	}
	return out
}

// placement is the motion of a placed copy: turned about x, y and z, in that order, then shifted.
func placement(p design.Placement) mesh.Matrix {
	m := mesh.Identity
	for k, a := range p.Turn {
		if k > 2 {
			break
		}
		sin, cos := math.Sincos(float64(a.V) * math.Pi / 180)
		if math.Mod(float64(a.V), 90) == 0 { // exact at quarter turns
			sin, cos = math.Round(sin), math.Round(cos)
		}
		i, j := (k+1)%3, (k+2)%3
		r := mesh.Matrix{}
		r[k][k] = 1
		r[i][i], r[i][j], r[j][i], r[j][j] = cos, -sin, sin, cos
		m = m.Then(r)
	}
	if len(p.At) == 3 {
		m = m.Then(mesh.Shift(float64(p.At[0].V), float64(p.At[1].V), float64(p.At[2].V)))
	}
	return m
}

// inverse of a rigid motion.
func inverse(m mesh.Matrix) mesh.Matrix {
	var out mesh.Matrix
	for i := range 3 {
		for k := range 3 {
			out[i][k] = m[k][i]
			out[i][3] -= m[k][i] * m[k][3]
		}
	}
	return out
}

// fans lists the square fans of a variant with the part that each is screwed to: the one that a fastener holds
// together with it.
func (w *seatWork) fans(variant string) {
	for _, b := range w.d.Bought {
		if !b.Only.Has(variant) || !strings.Contains(strings.ToLower(string(b.Name.V)+" "+string(b.What.V)), "fan") || !b.Size.Length.Set() || b.Size.Length.V != b.Size.Width.V {
			continue
		}
		f := facts.FanSeat{Variant: variant, Fan: string(b.Name.V), Frame: float64(b.Size.Length.V)}
		for _, j := range w.d.Fasteners {
			names := []string{string(j.Into.Part().V)}
			with := false
			for _, t := range j.Through {
				with = with || t.V == b.Name.V
				names = append(names, string(t.V))
			}
			for _, n := range names {
				if _, ok := w.d.Part(n); ok && with && j.Only.Has(variant) && f.Part == "" {
					f.Part = n
				}
			}
		}
		if f.Part == "" {
			f.Missing = append(f.Missing, "the part it sits on: no fastener goes through it and a part")
		}
		w.out.Fans = append(w.out.Fans, f)
	}
}

// fan works out one fan.
func (w *seatWork) fan(f *facts.FanSeat) {
	if f.Part == "" {
		return
	}
	x := w.solids[f.Mesh]
	if x == nil || x.census == nil {
		wrong := "no mesh of it"
		if x != nil {
			wrong = x.wrong
		}
		f.Missing = append(f.Missing, f.Part+": "+wrong)
		return
	}
	got := fit.FanIn(x.census, f.Frame)
	got.Variant, got.Fan, got.Part, got.Mesh = f.Variant, f.Fan, f.Part, f.Mesh
	*f = got
}
