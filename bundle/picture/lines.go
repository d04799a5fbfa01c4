package picture

import "math"

// stamp is the round end of a pen of some width: offsets of the samples it covers when it is set between two
// neighbours, the first of which is at (0, 0).
type stamp struct{ beside, below [][2]int }

// newStamp makes a pen, its width in samples.
func newStamp(width float64) stamp {
	var s stamp
	r := int(math.Ceil(width/2)) + 1
	for dy := -r; dy <= r; dy++ {
		for dx := -r; dx <= r; dx++ {
			// A line of one sample has no middle between two: the nearer of them counts.
			x := math.Abs(float64(dx) - 0.5)
			if y := float64(dy); x*x+y*y <= width*width/4+1e-9 || width < 1 && dx == 0 && dy == 0 {
				s.beside = append(s.beside, [2]int{dx, dy})
				s.below = append(s.below, [2]int{dy, dx})
			}
		}
	}
	return s
}

// reach is how many rows a pen's mark lies from where it is set, at most.
func reach(bodies []Body, n int) int {
	w := 0.0
	for _, b := range bodies {
		w = math.Max(w, b.Line)
	}
	return int(math.Ceil(w*float64(n)/2)) + 2
}

// depthSteps is how far, in samples, a facet must lie behind the plane of its neighbour for a line to be drawn
// between them though both look the same way. Below 1, rounding of slanting facets could draw lines; by eye.
const depthSteps = 1.5

// lines marks the samples that lines cover.
func (s *stage) lines(c *canvas, pens []stamp) {
	rows := c.rows.to - c.rows.from
	last := 0
	for y := range rows {
		row := c.ids[y*c.width : (y+1)*c.width]
		for x, id := range row {
			at := y*c.width + x
			if x+1 < c.width && row[x+1] != id {
				if k, ok := s.line(c, at, 1, x > 0, x+2 < c.width, &last); ok {
					c.set(pens[k].beside, x, y)
				}
			}
			if y+1 < rows && c.ids[at+c.width] != id {
				if k, ok := s.line(c, at, c.width, y > 0, y+2 < rows, &last); ok {
					c.set(pens[k].below, x, y)
				}
			}
		}
	}
}

// line decides whether there is a line between the samples at and at+step, and returns the body that it is
// drawn for: the nearer one.
func (s *stage) line(c *canvas, at, step int, before, after bool, last *int) (body int, ok bool) {
	a, b := c.ids[at], c.ids[at+step]
	switch {
	case a == nothing:
		*last = s.solidOf(b, *last)
		return *last, s.solids[*last].Line > 0
	case b == nothing:
		*last = s.solidOf(a, *last)
		return *last, s.solids[*last].Line > 0
	}
	ka := s.solidOf(a, *last)
	kb := s.solidOf(b, ka)
	*last = kb
	x, y := &s.solids[ka], &s.solids[kb]
	if ka != kb {
		if c.depth[at+step] > c.depth[at] {
			return kb, y.Line > 0
		}
		return ka, x.Line > 0
	}
	if x.Line <= 0 {
		return ka, false
	}
	f, g := &x.facets[a-x.first], &x.facets[b-x.first]
	if !alike(f, g) {
		// One sample of a needle whose direction is mostly rounding is no edge: those beside it must differ too.
		if !before || !after {
			return ka, true
		}
		p, q := c.ids[at-step], c.ids[at+2*step]
		if p-x.first >= uint32(len(x.facets)) || q-x.first >= uint32(len(x.facets)) {
			return ka, true
		}
		if h, j := &x.facets[p-x.first], &x.facets[q-x.first]; !alike(h, j) {
			return ka, true
		}
	}
	slope, other := f.gx, g.gx
	if step != 1 {
		slope, other = f.gy, g.gy
	}
	da, db := float64(c.depth[at]), float64(c.depth[at+step])
	miss := math.Min(math.Abs(da+slope-db), math.Abs(db-other-da))
	unit := s.step(da)
	return ka, miss > depthSteps*unit+math.Abs(slope-other)/2
}

// alike reports whether two facets lie within CreaseAngle of one another.
func alike(f, g *facet) bool {
	return float64(f.normal[0]*g.normal[0]+f.normal[1]*g.normal[1]+f.normal[2]*g.normal[2]) > creaseCos
}

func (c *canvas) set(pen [][2]int, x, y int) {
	rows := c.rows.to - c.rows.from
	for _, o := range pen {
		px, py := x+o[0], y+o[1]
		if px >= 0 && px < c.width && py >= 0 && py < rows {
			c.mark[py*c.width+px] = 1
		}
	}
}
