package bundle

import (
	"math"

	"dropwright/bundle/design"
	"dropwright/bundle/facts"
	"dropwright/bundle/mesh"
	draw "dropwright/bundle/picture"
)

// spot is a hole of a joint in the assembly.
type spot struct {
	hole *facts.FitHole
	at   [3]float64
	out  [3]float64 // unit vector out of its part
}

// sameAxis is how far, in mm, holes of two parts may lie off one another and still be of one screw.
const sameAxis = 1.5

// spots are where the holes of one screw are in a member: more than one when the part stands in several places.
func (v *views) spots(m *facts.Member, screw int) []spot {
	if m.Kind != "part" || screw >= len(m.Holes) {
		return nil
	}
	h := &m.Holes[screw]
	p, ok := v.k.Design.Part(m.Name)
	if !ok || !h.Placed || h.Out == ([3]float64{}) {
		return nil
	}
	drawn, mirrored := p.CopiesOf(v.variant)
	var out []spot
	for c := range min(drawn+mirrored, maxDrawnBodies) {
		at, ok := v.place(p, c)
		if !ok {
			continue
		}
		if c >= drawn {
			at = flip.Then(at)
		}
		o := at.Apply(h.Out)
		zero := at.Apply([3]float64{})
		for k := range o {
			o[k] -= zero[k]
		}
		out = append(out, spot{h, at.Apply(h.At), o})
	}
	return out
}

// flip is the mirror image as mesh.Mirror makes it.
var flip = mesh.Matrix{{-1, 0, 0, 0}, {0, 1, 0, 0}, {0, 0, 1, 0}}

// axis is where a screw goes: from its head's seat along -out.
type axis struct {
	seat, out [3]float64
	into      *spot // the hole that it goes into, where it is known
}

// axes finds where the screws of a joint sit, as far as the parts around them have known places. The side of the
// head follows from the order of the members: it lies on the far side of the first of them as seen from the last.
func (v *views) axes(j *facts.Joint) []axis {
	var out []axis
	last := len(j.Members) - 1
	for s := range min(j.Count, maxDrawnBodies) {
		var anchor *spot
		first := -1
		for k := range last {
			if all := v.spots(&j.Members[k], s); len(all) == 1 && !taken(&j.Members[k], s) {
				anchor, first = &all[0], k
				break
			}
		}
		var into []spot
		if last >= 0 {
			into = v.spots(&j.Members[last], s)
		}
		switch {
		case anchor == nil && len(into) > 0:
			x := &into[s*len(into)/j.Count] // each copy takes its share, in order
			a := axis{seat: x.at, out: x.out, into: x}
			if s < len(j.Screws) {
				a.seat = along(a.seat, a.out, j.Screws[s].Clamped)
			}
			out = append(out, a)
		case anchor != nil:
			a := axis{out: anchor.out}
			best := sameAxis
			for i := range into {
				if d := beside(anchor, into[i].at); d < best {
					best, a.into = d, &into[i]
				}
			}
			// Another screw of the pattern may be the one that this copy takes.
			if a.into == nil && last >= 0 {
				for t := range j.Members[last].Holes {
					for _, x := range v.spots(&j.Members[last], t) {
						if d := beside(anchor, x.at); d < best {
							best, a.into = d, &x
						}
					}
				}
			}
			if a.into != nil && dot(sub(anchor.at, a.into.at), a.out) < 0 {
				a.out = [3]float64{-a.out[0], -a.out[1], -a.out[2]}
			}
			high := anchor.hole.Depth / 2
			if k := anchor.hole.Sink; k != nil && first == 0 && k.Kind == "counterbore" {
				high -= k.Depth
			}
			for k := range first {
				if t := j.Members[k].Thickness; t != nil {
					high += *t
				}
			}
			a.seat = along(anchor.at, a.out, high)
			out = append(out, a)
		}
	}
	return out
}

// taken tells whether another screw has the same hole: of a part that stands in several copies, each matches the same
// hole of its neighbour, so that the hole does not tell where the screw is.
func taken(m *facts.Member, screw int) bool {
	for t := range m.Holes {
		if t != screw && m.Holes[t].At == m.Holes[screw].At {
			return true
		}
	}
	return false
}

func along(p, way [3]float64, far float64) [3]float64 {
	for k := range p {
		p[k] += way[k] * far
	}
	return p
}

func sub(a, b [3]float64) [3]float64 { return [3]float64{a[0] - b[0], a[1] - b[1], a[2] - b[2]} }
func dot(a, b [3]float64) float64    { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }

// beside is how far a point lies from a hole's axis.
func beside(s *spot, p [3]float64) float64 {
	d := sub(p, s.at)
	t := dot(d, s.out)
	return math.Sqrt(math.Max(0, dot(d, d)-t*t))
}

// screws are count screws of a fastener from the one numbered from, where they sit.
func (v *views) screws(name string, from, count int) []draw.Body {
	j, ok := v.joint(name)
	if !ok {
		return nil
	}
	m, ok := screwMesh(j)
	if !ok {
		return nil
	}
	var out []draw.Body
	for i, a := range v.axes(j) {
		if i >= from && i < from+count {
			out = append(out, draw.Body{Mesh: m, Colour: zinc, Place: draw.Along(a.seat, a.out), Away: a.out})
		}
	}
	return out
}

// held are the nuts or inserts of a joint, where they sit in their part. A nut lies in the middle of its pocket, an
// insert flush with the mouth of its hole.
func (v *views) held(it design.Item, count int) []draw.Body {
	j, ok := v.joint(it.Base)
	if !ok {
		return nil
	}
	m, c, ok := v.heldMesh(j, it.Name)
	if !ok {
		return nil
	}
	high := 0.0
	for _, p := range m.Vertices {
		high = math.Max(high, float64(p[2]))
	}
	var out []draw.Body
	for _, a := range v.axes(j) {
		if a.into == nil || len(out) == count {
			continue
		}
		way, sink := a.into.out, high
		if j.Into == "nut" { // it comes from behind, whatever way its hole was found
			way, sink = [3]float64{-a.out[0], -a.out[1], -a.out[2]}, high/2
		}
		out = append(out, draw.Body{Mesh: m, Colour: c, Place: draw.Along(along(a.into.at, way, -sink), way), Away: way})
	}
	return out
}
