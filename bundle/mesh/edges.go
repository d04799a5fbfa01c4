package mesh

import (
	"cmp"
	"math"
	"math/bits"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"
)

// EdgeCounts says how the edges of a mesh are shared. In a closed, well oriented surface every edge
// belongs to two facets that run along it in opposite directions, and all counts are 0.
type EdgeCounts struct {
	Open        int // edges of one facet only
	Nonmanifold int // edges shared by more than two facets
	Flipped     int // edges whose two facets run along them in the same direction
	Duplicate   int // facets beyond the first on the same three vertices, whatever their direction
	Vertices    int // vertices after the weld
}

// census is what the edge pass finds.
type census struct {
	EdgeCounts
	unbalanced                             int // edges not run along equally often in both directions
	open, nonmanifold, flipped, duplicates places
	labels                                 labels   // which facets hang together across edges of two facets
	collapsed                              int      // facets with two equal vertices: they have no edges to match
	boundary                               []uint32 // a bit per vertex at an open edge
	suspects                               []uint32 // a bit per facet that may have a copy
	leaky                                  []uint32 // a bit per facet at an unbalanced edge: its shell encloses nothing
}

// The pass goes through the vertices in windows. The half-edges of a window (those whose smaller
// vertex lies in it) are put into buckets by that vertex with a counting sort, and each bucket, a
// handful of entries, is sorted and paired. Windows are worked on in parallel; all results are counts,
// sets and smallest places, so they do not depend on who did which window.
const (
	blockSize    = 4096    // facets whose range of vertices is noted together
	windowMin    = 1 << 15 // vertices in a window: its entries fit the second and third level cache
	windowsMax   = 16      // but never more passes than this over shuffled facets
	maxInsertion = 24      // longest bucket that is sorted by insertion
)

// tally is what the sort needs beforehand. The weld counts it on the way, where the triangles are still
// at hand.
type tally struct {
	// By vertex: half-edges that have it as their smaller vertex. That is three for most, so a byte will
	// do, and what is beyond full stands in more: memory that is never touched need not be cleared.
	degree    scratch[uint8]
	more      map[uint32]uint32
	spans     []span // by block of facets: range of their vertices
	collapsed int
}

// full is the most that a byte of tally.degree counts.
const full = math.MaxUint8

// half counts a half-edge of smaller vertex v. It stays small enough to be put in line.
func (y *tally) half(degree []uint8, v uint32) {
	if degree[v] == full {
		y.overflow(v)
		return
	}
	degree[v]++
}

func (y *tally) overflow(v uint32) {
	if y.more == nil {
		y.more = map[uint32]uint32{}
	}
	y.more[v]++
}

type span struct{ lo, hi uint32 }

// count takes in the triangles from number first on. degree has room for their vertices.
func (y *tally) count(ts [][3]uint32, first int) {
	degree := y.degree.s
	for len(ts) > 0 {
		b := first / blockSize
		if b == len(y.spans) {
			y.spans = append(y.spans, span{^uint32(0), 0})
		}
		part := ts[:min(len(ts), (b+1)*blockSize-first)]
		lo, hi := y.spans[b].lo, y.spans[b].hi
		for _, t := range part {
			u, v, w := t[0], t[1], t[2]
			if u == v || v == w || w == u {
				y.collapsed++
				continue
			}
			uv, vw, wu := min(u, v), min(v, w), min(w, u)
			y.half(degree, uv)
			y.half(degree, vw)
			y.half(degree, wu)
			lo, hi = min(lo, uv, w), max(hi, u, v, w)
		}
		y.spans[b] = span{lo, hi}
		first += len(part)
		ts = ts[len(part):]
	}
}

// tallyOf counts a mesh that was not welded here.
func tallyOf(m *Mesh) *tally {
	y := &tally{degree: newScratch[uint8](len(m.Vertices))}
	y.count(m.Triangles, 0)
	return y
}

// censusOf takes over spare, whatever it holds, and y. The caller frees the census.
func censusOf(m *Mesh, y *tally, spare scratch[uint32]) *census {
	return censusIn(m, y, spare, max(windowMin, (len(m.Vertices)+windowsMax-1)/windowsMax))
}

// censusIn is censusOf with windows of size vertices.
func censusIn(m *Mesh, y *tally, spare scratch[uint32], size int) *census {
	n, nv := len(m.Triangles), len(m.Vertices)
	c := &census{collapsed: y.collapsed, leaky: make([]uint32, n/32+1), suspects: make([]uint32, n/32+1), boundary: make([]uint32, nv/32+1)}
	c.Vertices = nv
	c.labels.init(n, spare)
	windows := (nv + size - 1) / size
	workers := make([]edgeWorker, workerCount(windows))
	parallel(windows, func(w, i int) {
		workers[w].window(m, c, y, uint32(i*size), uint32(min((i+1)*size, nv)))
	})
	for i := range workers {
		c.merge(&workers[i].found)
		workers[i].free()
	}
	y.degree.free()
	c.findCopies(m)
	return c
}

func (c *census) free() { c.labels.free() }

func (c *census) merge(o *census) {
	c.Open += o.Open
	c.Nonmanifold += o.Nonmanifold
	c.Flipped += o.Flipped
	c.unbalanced += o.unbalanced
	c.open.merge(&o.open)
	c.nonmanifold.merge(&o.nonmanifold)
	c.flipped.merge(&o.flipped)
}

// edgeWorker keeps the memory of one worker from window to window.
type edgeWorker struct {
	start   scratch[uint32]
	entries scratch[uint64]       // larger vertex << 32 | facet << 1 | direction
	keys    [3 * blockSize]uint32 // half-edges of a block that belong to the window: smaller vertex,
	loose   [3 * blockSize]uint64 // and entry
	pairs   [pairsMax][2]uint32
	found   census
}

func (w *edgeWorker) free() {
	w.start.free()
	w.entries.free()
}

// half returns the smaller vertex and the entry of the half-edge u -> v of a facet.
func half(u, v uint32, facet uint64) (lo uint32, entry uint64) {
	backward := (uint64(v) - uint64(u)) >> 63 // 1 if u > v; a branch would be a gamble
	return min(u, v), uint64(max(u, v))<<32 | facet<<1 | backward
}

func (w *edgeWorker) window(m *Mesh, c *census, y *tally, from, to uint32) {
	width := to - from
	if len(w.start.s) < int(width) {
		w.start.free()
		w.start = newScratch[uint32](int(width))
	}
	start := w.start.s[:width]
	var sum uint32
	for k, d := range y.degree.s[from:to] {
		start[k] = sum
		sum += uint32(d)
		if d == full {
			sum += y.more[from+uint32(k)]
		}
	}
	if len(w.entries.s) < int(sum) {
		w.entries.free()
		w.entries = newScratch[uint64](int(sum) + int(sum)/8)
	}
	entries := w.entries.s[:sum]
	for b, s := range y.spans {
		if s.hi < from || s.lo >= to {
			continue
		}
		ts := m.Triangles[b*blockSize : min((b+1)*blockSize, len(m.Triangles))]
		if s.lo < from || s.hi >= to {
			n := w.filter(ts, uint64(b*blockSize), from, width)
			for i, k := range w.keys[:n] {
				place(start, entries, k, w.loose[i])
			}
			continue
		}
		for i, t := range ts {
			x, y, z := t[0], t[1], t[2]
			if x == y || y == z || z == x {
				continue
			}
			id := uint64(b*blockSize + i)
			lo, e := half(x, y, id)
			place(start, entries, lo-from, e)
			lo, e = half(y, z, id)
			place(start, entries, lo-from, e)
			lo, e = half(z, x, id)
			place(start, entries, lo-from, e)
		}
	}
	// Placing has moved each start to its bucket's end.
	var begin uint32
	pairs := 0
	for k, end := range start {
		pairs = w.bucket(m, c, from+uint32(k), entries[begin:end], pairs)
		begin = end
	}
	c.labels.join(w.pairs[:pairs])
}

func place(start []uint32, entries []uint64, k uint32, e uint64) {
	at := start[k]
	entries[at] = e
	start[k] = at + 1
}

// filter collects the half-edges of a block that belong to the window, and returns their number. It
// writes each of them and then counts it or not, since which it will be cannot be foretold where facets
// are shuffled.
func (w *edgeWorker) filter(ts [][3]uint32, first uint64, from, width uint32) int {
	at := 0
	add := func(lo uint32, e uint64) {
		w.keys[at], w.loose[at] = lo-from, e
		at += int((uint64(lo-from) - uint64(width)) >> 63) // 1 where it belongs
	}
	for i, t := range ts {
		x, y, z := t[0], t[1], t[2]
		if x == y || y == z || z == x {
			continue
		}
		id := first + uint64(i)
		add(half(x, y, id))
		add(half(y, z, id))
		add(half(z, x, id))
	}
	return at
}

// pairsMax is how many joins are saved up to be done together.
const pairsMax = 512

// bucket pairs the half-edges of one smaller vertex. n pairs wait to be joined; it returns how many do
// then.
func (w *edgeWorker) bucket(m *Mesh, c *census, lo uint32, e []uint64, n int) int {
	if len(e) <= maxInsertion {
		for i := 1; i < len(e); i++ {
			x := e[i]
			j := i
			for j > 0 && e[j-1] > x {
				e[j] = e[j-1]
				j--
			}
			e[j] = x
		}
	} else {
		slices.Sort(e)
	}
	for i := 0; i < len(e); {
		hi := e[i] >> 32
		if i+1 < len(e) && e[i+1]>>32 == hi && (i+2 >= len(e) || e[i+2]>>32 != hi) && (e[i]^e[i+1])&1 == 1 {
			w.pairs[n%pairsMax] = [2]uint32{uint32(e[i]) >> 1, uint32(e[i+1]) >> 1}
			if n++; n == pairsMax {
				c.labels.join(w.pairs[:n])
				n = 0
			}
			i += 2
			continue
		}
		j := i + 1
		for j < len(e) && e[j]>>32 == hi {
			j++
		}
		w.fault(m, c, lo, uint32(hi), e[i:j])
		i = j
	}
	return n
}

// fault counts an edge that is not shared by two facets in opposite directions.
func (w *edgeWorker) fault(m *Mesh, c *census, lo, hi uint32, e []uint64) {
	f := &w.found
	a, b := m.Vertices[lo], m.Vertices[hi]
	middle := [3]float64{
		(float64(a[0]) + float64(b[0])) / 2, (float64(a[1]) + float64(b[1])) / 2, (float64(a[2]) + float64(b[2])) / 2,
	}
	balance := 0
	for _, x := range e {
		balance += 1 - 2*int(x&1)
	}
	if balance != 0 {
		f.unbalanced++
	}
	switch len(e) {
	case 1:
		f.Open++
		set(c.leaky, uint32(e[0])>>1)
		f.open.add(middle)
		set(c.boundary, lo)
		set(c.boundary, hi)
		return
	case 2:
		f.Flipped++
		set(c.leaky, uint32(e[0])>>1)
		f.flipped.add(middle)
		c.labels.join([][2]uint32{{uint32(e[0]) >> 1, uint32(e[1]) >> 1}})
	default:
		f.Nonmanifold++
		w.radial(m, c, lo, hi, e)
		f.nonmanifold.add(middle)
	}
	for _, x := range e {
		set(c.suspects, uint32(x)>>1)
	}
}

// findCopies counts facets on the same three vertices among the suspects: those at an edge of more than
// two facets, or of two in the same direction. (Two facets back to back with nothing else at their edges
// are no suspects; shellsOf finds them.) Copies in the same direction belong to one shell, those in
// opposite directions are where two shells touch.
func (c *census) findCopies(m *Mesh) {
	type facet struct {
		corners [3]uint32 // from small to large
		odd     bool      // which way round
		id      uint32
	}
	var list []facet
	for word, set := range c.suspects {
		for ; set != 0; set &= set - 1 {
			id := uint32(word*32 + bits.TrailingZeros32(set))
			f := facet{corners: m.Triangles[id], id: id}
			t := &f.corners
			for _, p := range [3][2]int{{0, 1}, {1, 2}, {0, 1}} {
				if t[p[0]] > t[p[1]] {
					t[p[0]], t[p[1]] = t[p[1]], t[p[0]]
					f.odd = !f.odd
				}
			}
			list = append(list, f)
		}
	}
	slices.SortFunc(list, func(a, b facet) int {
		return cmp.Or(slices.Compare(a.corners[:], b.corners[:]), cmp.Compare(bit(a.odd), bit(b.odd)), cmp.Compare(a.id, b.id))
	})
	for i := 1; i < len(list); i++ {
		if f, before := list[i], list[i-1]; f.corners == before.corners {
			c.Duplicate++
			c.duplicates.add(m.centre(f.id))
			if f.odd == before.odd {
				c.labels.join([][2]uint32{{f.id, before.id}})
			}
		}
	}
}

// centre is the mean of the corners of triangle i.
func (m *Mesh) centre(i uint32) [3]float64 {
	t := m.Triangles[i]
	return centre([3][3]float32{m.Vertices[t[0]], m.Vertices[t[1]], m.Vertices[t[2]]})
}

// set sets a bit of a set that several goroutines fill.
func set(bits []uint32, i uint32) { atomic.OrUint32(&bits[i/32], 1<<(i%32)) }

// workerCount is how many goroutines share n pieces of work.
func workerCount(n int) int { return max(1, min(n, runtime.GOMAXPROCS(0))) }

// parallel runs do(worker, i) for i in [0, n). It hands the pieces out in order, and must not be
// relied on for more: results may depend neither on the worker nor on the order.
func parallel(n int, do func(worker, i int)) {
	workers := workerCount(n)
	if workers == 1 {
		for i := range n {
			do(0, i)
		}
		return
	}
	var next atomic.Int64
	var wait sync.WaitGroup
	for w := range workers {
		wait.Go(func() {
			for i := int(next.Add(1)) - 1; i < n; i = int(next.Add(1)) - 1 {
				do(w, i)
			}
		})
	}
	wait.Wait()
}
