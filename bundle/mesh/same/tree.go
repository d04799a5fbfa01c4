package same

import (
	"math"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"

	"dropwright/bundle/mesh"
)

// tree finds the nearest facet of a mesh: facets in the order of a space-filling curve, boxes around
// every four of them, boxes around every eight boxes, and so on.
type tree struct {
	m      *mesh.Mesh
	order  []uint32
	facets [][3][3]float32 // corners in that order: what is opened together lies together, in whatever order a file had it
	levels [][]box         // levels[0][i] holds facets order[4i:4i+4]; the last level has at most eight
	planks [][]plank       // like levels, for a mesh with many slivers; else nil
}

type box struct{ low, high [3]float32 }

// Eight boxes to a box, four facets to the lowest: tried against 2, 4 and 8 of each.
const (
	fan  = 8
	leaf = 4
)

func newTree(m *mesh.Mesh) *tree {
	low := [3]float32{math.MaxFloat32, math.MaxFloat32, math.MaxFloat32}
	high := [3]float32{-math.MaxFloat32, -math.MaxFloat32, -math.MaxFloat32}
	for _, v := range m.Vertices {
		for a, x := range v {
			if x < low[a] {
				low[a] = x
			}
			if x > high[a] {
				high[a] = x
			}
		}
	}
	extent := max(float64(high[0])-float64(low[0]), float64(high[1])-float64(low[1]), float64(high[2])-float64(low[2]), 1e-9)
	scale := 1023 / extent
	keys := make([]uint64, len(m.Triangles))
	const chunk = 1 << 15
	parallel((len(keys)+chunk-1)/chunk, func(c int) {
		for i := c * chunk; i < min(len(keys), (c+1)*chunk); i++ {
			t := m.Triangles[i]
			p, q, r := m.Vertices[t[0]], m.Vertices[t[1]], m.Vertices[t[2]]
			code := uint64(0)
			for a := range 3 {
				middle := (float64(p[a])+float64(q[a])+float64(r[a]))/3 - float64(low[a])
				code |= spread(uint64(max(0, min(1023, middle*scale)))) << a
			}
			keys[i] = code<<32 | uint64(i)
		}
	})
	keys = sortKeys(keys)
	sortCrowds(m, keys, low, scale)
	t := &tree{m: m, order: make([]uint32, len(keys)), facets: make([][3][3]float32, len(keys))}
	leaves := make([]box, (len(keys)+leaf-1)/leaf)
	parallel((len(leaves)+chunk-1)/chunk, func(c int) {
		for i := c * chunk; i < min(len(leaves), (c+1)*chunk); i++ {
			b := box{[3]float32{math.MaxFloat32, math.MaxFloat32, math.MaxFloat32}, [3]float32{-math.MaxFloat32, -math.MaxFloat32, -math.MaxFloat32}}
			for k := i * leaf; k < min(len(keys), (i+1)*leaf); k++ {
				t.order[k] = uint32(keys[k])
				for j, id := range m.Triangles[t.order[k]] {
					t.facets[k][j] = m.Vertices[id]
					b.add(m.Vertices[id], m.Vertices[id])
				}
			}
			leaves[i] = b
		}
	})
	t.levels = append(t.levels, leaves)
	for len(leaves) > fan {
		up := make([]box, (len(leaves)+fan-1)/fan)
		for i := range up {
			up[i] = leaves[i*fan]
			for _, b := range leaves[i*fan : min(len(leaves), (i+1)*fan)] {
				up[i].add(b.low, b.high)
			}
		}
		t.levels = append(t.levels, up)
		leaves = up
	}
	t.planks = planksOf(m, t.order, t.levels)
	return t
}

// sortKeys sorts keys of 30 bits above a number of 32 bits that ascends: three passes over digits of ten bits
// keep that order, and take a sixth of the time of a general sort.
func sortKeys(keys []uint64) []uint64 {
	const digit = 10
	spare := make([]uint64, len(keys))
	for shift := 32; shift < 62; shift += digit {
		var starts [1 << digit]int
		for _, k := range keys {
			starts[k>>shift&(1<<digit-1)]++
		}
		sum := 0
		for i, n := range starts {
			starts[i] = sum
			sum += n
		}
		for _, k := range keys {
			d := k >> shift & (1<<digit - 1)
			spare[starts[d]] = k
			starts[d]++
		}
		keys, spare = spare, keys
	}
	return keys
}

// sortCrowds puts facets whose middles share a cell of the curve in the order of the curve within that cell.
// Slivers share one by the hundred.
func sortCrowds(m *mesh.Mesh, keys []uint64, low [3]float32, scale float64) {
	for i := 0; i < len(keys); {
		j := i + 1
		for j < len(keys) && keys[j]>>32 == keys[i]>>32 {
			j++
		}
		if crowd := keys[i:j]; len(crowd) > 2*leaf {
			for k := range crowd {
				f := uint32(crowd[k])
				t := m.Triangles[f]
				p, q, r := m.Vertices[t[0]], m.Vertices[t[1]], m.Vertices[t[2]]
				code := uint64(0)
				for a := range 3 {
					middle := (float64(p[a])+float64(q[a])+float64(r[a]))/3 - float64(low[a])
					_, part := math.Modf(max(0, min(1023, middle*scale)))
					code |= spread(uint64(part*1023)) << a
				}
				crowd[k] = code<<32 | uint64(f)
			}
			slices.Sort(crowd)
		}
		i = j
	}
}

func (b *box) add(low, high [3]float32) {
	for a := range 3 {
		if low[a] < b.low[a] {
			b.low[a] = low[a]
		}
		if high[a] > b.high[a] {
			b.high[a] = high[a]
		}
	}
}

// spread puts two zero bits after each of ten bits (Morton 1966).
func spread(x uint64) uint64 {
	x = (x | x<<16) & 0x030000ff
	x = (x | x<<8) & 0x0300f00f
	x = (x | x<<4) & 0x030c30c3
	return (x | x<<2) & 0x09249249
}

// away is the squared distance of a point from a box.
func (b *box) away(p *[3]float64) float64 {
	sum := 0.0
	for a := range 3 {
		d := float64(b.low[a]) - p[a]
		if e := p[a] - float64(b.high[a]); e > d {
			d = e
		}
		if d > 0 {
			sum += d * d
		}
	}
	return sum
}

// boxAway is the squared distance of a point from the box around a facet: cheaper than that from the
// facet, and mostly enough to know that it is too far.
func boxAway(a, b, c *[3]float32, p *[3]float64) float64 {
	sum := 0.0
	for i := range 3 {
		low, high := a[i], b[i]
		if high < low {
			low, high = high, low
		}
		if x := c[i]; x < low {
			low = x
		} else if x > high {
			high = x
		}
		d := float64(low) - p[i]
		if e := p[i] - float64(high); e > d {
			d = e
		}
		if d > 0 {
			sum += d * d
		}
	}
	return sum
}

// hit is the nearest point of a surface, or of what a search could see of it.
type hit struct {
	distance float64
	least    float64 // no point is nearer; the distance itself unless the search was cut short
	at       [3]float64
	place    int32 // of the facet in the order of the tree
	visits   int   // boxes opened
}

type visit struct {
	away  float64
	level int32
	index int32
}

// near reports whether the surface passes within a distance of p.
func (t *tree) near(p [3]float64, distance float64) bool {
	return t.search(p, distance, distance, -1, math.MaxInt).distance <= distance
}

// nearest finds the point of the surface that is nearest to p. It stops early, with any point that is at
// most enough away, if there is one; enough below 0 means to search to the end.
func (t *tree) nearest(p [3]float64, enough float64) hit {
	return t.search(p, enough, math.Inf(1), -1, math.MaxInt)
}

// search is nearest, but sees nothing beyond a distance: the hit is infinitely far then. The place of a facet
// that may be near, or -1, spares it most of the boxes: where its own one or the brothers of that are near enough,
// all others. It opens at most so many boxes, and then knows no more than that no point is nearer than least.
func (t *tree) search(p [3]float64, enough, within float64, guess int32, most int) hit {
	best := hit{distance: math.Inf(1)}
	bestSquare := within * within * (1 + 1e-12)
	leastSquare := math.Inf(1)
	found := false
	enoughSquare := -1.0
	if enough >= 0 {
		enoughSquare = enough * enough
	}
	try := func(k int) {
		f := &t.facets[k]
		if boxAway(&f[0], &f[1], &f[2], &p) >= bestSquare {
			return
		}
		q := closest(p, wide(f[0]), wide(f[1]), wide(f[2]))
		x, y, z := q[0]-p[0], q[1]-p[1], q[2]-p[2]
		if square := x*x + y*y + z*z; square < bestSquare {
			bestSquare, found = square, true
			best.at, best.place = q, int32(k)
		}
	}
	open := func(box int32) {
		for k := int(box) * leaf; k < min(len(t.facets), (int(box)+1)*leaf); k++ {
			try(k)
		}
	}
	if guess >= 0 {
		guess /= leaf
		best.visits++
		open(guess)
		if enoughSquare >= 0 && bestSquare > enoughSquare && most > 1 {
			best.visits++
			first := guess - guess%fan
			for i, b := range t.levels[0][first:min(len(t.levels[0]), int(first)+fan)] {
				if b.away(&p) < bestSquare && first+int32(i) != guess {
					open(first + int32(i))
				}
			}
		}
		if found && bestSquare <= enoughSquare {
			best.distance = math.Sqrt(bestSquare)
			best.least = best.distance
			return best
		}
	}
	// Depth first, seven brothers waiting on each of at most eleven levels.
	var stack [fan * 12]visit
	n := 0
	top := len(t.levels) - 1
	for i := range t.levels[top] {
		stack[n] = visit{t.levels[top][i].away(&p), int32(top), int32(i)}
		n++
	}
	sortVisits(stack[:n])
	for n > 0 {
		n--
		v := stack[n]
		if v.away >= bestSquare {
			continue
		}
		if best.visits == most {
			leastSquare = v.away
			for _, w := range stack[:n] {
				leastSquare = min(leastSquare, w.away)
			}
			break
		}
		best.visits++
		if v.level > 0 {
			first := int(v.index) * fan
			boxes := t.levels[v.level-1]
			var planks []plank
			if t.planks != nil {
				planks = t.planks[v.level-1]
			}
			start := n
			for i := first; i < min(len(boxes), first+fan); i++ {
				d := boxes[i].away(&p)
				if planks != nil && d < bestSquare && planks[i].use {
					d = max(d, planks[i].away(&p))
				}
				if d < bestSquare {
					// In order, the nearest last.
					k := n
					for ; k > start && stack[k-1].away < d; k-- {
						stack[k] = stack[k-1]
					}
					stack[k] = visit{d, v.level - 1, int32(i)}
					n++
				}
			}
			continue
		}
		open(v.index)
		if found && bestSquare <= enoughSquare {
			break
		}
	}
	if found {
		best.distance = math.Sqrt(bestSquare)
	}
	best.least = min(best.distance, math.Sqrt(leastSquare))
	return best
}

// sortVisits puts the nearest last.
func sortVisits(v []visit) {
	for i := 1; i < len(v); i++ {
		x := v[i]
		j := i
		for ; j > 0 && v[j-1].away < x.away; j-- {
			v[j] = v[j-1]
		}
		v[j] = x
	}
}

// closest is the point of the triangle abc nearest to p (Ericson, Real-Time Collision Detection, 5.1.5).
func closest(p, a, b, c [3]float64) [3]float64 {
	ab, ac, ap := sub(b, a), sub(c, a), sub(p, a)
	d1, d2 := dot(ab, ap), dot(ac, ap)
	if d1 <= 0 && d2 <= 0 {
		return a
	}
	bp := sub(p, b)
	d3, d4 := dot(ab, bp), dot(ac, bp)
	if d3 >= 0 && d4 <= d3 {
		return b
	}
	if vc := d1*d4 - d3*d2; vc <= 0 && d1 >= 0 && d3 <= 0 {
		return along(a, ab, d1/(d1-d3))
	}
	cp := sub(p, c)
	d5, d6 := dot(ab, cp), dot(ac, cp)
	if d6 >= 0 && d5 <= d6 {
		return c
	}
	if vb := d5*d2 - d1*d6; vb <= 0 && d2 >= 0 && d6 <= 0 {
		return along(a, ac, d2/(d2-d6))
	}
	va, vb, vc := d3*d6-d5*d4, d5*d2-d1*d6, d1*d4-d3*d2
	if va <= 0 && d4-d3 >= 0 && d5-d6 >= 0 {
		return along(b, sub(c, b), (d4-d3)/((d4-d3)+(d5-d6)))
	}
	sum := va + vb + vc
	if sum == 0 {
		return a // no area
	}
	v, w := vb/sum, vc/sum
	return [3]float64{a[0] + ab[0]*v + ac[0]*w, a[1] + ab[1]*v + ac[1]*w, a[2] + ab[2]*v + ac[2]*w}
}

func along(a, d [3]float64, t float64) [3]float64 {
	if t != t {
		return a // an edge without length
	}
	return [3]float64{a[0] + t*d[0], a[1] + t*d[1], a[2] + t*d[2]}
}

// parallel runs do for 0 to n-1 on all processors. Results must not depend on the order.
func parallel(n int, do func(i int)) {
	workers := max(1, min(n, runtime.GOMAXPROCS(0)))
	var next atomic.Int64
	var wait sync.WaitGroup
	for range workers {
		wait.Go(func() {
			for i := int(next.Add(1)) - 1; i < n; i = int(next.Add(1)) - 1 {
				do(i)
			}
		})
	}
	wait.Wait()
}

// purse is what a fixed number of searches may spend together, in boxes opened: there are surfaces, such as
// a thousand needles through one point, in which each search would open them all. Every batch of points has
// its own, so that what one finds does not depend on which batch ran first.
type purse int

// last is what a search may spend when the purse is empty: enough to come down to one facet. Assumed.
const last = 16

// nearest is search with what is left, and takes what it spends.
func (p *purse) nearest(t *tree, x [3]float64, enough float64, guess int32) hit {
	h := t.search(x, enough, math.Inf(1), guess, max(last, int(*p)))
	*p -= purse(h.visits)
	return h
}
