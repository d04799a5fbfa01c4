package mesh

import (
	"math"
	"slices"
)

const (
	// samplesMost is how many points of a shell are tested against the others: enough to see an overlap
	// of a tenth of its facets nearly always. Where there are many shells each gets fewer, at least
	// samplesLeast, so that the rays stay below samplesAll or so. Our own choice.
	samplesMost, samplesLeast, samplesAll = 48, 4, 8192
	// nestWork bounds the visits of grid cells, so that a hostile mesh cannot make the nesting test
	// quadratic; about two seconds.
	nestWork = 400_000_000
)

// probe is a point of a shell that is tested against the other shells by a ray upwards.
type probe struct {
	shell   uint32
	at      [3]float64
	winding map[uint32]int // by shell: how often it winds around the point
}

// nest fills in depth, void, wrong sign and overlap of the shells; label names each facet's shell.
// Which way a solid faces is taken from the outermost shells together, so a mesh that is inside out
// as a whole has no wrong signs. judged is false where the work would have been too much.
func nest(m *Mesh, label []uint32, list []Shell) (insideOut, judged bool) {
	inner, outer := neighbours(list)
	probes := probesOf(m, label, list, inner)
	judged = castProbes(m, label, outer, probes)
	for len(probes) > 0 && judged {
		k := probes[0].shell
		end := slices.IndexFunc(probes, func(p probe) bool { return p.shell != k })
		if end < 0 {
			end = len(probes)
		}
		list[k].place(list, probes[:end])
		probes = probes[end:]
	}
	total := 0.0
	for k := range list {
		if list[k].Depth == 0 {
			total += list[k].Volume
		}
	}
	insideOut = total < 0
	for k := range list {
		s := &list[k]
		if !s.Closed || s.Volume == 0 || !judged {
			continue
		}
		solid := s.Volume > 0 != insideOut
		s.WrongSign = solid != (s.Depth%2 == 0)
		s.Void = !solid && !s.WrongSign
	}
	return insideOut, judged
}

// place reads depth and overlap of s from its probes.
func (s *Shell) place(list []Shell, probes []probe) {
	inside := map[uint32]int{}
	for _, p := range probes {
		for o, w := range p.winding {
			if w != 0 {
				inside[o]++
			}
		}
	}
	for o, n := range inside {
		// Points that touch the other surface may fall on either side, so all but an eighth is all.
		if 8*n >= 7*len(probes) {
			s.Depth++
		} else if 8*n >= len(probes) || !s.touches(&list[o]) {
			s.Overlaps = true
		}
	}
}

// touches reports whether the boxes of s and o meet in no more than a face.
func (s *Shell) touches(o *Shell) bool {
	for k := range 3 {
		if s.Max[k] <= o.Min[k] || o.Max[k] <= s.Min[k] {
			return true
		}
	}
	return false
}

// neighbours marks the shells that may lie in another one or across it, and those others.
func neighbours(list []Shell) (inner, outer []bool) {
	inner, outer = make([]bool, len(list)), make([]bool, len(list))
	for i := range list {
		for j := range list {
			if i != j && list[j].Closed && !list[i].touches(&list[j]) {
				inner[i], outer[j] = true, true
			}
		}
	}
	return inner, outer
}

// candidate is a facet that may carry a probe.
type candidate struct {
	key uint64 // pseudo-random in the place alone, so the choice does not depend on the facets' order
	at  [3]float64
}

func compareCandidates(a, b candidate) int {
	if a.key != b.key {
		if a.key < b.key {
			return -1
		}
		return 1
	}
	return comparePlaces(a.at, b.at)
}

// probesOf takes points inside facets all over each inner shell.
func probesOf(m *Mesh, label []uint32, list []Shell, inner []bool) []probe {
	n := 0
	for _, in := range inner {
		if in {
			n++
		}
	}
	if n == 0 {
		return nil
	}
	most := min(samplesMost, max(samplesLeast, samplesAll/n))
	chosen := make([][]candidate, len(list))
	for i, l := range label {
		if l == noShell || !inner[l] {
			continue
		}
		at, key := m.pointInside(i)
		c := candidate{key, at}
		cs := chosen[l]
		if len(cs) == most && compareCandidates(c, cs[most-1]) >= 0 {
			continue
		}
		k, _ := slices.BinarySearchFunc(cs, c, compareCandidates)
		if len(cs) == most {
			cs = cs[:most-1]
		}
		chosen[l] = slices.Insert(cs, k, c)
	}
	var probes []probe
	for l, cs := range chosen {
		for _, c := range cs {
			probes = append(probes, probe{shell: uint32(l), at: c.at, winding: map[uint32]int{}})
		}
	}
	return probes
}

// pointInside returns a point of facet i that lies on no edge, by weights that no regular mesh has, and
// a scramble of its place. The corners are sorted first: the facet may begin with any of them.
func (m *Mesh) pointInside(i int) (p [3]float64, key uint64) {
	t := m.Triangles[i]
	a, b, c := m.Vertices[t[0]], m.Vertices[t[1]], m.Vertices[t[2]]
	less := func(u, v [3]float32) bool { return slices.Compare(u[:], v[:]) < 0 }
	if less(b, a) {
		a, b = b, a
	}
	if less(c, b) {
		b, c = c, b
		if less(b, a) {
			a, b = b, a
		}
	}
	for k := range 3 {
		p[k] = float64(0.3141*float64(a[k])) + float64(0.2971*float64(b[k])) + float64(0.3888*float64(c[k]))
		key = (key ^ math.Float64bits(p[k])) * 0x9e3779b97f4a7c15 // the golden ratio, as in Fibonacci hashing
		key ^= key >> 29
	}
	return p, key
}

// castProbes adds up how often each outer shell winds around each probe: the facets of the shell
// above the point, counted by the way they face. It reports false when nestWork is used up.
func castProbes(m *Mesh, label []uint32, outer []bool, probes []probe) bool {
	if len(probes) == 0 {
		return true
	}
	g := newProbeGrid(probes)
	work := 0
	for i, l := range label {
		if l == noShell || !outer[l] {
			continue
		}
		t := m.Triangles[i]
		a, b, c := wide(m.Vertices[t[0]]), wide(m.Vertices[t[1]]), wide(m.Vertices[t[2]])
		x0, x1 := g.column(0, min(a[0], b[0], c[0])), g.column(0, max(a[0], b[0], c[0]))
		y0, y1 := g.column(1, min(a[1], b[1], c[1])), g.column(1, max(a[1], b[1], c[1]))
		top := max(a[2], b[2], c[2])
		for y := y0; y <= y1; y++ {
			for x := x0; x <= x1; x++ {
				cell := g.cells[y*g.side+x]
				work += 1 + len(cell)
				for _, k := range cell {
					p := &probes[k]
					if p.shell == l || p.at[2] > top {
						continue
					}
					if w := above(p.at, a, b, c, t); w != 0 {
						p.winding[l] += w
					}
				}
			}
			if work > nestWork {
				return false
			}
		}
	}
	return true
}

// above returns +1 or -1 where the facet lies over p, by the way it faces, and 0 elsewhere.
func above(p, a, b, c [3]float64, t [3]uint32) int {
	s1, s2, s3 := side(p, a, b, t[0], t[1]), side(p, b, c, t[1], t[2]), side(p, c, a, t[2], t[0])
	if s1 != s2 || s2 != s3 {
		return 0
	}
	n := cross([3]float64{b[0] - a[0], b[1] - a[1], b[2] - a[2]}, [3]float64{c[0] - a[0], c[1] - a[1], c[2] - a[2]})
	if n[2] == 0 {
		return 0
	}
	z := a[2] - (n[0]*(p[0]-a[0])+n[1]*(p[1]-a[1]))/n[2]
	if z <= p[2] {
		return 0
	}
	return s1
}

// side is +1 where p lies left of the edge u -> v seen from above, else -1. It is worked out from the
// lower vertex number, so that the two facets of an edge agree to the last bit.
func side(p, u, v [3]float64, iu, iv uint32) int {
	flip := 1
	if iu > iv {
		u, v, flip = v, u, -1
	}
	if float64((v[0]-u[0])*(p[1]-u[1]))-float64((v[1]-u[1])*(p[0]-u[0])) >= 0 {
		return flip
	}
	return -flip
}

// probeGrid finds probes by place in plan.
type probeGrid struct {
	lo, scale [2]float64
	side      int
	cells     [][]int32
}

func newProbeGrid(probes []probe) *probeGrid {
	g := &probeGrid{side: max(1, int(math.Sqrt(float64(len(probes)))))}
	g.cells = make([][]int32, g.side*g.side)
	hi := [2]float64{math.Inf(-1), math.Inf(-1)}
	g.lo = [2]float64{math.Inf(1), math.Inf(1)}
	for _, p := range probes {
		for k := range 2 {
			g.lo[k], hi[k] = min(g.lo[k], p.at[k]), max(hi[k], p.at[k])
		}
	}
	for k := range 2 {
		if d := hi[k] - g.lo[k]; d > 0 {
			g.scale[k] = float64(g.side) / d
		}
	}
	for i, p := range probes {
		at := g.column(1, p.at[1])*g.side + g.column(0, p.at[0])
		g.cells[at] = append(g.cells[at], int32(i))
	}
	return g
}

// column is the cell of v on an axis, clamped to the grid.
func (g *probeGrid) column(axis int, v float64) int {
	return int(max(0, min(float64(g.side-1), (v-g.lo[axis])*g.scale[axis])))
}
