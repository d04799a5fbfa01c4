package board

import (
	"math"
)

// Point is a place on the board's plane, mm.
type Point [2]float64

// arcSteps is how many chords stand for a rounded corner: with radii up to 13 mm they keep within
// 0.007 mm of the arc, far below what can be printed.
const arcSteps = 24

// Loop is the outline as a closed loop of corners, counter-clockwise, the first not repeated. Rounded
// corners become chords inside the arc. It is nil when the size is not known.
func (p *Profile) Loop() []Point {
	o := p.Outline
	if len(o.Polygon) > 0 {
		var loop []Point
		for _, c := range o.Polygon {
			x, y, ok := c.Pair()
			if !ok {
				return nil
			}
			loop = append(loop, Point{x, y})
		}
		return loop
	}
	if !o.Length.Given || !o.Width.Given {
		return nil
	}
	l, w := o.Length.MM, o.Width.MM
	radius := func(own Length) float64 {
		if own.Given {
			return own.MM
		}
		return o.Corners.All.MM
	}
	var loop []Point
	corner := func(cx, cy, sx, sy, r, from float64) {
		if r == 0 {
			loop = append(loop, Point{cx, cy})
			return
		}
		for i := range arcSteps + 1 {
			a := from + math.Pi/2*float64(i)/arcSteps
			loop = append(loop, Point{cx + sx*r + r*math.Cos(a), cy + sy*r + r*math.Sin(a)})
		}
	}
	corner(0, 0, 1, 1, radius(o.Corners.LowerLeft), math.Pi)
	corner(l, 0, -1, 1, radius(o.Corners.LowerRight), 1.5*math.Pi)
	corner(l, w, -1, -1, radius(o.Corners.UpperRight), 0)
	corner(0, w, 1, -1, radius(o.Corners.UpperLeft), 0.5*math.Pi)
	return loop
}

// Limit is a height limit with the basis it is known by.
type Limit struct {
	MM    float64
	Basis string
	Given bool
}

// HeightAt is the tallest that parts may be over a point, on the top face or the underside: the largest
// limit of the zones that hold the point, else the limit of the whole board. Not Given where the
// profile says neither.
func (p *Profile) HeightAt(x, y float64, bottom bool) Limit {
	best := Limit{}
	for _, z := range p.Heights.Zones {
		x0, y0, x1, y1, ok := z.Rect.Rect()
		if (z.Side.S == "bottom") != bottom || !ok || !z.Max.Given || x < x0 || x > x1 || y < y0 || y > y1 {
			continue
		}
		if !best.Given || z.Max.MM > best.MM {
			best = Limit{MM: z.Max.MM, Basis: p.basisOr(z.Basis.Of("max"), "heights"), Given: true}
		}
	}
	if best.Given {
		return best
	}
	whole, key := p.Heights.Top, "heights.top"
	if bottom {
		whole, key = p.Heights.Bottom, "heights.bottom"
	}
	return Limit{MM: whole.MM, Basis: p.basisOr("", key), Given: whole.Given}
}

// basisOr is the entry's own word, else the profile's word for the path, else its default.
func (p *Profile) basisOr(own, path string) string {
	if own != "" {
		return own
	}
	if word := p.Basis.Of(path); word != "" {
		return word
	}
	return p.BasisAll.S
}

// BasisOf says how a figure of the profile is known, by its path ("mounts.screw", "outline.thickness").
func (p *Profile) BasisOf(path string) string { return p.basisOr("", path) }

// MountPoints are the centres of the mounts whose place is known, in the order of the file.
func (p *Profile) MountPoints() []Point {
	var list []Point
	for _, m := range p.Mounts {
		if m.X.Given && m.Y.Given {
			list = append(list, Point{m.X.MM, m.Y.MM})
		}
	}
	return list
}

// Turned180 tells whether the mounts meet again when the board is turned by 180 degrees about the
// middle of its outline, each within tolerance (mm): then holes alone cannot say which way it sits. It
// is false for a board without mounts.
func (p *Profile) Turned180(tolerance float64) bool {
	points := p.MountPoints()
	l, w := p.Outline.Length.MM, p.Outline.Width.MM
	for _, a := range points {
		met := false
		for _, b := range points {
			met = met || math.Hypot(l-a[0]-b[0], w-a[1]-b[1]) <= tolerance
		}
		if !met {
			return false
		}
	}
	return len(points) > 0
}

// Section is a cross-section of a plug or opening, mm: a rectangle, or a circle when Round is above 0.
type Section struct {
	Width, Height, Round float64
	Basis                string // how it is known
}

// Known tells whether the section has a size.
func (s Section) Known() bool { return s.Round > 0 || s.Width > 0 && s.Height > 0 }

// Size is the section's width and height; for a circle both are the diameter.
func (s Section) Size() (width, height float64) {
	if s.Round > 0 {
		return s.Round, s.Round
	}
	return s.Width, s.Height
}

// rigidLength is how far a plug is stiff behind its receptacle: common practice, no source.
const rigidLength = 25.0 // mm

// Path is the way a plug comes to a port, in the board's coordinates.
type Path struct {
	Port           *Port
	Family         string     // connector family it was worked out for
	Face           [3]float64 // point of the plug's axis in the mating plane
	Out            [3]float64 // unit vector away from the board: the plug lies on this side
	Across         [3]float64 // unit vector of the section's width
	Up             [3]float64 // unit vector of the section's height
	Plug           Section    // largest plug body
	Shell          Section    // smallest opening that may do, see Setback
	Setback        float64    // distance from face to outer wall up to which Shell is enough; 0 where unknown
	SetbackRelaxed float64    // the same by a less strict source; 0 where there is none
	Length         float64    // stiff length of the plug
	Missing        []string   // figures that are not known: the path cannot be judged while it holds any
	Weak           []string   // figures that a finding must own up to, each with how it is known
}

// vectors are the unit vectors of the six directions.
var vectors = map[string][3]float64{"+x": {1}, "-x": {-1}, "+y": {0, 1}, "-y": {0, -1}, "+z": {0, 0, 1}, "-z": {0, 0, -1}}

// Paths returns the plug paths of a port, one for its connector and one for each alternative.
func (p *Profile) Paths(port *Port) []Path {
	list := []Path{p.path(port, port.Connector.S)}
	for _, a := range port.Alternatives {
		list = append(list, p.path(port, a.S))
	}
	return list
}

// PortOf returns the port with the given id, nil when there is none.
func (p *Profile) PortOf(id string) *Port {
	for i := range p.Ports {
		if p.Ports[i].ID.S == id {
			return &p.Ports[i]
		}
	}
	return nil
}

func (p *Profile) path(port *Port, family string) Path {
	path := Path{Port: port, Family: family, Length: rigidLength, Up: [3]float64{0, 0, 1}}
	miss := func(what string) { path.Missing = append(path.Missing, what) }
	lean := func(what, basis string) {
		if WeakBasis(basis) {
			path.Weak = append(path.Weak, what+": "+BasisWords(basis))
		}
	}
	in, ok := vectors[port.Insertion.S]
	if !ok {
		miss("insertion")
		return path
	}
	for i := range in {
		path.Out[i] = -in[i] + 0 // + 0 turns -0 into 0
	}
	fam, _ := FamilyOf(family)
	if fam == nil {
		fam = &Family{}
	}
	along := 0
	for i := range in {
		if in[i] != 0 {
			along = i
		}
	}
	names := [3]string{"x", "y", "z"}
	for i, axis := range [3]Length{port.Axis.X, port.Axis.Y, port.Axis.Z} {
		switch {
		case i == along && !port.Face.Given:
			miss("face")
		case i == along:
			path.Face[i] = port.Face.MM
			lean("face", p.basisOr(port.Basis.Of("face"), "ports.face"))
		case axis.Given:
			path.Face[i] = axis.MM
			lean("axis."+names[i], p.basisOr(port.Basis.Of("axis."+names[i]), "ports.axis"))
		case i == 2 && fam.AxisZ.Given:
			path.Face[i] = fam.AxisZ.MM
			lean("axis.z", fam.Basis.Of("axis_z"))
			if port.Side.S == "bottom" {
				if !p.Outline.Thickness.Given {
					miss("outline.thickness")
				}
				path.Face[i] = -p.Outline.Thickness.MM - fam.AxisZ.MM
			}
		default:
			miss("axis." + names[i])
		}
	}
	switch along {
	case 0:
		path.Across = [3]float64{0, 1, 0}
	case 1:
		path.Across = [3]float64{1, 0, 0}
	default:
		path.Across, path.Up = [3]float64{1, 0, 0}, [3]float64{0, 1, 0}
	}
	path.Plug = sectionOf(port.Plug, p.basisOr(port.Basis.Of("plug"), "ports.plug"))
	if !path.Plug.Known() {
		path.Plug = fam.plug()
	}
	if !path.Plug.Known() && family == apertureFamily {
		path.Plug = sectionOf(port.Aperture, p.basisOr(port.Basis.Of("aperture"), "ports.aperture"))
	}
	if !path.Plug.Known() {
		miss("plug size")
	}
	if port.Plug.Length.Given {
		path.Length = port.Plug.Length.MM
	} else if fam.Plug.Length.Given {
		path.Length = fam.Plug.Length.MM
	}
	lean("plug", path.Plug.Basis)
	path.Shell = fam.shell()
	if path.Shell.Known() && fam.Setback.Given {
		path.Setback, path.SetbackRelaxed = fam.Setback.MM, fam.SetbackRelaxed.MM
	}
	return path
}

func sectionOf(b Body, basis string) Section {
	return Section{Width: b.Width.MM, Height: b.Height.MM, Round: b.Round.MM, Basis: basis}
}

// plug is the family's largest plug body. Its basis is the weakest of width and height.
func (f *Family) plug() Section {
	if f.PlugRound.Given {
		return Section{Round: f.PlugRound.MM, Basis: f.Basis.Of("plug_round")}
	}
	basis := f.Basis.Of("plug.width")
	if h := f.Basis.Of("plug.height"); h == "memory" || WeakBasis(h) && !WeakBasis(basis) {
		basis = h
	}
	return sectionOf(f.Plug, basis)
}

// shell is the smallest wall opening that a port may do with: the published one, else the receptacle's
// own mouth, through which every plug's shell has to pass.
func (f *Family) shell() Section {
	switch {
	case f.ShellRound.Given:
		return Section{Round: f.ShellRound.MM, Basis: f.Basis.Of("shell_opening_round")}
	case f.ShellOpening.Given(2):
		w, h, _ := f.ShellOpening.Pair()
		return Section{Width: w, Height: h, Basis: f.Basis.Of("shell_opening")}
	case f.MouthRound.Given:
		return Section{Round: f.MouthRound.MM, Basis: f.Basis.Of("mouth_round")}
	case f.Mouth.Given(2):
		w, h, _ := f.Mouth.Pair()
		return Section{Width: w, Height: h, Basis: f.Basis.Of("mouth")}
	}
	return Section{}
}
