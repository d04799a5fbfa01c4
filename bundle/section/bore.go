package section

import "math"

// addColumn turns walls that stand on each other into holes: each hexagonal stretch is a hole, and
// each round stretch gives one hole for every narrowest cylinder, with what widens from there to
// either end as its sinks. All of them share a group.
func (c *Census) addColumn(sw *sweep, column []*wall) {
	group := len(c.Holes) + len(c.Sealed)
	for i := 0; i < len(column); {
		j := i + 1
		for j < len(column) && column[i].form == round && column[j].form == round {
			j++
		}
		if column[i].form == hexagon {
			c.addHole(sw, column, i, i, j, group)
		} else {
			c.addRound(sw, column, i, j, group)
		}
		i = j
	}
}

// addRound handles the round walls column[from:to].
func (c *Census) addRound(sw *sweep, column []*wall, from, to, group int) {
	narrow := -1
	for i := from; i < to; i++ {
		a := column[i]
		if math.Abs(a.grow) > draftGrow || a.length() < shortestWall || narrows(column[:to], i) {
			continue
		}
		if narrow < 0 || least(a) < least(column[narrow])-sameWithin ||
			least(a) < least(column[narrow])+sameWithin && a.length() > column[narrow].length()+sameWithin {
			narrow = i
		}
	}
	if narrow < 0 {
		// Cones only. A single one is a countersink in a sheet as thin as it is deep; several are a
		// curved surface, no hole.
		a := column[from]
		if len(column) != 1 || least(a) < diameterLeast || a.length() < shortestWall ||
			sw.tip(column, from, -1) != Open || sw.tip(column, from, +1) != Open ||
			2*a.beyond[0].around() < ringPlaces || 2*a.beyond[1].around() < ringPlaces {
			return
		}
		narrow = from
	}
	if column[narrow].grow != 0 && cones(column[from:to]) > curvedCones {
		return // a bowl or a waist
	}
	// Outwards as long as it widens.
	lo, hi := narrow, narrow+1
	for lo > from && column[lo-1].at(column[lo-1].hi) > column[lo].at(column[lo].lo)-sameWithin && column[lo-1].grow <= 0 {
		lo--
	}
	for hi < to && column[hi].at(column[hi].lo) > column[hi-1].at(column[hi-1].hi)-sameWithin && column[hi].grow >= 0 {
		hi++
	}
	c.addHole(sw, column, narrow, lo, hi, group)
	if lo > from {
		c.addRound(sw, column, from, lo, group)
	}
	if hi < to {
		c.addRound(sw, column, hi, to, group)
	}
}

// narrows tells whether cone i goes over into a narrower cone at its narrow end, as those of a dome do.
func narrows(column []*wall, i int) bool {
	a := column[i]
	if a.grow > 0 {
		return i > 0 && column[i-1].form == round && column[i-1].grow > 0
	}
	return a.grow < 0 && i+1 < len(column) && column[i+1].form == round && column[i+1].grow < 0
}

func least(a *wall) float64 { return min(a.at(a.lo), a.at(a.hi)) }

// addHole makes one hole of column[lo:hi] around its narrowest wall.
func (c *Census) addHole(sw *sweep, column []*wall, narrow, lo, hi, group int) {
	a, bottom, top := column[narrow], column[lo], column[hi-1]
	if top.hi-bottom.lo < shortestWall {
		return
	}
	h := Hole{
		Axis: sw.frame.W, Kind: Round, Diameter: least(a), Passes: least(a) * a.passes / a.d, Corners: a.corners,
		Depth: top.hi - bottom.lo, Narrow: a.length(), DraftedTo: max(a.at(a.lo), a.at(a.hi)), Group: group,
	}
	if a.form == hexagon {
		h.Kind = Hexagon
		h.Diameter *= math.Cos(math.Pi / 6)
		h.DraftedTo *= math.Cos(math.Pi / 6)
	}
	h.From = sw.end(a, bottom.lo, sw.tip(column, lo, -1))
	h.To = sw.end(a, top.hi, sw.tip(column, hi-1, +1))
	// Beyond a wider chamber it may go on as it is here.
	if lo > 0 && h.From.Mouth == Narrowed && a.passesThrough(column[lo-1], -1) {
		h.From.Mouth = Open
	}
	if hi < len(column) && h.To.Mouth == Narrowed && a.passesThrough(column[hi], +1) {
		h.To.Mouth = Open
	}
	h.Centre = sw.frame.Point(a.u, a.v, (bottom.lo+top.hi)/2)
	h.Through = h.From.Mouth == Open && h.To.Mouth == Open
	if narrow == lo && narrow == hi-1 && math.Abs(a.grow) > draftGrow {
		h.Narrow, h.DraftedTo = 0, h.Diameter // all cone
		h.Sinks = append(h.Sinks, sink(a, a.length(), a.grow > 0))
	}
	for i := narrow - 1; i >= lo; i-- {
		h.Sinks = append(h.Sinks, sink(column[i], column[i].hi-bottom.lo, false))
	}
	for i := narrow + 1; i < hi; i++ {
		h.Sinks = append(h.Sinks, sink(column[i], top.hi-column[i].lo, true))
	}
	switch {
	case h.From.Mouth == Open || h.To.Mouth == Open:
		c.Holes = append(c.Holes, h)
	case curved(column):
		// A hollow ball, as far as its bands are circles.
	case h.From.Mouth == Closed && h.To.Mouth == Closed:
		c.Sealed = append(c.Sealed, h)
	case a.form == hexagon || len(column) > 1:
		c.Holes = append(c.Holes, h)
	}
}

// passesThrough tells whether what fits a fits b too, to whose side it goes on.
func (a *wall) passesThrough(b *wall, side int) bool {
	return b.form == round && float64(side)*b.grow >= 0 && least(b) >= least(a)-sameWithin
}

// curved tells whether cones make up most of a column, as in a hollow ball.
func curved(column []*wall) bool { return 2*cones(column) > len(column) }

func cones(column []*wall) int {
	n := 0
	for _, a := range column {
		if a.grow != 0 {
			n++
		}
	}
	return n
}

func sink(a *wall, depth float64, atTo bool) Sink {
	s := Sink{Kind: Counterbore, Diameter: max(a.at(a.lo), a.at(a.hi)), Depth: depth, Length: a.length(), AtTo: atTo}
	if a.grow != 0 {
		s.Kind = Countersink
		if s.Diameter < chamferPart*least(a) {
			s.Kind = Chamfer
		}
		s.Angle = 2 * math.Atan(math.Abs(a.grow)/2) * 180 / math.Pi
	}
	return s
}

// tip looks beyond the outermost wall of a hole. Cones that narrow from there are the tip of a drill
// or a rounded floor: the end is what is beyond the last of them.
func (sw *sweep) tip(column []*wall, i, side int) Mouth {
	j := i
	for k := i + side; k >= 0 && k < len(column); k += side {
		if b := column[k]; b.form != round || float64(side)*b.grow >= 0 {
			break
		}
		j = k
	}
	last := column[j]
	m := last.beyond[(side+1)/2].mouth()
	if m != Narrowed || float64(side)*last.grow >= 0 {
		return m
	}
	// The last stretch to the floor of a dome is too flat for planes: look along the axis as far as the
	// cone would reach, or a ball as wide as its end.
	end := *last.endAt(side)
	width := last.at(end)
	reach := max(min(width/math.Abs(last.grow), 2*width), width/2)
	var p probe
	for f := range 8 {
		p.at = append(p.at, [3]float64{last.u, last.v, end + float64(side)*(probeBeyond+reach*float64(f+1)/8)})
	}
	if sw.ask(&p); airOf(p.in) < len(p.in) {
		return Closed
	}
	if j != i {
		return Narrowed // it goes on beyond the cones, narrower than here
	}
	return m
}
