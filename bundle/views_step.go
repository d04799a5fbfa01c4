package bundle

import (
	"fmt"
	"io/fs"
	"math"
	"strconv"

	"dropwright/bundle/design"
	"dropwright/bundle/facts"
	"dropwright/bundle/hardware"
	"dropwright/bundle/mesh"
	draw "dropwright/bundle/picture"
	"dropwright/bundle/sheet"
)

// stepScene is what a step's picture shows.
type stepScene struct {
	bodies []draw.Body // what was there first
	beside []draw.Body // what is added and has no known place
	legend *numbered
	placed int // printed parts and fasteners that are added and whose place is known
}

// step draws what a step adds to what is there: nil when it adds nothing whose place is known, or a printed part
// whose place is not.
func (v *views) step(i int) *sheet.Picture {
	s, err := v.stepScene(i)
	if err != nil || s == nil {
		return nil
	}
	l := s.legend.legend()
	return &sheet.Picture{File: v.path("step", strconv.Itoa(i)), Alt: string(v.k.Design.Assembly[i].Title.V) + ": " + l, Caption: l}
}

func (v *views) drawStep(i int) ([]byte, error) {
	s, err := v.stepScene(i)
	if err != nil {
		return nil, err
	}
	if s == nil {
		return nil, fmt.Errorf("picture of step %d: %w", i+1, fs.ErrNotExist)
	}
	all := s.bodies
	if len(all) > 1 {
		all = draw.Apart(s.bodies, draw.Explode(s.bodies, 0), v.lineWidth(s.bodies))
	}
	return render(append(all, draw.Beside(all, s.beside)...), sceneSize)
}

func (v *views) stepScene(i int) (*stepScene, error) {
	s := &stepScene{legend: &numbered{}}
	items, _ := v.k.Design.Tally(v.variant)
	for _, it := range items {
		before, now := 0, 0
		for _, u := range it.UsedIn {
			switch n := int(math.Ceil(u.Count)); {
			case u.Step < i:
				before += n
			case u.Step == i:
				now += n
			}
		}
		if before+now > maxDrawnBodies {
			return nil, nil
		}
		var err error
		switch it.Kind {
		case design.PartItem:
			var known bool
			if known, err = v.stepParts(s, it, before, now); err == nil && !known {
				return nil, nil
			}
		case design.FastenerItem:
			v.stepFasteners(s, it, before, now)
		case design.BoughtItem:
			v.stepBought(s, it, now)
		}
		if err != nil {
			return nil, err
		}
	}
	if s.placed == 0 {
		return nil, nil
	}
	return s, nil
}

// was makes a body one that was there: thin lines, and paler, so that what is added stands out in colour too.
func was(b draw.Body) draw.Body {
	b.Line, b.Keep, b.Colour = sceneLine*draw.Thin, true, b.Colour.Mix(draw.White, fadedShare)
	return b
}

// stepParts adds the copies of a part that are there and those that come; known is false when one that comes has no
// known place.
func (v *views) stepParts(s *stepScene, it design.Item, before, now int) (known bool, err error) {
	if before+now == 0 {
		return true, nil
	}
	p, ok := v.k.Design.Part(it.Base)
	if !ok {
		return true, nil
	}
	_, readable := v.meshFile(p)
	drawn, _ := p.CopiesOf(v.variant)
	mirrored := it.Name != it.Base
	for c := range before + now {
		k := c
		if mirrored {
			k += drawn
		}
		at, ok := v.place(p, k)
		if !ok || !readable {
			if c >= before {
				return false, nil
			}
			continue
		}
		b, err := v.body(p, mirrored, sceneLine)
		if err != nil {
			return false, err
		}
		b.Place = at
		if c < before {
			b = was(b)
		} else {
			b.Number = s.legend.number(partTitle(p), 1)
			s.placed++
		}
		s.bodies = append(s.bodies, b)
	}
	return true, nil
}

// stepFasteners adds screws, nuts and inserts where their joint is; those without a place lie beside.
func (v *views) stepFasteners(s *stepScene, it design.Item, before, now int) {
	if before+now == 0 {
		return
	}
	bodies := v.fastener(it, before+now)
	for c, b := range bodies {
		if c < before {
			s.bodies = append(s.bodies, was(b))
			continue
		}
		b.Line, b.Number = sceneLine, s.legend.number(it.Name, 1)
		s.bodies = append(s.bodies, b)
		s.placed++
	}
	if len(bodies) > 0 || now == 0 {
		return
	}
	if b, ok := v.loose(it); ok {
		b.Line = sceneLine
		for range min(now, maxBeside) {
			b.Number = s.legend.number(it.Name, 0)
			s.beside = append(s.beside, b)
		}
		s.legend.number(it.Name, now)
	}
}

// maxBeside is how many of a kind lie beside a scene; the legend says how many there are.
const maxBeside = 8

// stepBought lays bought things whose size is known beside the scene: nothing says where they go.
func (v *views) stepBought(s *stepScene, it design.Item, now int) {
	x, ok := v.k.Design.BoughtPart(it.Name)
	if !ok || now == 0 || x.Unit.Set() {
		return
	}
	var m *mesh.Mesh
	l, w, h, d := float64(x.Size.Length.V), float64(x.Size.Width.V), float64(x.Size.Height.V), float64(x.Size.Diameter.V)
	switch {
	case d > 0 && l > 0:
		m = mesh.Transform(draw.Ring(d, float64(x.Size.Bore.V), l, false), draw.Along([3]float64{}, [3]float64{0, 1, 0})) // a rod lies
	case d > 0 && h > 0:
		m = draw.Ring(d, float64(x.Size.Bore.V), h, false)
	case l > 0 && w > 0 && h > 0:
		m = mesh.Box(l, w, h)
	default:
		return
	}
	for range min(now, maxBeside) {
		s.beside = append(s.beside, draw.Body{Mesh: m, Colour: bought, Line: sceneLine, Number: s.legend.number(it.Name, 0)})
	}
	s.legend.number(it.Name, now)
}

// fastener is the solids of an item of a fastener entry where they sit; none when their place is not known.
func (v *views) fastener(it design.Item, count int) []draw.Body {
	switch it.Name {
	case it.Base:
		return v.screws(it.Base, 0, count)
	case it.Base + ".nut", it.Base + ".insert":
		return v.held(it, count)
	}
	return nil
}

// loose is the solid of a fastener lying on the bench.
func (v *views) loose(it design.Item) (draw.Body, bool) {
	j, ok := v.joint(it.Base)
	if !ok {
		return draw.Body{}, false
	}
	if it.Name == it.Base {
		m, ok := screwMesh(j)
		return draw.Body{Mesh: mesh.Transform(m, draw.Along([3]float64{}, [3]float64{0, -1, 0})), Colour: zinc}, ok
	}
	m, c, ok := v.heldMesh(j, it.Name)
	return draw.Body{Mesh: m, Colour: c}, ok
}

func (v *views) joint(fastener string) (*facts.Joint, bool) {
	if v.k.Facts.Fit == nil {
		return nil, false
	}
	for i := range v.k.Facts.Fit.Joints {
		if j := &v.k.Facts.Fit.Joints[i]; j.Fastener == fastener && j.Variant == v.variant {
			return j, true
		}
	}
	return nil, false
}

// screwMesh is a joint's screw to scale.
func screwMesh(j *facts.Joint) (*mesh.Mesh, bool) {
	d, err := hardware.ParseDesignation(j.Thing)
	if err != nil || d.Kind != hardware.KindScrew {
		return nil, false
	}
	x, ok := hardware.ScrewOf(d.Standard, d.Size)
	t, known := hardware.ThreadOf(d.Size)
	if !ok || !known {
		return nil, false
	}
	recess := x.HeadDiameter * 0.45
	m := draw.Screw{Diameter: t.Nominal, Length: d.Length, HeadDiameter: x.HeadDiameter, HeadHeight: x.HeadHeight, Recess: recess,
		RecessDepth: x.SocketDepth, Countersunk: x.Standard.IncludesHead}.Mesh()
	return m, len(m.Triangles) > 0
}

// heldMesh is the nut or insert of a joint, lying from z = 0 upwards.
func (v *views) heldMesh(j *facts.Joint, name string) (*mesh.Mesh, draw.Colour, bool) {
	f, ok := v.k.Design.Fastener(j.Fastener)
	if !ok || f.Into.Held == nil {
		return nil, zinc, false
	}
	size, err := hardware.ParseSize(j.Size)
	t, known := hardware.ThreadOf(size)
	if err != nil || !known {
		return nil, zinc, false
	}
	var m *mesh.Mesh
	c := zinc
	switch held := f.Into.Held; {
	case held.Insert != nil && name == j.Fastener+".insert":
		m, c = draw.Ring(float64(held.Insert.Outer.V), t.Nominal, float64(held.Insert.Length.V), false), brass
	case held.Nut.Set() && name == j.Fastener+".nut":
		d, err := hardware.NutDesignation(string(held.Nut.V), size)
		if err != nil {
			return nil, c, false
		}
		n, ok := hardware.NutOf(d.Standard, d.Size)
		if !ok {
			return nil, c, false
		}
		m = draw.Ring(n.AcrossFlats, t.Nominal, n.Height, true)
	default:
		return nil, c, false
	}
	return m, c, len(m.Triangles) > 0
}
