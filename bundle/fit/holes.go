package fit

import (
	"dropwright/bundle/facts"
	"dropwright/bundle/section"
)

// holes writes down, for every member, the hole that each screw uses.
func (j *joint) holes() {
	for _, m := range j.parts {
		if m.fixed {
			for s := range m.use {
				h := facts.FitHole{}
				if c := m.use[s]; c >= 0 {
					h = facts.FitHole{At: [3]float64{m.given[c].at[0], m.given[c].at[1], 0}, Placed: true, Diameter: m.given[c].hole, Passes: m.given[c].hole, Through: true}
				}
				m.fact.Holes = append(m.fact.Holes, h)
			}
			continue
		}
		if m.shape == nil {
			continue
		}
		low, high := 0.0, 0.0
		for s := range m.use {
			h := m.place[s]
			if c := m.use[s]; c >= 0 {
				x := m.holeOf(&m.cands[c])
				x.Low, x.Off = h.Low, h.Off
				if h.Out != ([3]float64{}) {
					x.Out = h.Out
				}
				h = x
				if low == 0 || h.Diameter < low {
					low = h.Diameter
				}
				high = max(high, h.Diameter)
			} else {
				h.Missing = true
			}
			m.fact.Holes = append(m.fact.Holes, h)
		}
		m.fact.Spread = round3(high - low)
		if o := j.parts[j.laidOn]; m.unlike && o != m {
			m.fact.Unlike = &facts.Unlike{Name: o.fact.Name, Span: round3(widest(m)), Other: round3(widest(o))}
		}
		if j.unsure(m) {
			j.unknown("holes", "which of the %d holes of %s that could be meant are those of %s: they do not lie alike", m.fact.Found/m.copiesOf(), m.fact.Name, j.fact.Fastener)
		}
	}
}

// unsure tells whether a member's holes were chosen without a pattern among more holes than are needed, and
// the choice matters because they are not all alike.
func (j *joint) unsure(m *member) bool {
	per := share(j.fact.Count, m.copiesOf())
	if m.fact.Matched || m.fact.Found/m.copiesOf() <= per {
		return false
	}
	var first *candidate
	for i := range m.cands {
		c := &m.cands[i]
		if c.score < 1 {
			continue // another kind of hole would not have been chosen
		}
		if first == nil {
			first = c
		}
		if diff(first.depth, c.depth) || diff(first.blind, c.blind) || diff(first.diameter, c.diameter) || diff(first.mouth, c.mouth) {
			return true
		}
	}
	return false
}

func diff(a, b float64) bool { return a-b > 0.05 || b-a > 0.05 }

// holeOf is a candidate's figures as facts.
func (m *member) holeOf(c *candidate) facts.FitHole {
	h := &m.shape.Holes[c.hole]
	f := factOf(m.shape, c.hole, h)
	f.Diameter, f.Passes, f.Depth = round3(c.diameter), round3(c.passes), round3(c.depth)
	if m.want.role == Clearance || m.want.role == Thread {
		f.Depth = round3(h.Depth)
	}
	if len(c.openings) > 0 {
		f.Out = c.openings[0].out
		if m.want.role != Clearance {
			f.At = round3s(c.openings[0].at)
		}
	}
	if m.want.role == Nut {
		f.At = round3s(h.Centre)
		if c.round >= 0 {
			r := factOf(m.shape, c.round, &m.shape.Holes[c.round])
			f.Round = &r
		}
	}
	return f
}

func factOf(s *Shape, i int, h *section.Hole) facts.FitHole {
	f := facts.FitHole{At: round3s(h.Centre), Placed: true, Diameter: round3(h.Diameter), Passes: round3(h.Passes), Corners: h.Corners,
		Depth: round3(h.Depth), Through: h.Through, Wall: round3(s.Walls[i])}
	if k, ok := h.Sink(); ok {
		f.Sink = &facts.Sink{Kind: k.Kind, Diameter: round3(k.Diameter), Depth: round3(k.Depth)}
	}
	return f
}

func round3s(p [3]float64) [3]float64 {
	for i := range p {
		p[i] = round3(p[i])
	}
	return p
}

// widest is how far the holes of a member's fullest side lie apart at the most.
func widest(m *member) float64 {
	best, most := 0.0, 0
	for _, s := range m.sides {
		if len(s.spots) < most {
			continue
		}
		far := 0.0
		for i := range s.spots {
			for k := i + 1; k < len(s.spots); k++ {
				far = max(far, span(s.spots[i], s.spots[k]))
			}
		}
		best, most = far, len(s.spots)
	}
	return best
}
