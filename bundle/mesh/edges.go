package mesh

import (
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
	parentMemory                           scratch[uint32]
	parent                                 []uint32 // union-find over facets, joined across edges of two facets
	collapsed                              int      // facets with two equal vertices: they have no edges to match
	boundary                               []uint32 // a bit per vertex at an open edge
	leaky                                  []uint32 // a bit per facet at an unbalanced edge: its shell encloses nothing
}

// The pass goes through the vertices in windows. The half-edges of a window (those whose smaller
// vertex lies in it) are put into buckets by that vertex with a counting sort, and each bucket, a
// handful of entries, is sorted and paired. Windows are worked on in parallel; all results are counts,
// sets and smallest places, so they do not depend on who did which window.
const (
	blockSize    = 4096    // facets whose range of vertices is noted together
	windowMin    = 1 << 16 // vertices in a window: its entries fit the second and third level cache
	windowsMax   = 16      // but never more passes than this over shuffled facets
	maxInsertion = 24      // longest bucket that is sorted by insertion
)

type span struct{ lo, hi uint32 }

// censusOf takes over spare, whatever it holds. The caller frees the census.
func censusOf(m *Mesh, spare scratch[uint32]) *census {
	n, nv := len(m.Triangles), len(m.Vertices)
	if len(spare.s) < n {
		spare.free()
		spare = newScratch[uint32](n)
	}
	c := &census{parent: spare.s[:n], parentMemory: spare, leaky: make([]uint32, n/32+1), boundary: make([]uint32, nv/32+1)}
	c.Vertices = nv
	blocks := (n + blockSize - 1) / blockSize
	spans := make([]span, blocks)
	collapsed := make([]int, blocks)
	parallel(blocks, func(_, b int) {
		from, to := b*blockSize, min((b+1)*blockSize, n)
		s := span{^uint32(0), 0}
		for i := from; i < to; i++ {
			c.parent[i] = uint32(i)
			t := m.Triangles[i]
			if t[0] == t[1] || t[1] == t[2] || t[2] == t[0] {
				collapsed[b]++
				continue
			}
			s.lo, s.hi = min(s.lo, t[0], t[1], t[2]), max(s.hi, t[0], t[1], t[2])
		}
		spans[b] = s
	})
	for _, k := range collapsed {
		c.collapsed += k
	}

	reach := 0
	for _, s := range spans {
		reach += max(0, int(s.hi)-int(s.lo))
	}
	size := max(windowMin, (nv+windowsMax-1)/windowsMax)
	if reach > blocks*nv/4 {
		// Shuffled facets: every block has to do with every window, whose half-edges are set aside
		// before they are sorted. Smaller windows save that memory.
		size = max(windowMin/8, (nv+windowsMax-1)/windowsMax)
	}
	windows := (nv + size - 1) / size
	workers := make([]edgeWorker, workerCount(windows))
	parallel(windows, func(w, i int) {
		workers[w].window(m, c, spans, uint32(i*size), uint32(min((i+1)*size, nv)))
	})
	for i := range workers {
		c.merge(&workers[i].found)
		workers[i].free()
	}
	return c
}

func (c *census) free() {
	c.parent = nil
	c.parentMemory.free()
}

func (c *census) merge(o *census) {
	c.Open += o.Open
	c.Nonmanifold += o.Nonmanifold
	c.Flipped += o.Flipped
	c.Duplicate += o.Duplicate
	c.unbalanced += o.unbalanced
	c.open.merge(&o.open)
	c.nonmanifold.merge(&o.nonmanifold)
	c.flipped.merge(&o.flipped)
	c.duplicates.merge(&o.duplicates)
}

// edgeWorker keeps the memory of one worker from window to window.
type edgeWorker struct {
	start   scratch[uint32]
	entries scratch[uint64] // larger vertex << 32 | facet << 1 | direction
	keys    scratch[uint32] // half-edges of blocks that lie in the window in part: smaller vertex,
	loose   scratch[uint64] // and entry
	held    int             // how many
	pairs   [pairsMax][2]uint32
	sink    uint32
	found   census
}

func (w *edgeWorker) free() {
	w.start.free()
	w.entries.free()
	w.keys.free()
	w.loose.free()
}

// half returns the smaller vertex and the entry of the half-edge u -> v of a facet.
func half(u, v uint32, facet uint64) (lo uint32, entry uint64) {
	lo, hi := min(u, v), max(u, v)
	entry = uint64(hi)<<32 | facet<<1
	if u > v {
		entry |= 1
	}
	return lo, entry
}

func (w *edgeWorker) window(m *Mesh, c *census, spans []span, from, to uint32) {
	width := to - from
	if len(w.start.s) < int(width) {
		w.start.free()
		w.start = newScratch[uint32](int(width))
	}
	start := w.start.s[:width]
	clear(start)
	w.held = 0
	for b, s := range spans {
		switch {
		case s.hi < from || s.lo >= to:
		case s.lo >= from && s.hi < to:
			for _, t := range block(m, b) {
				x, y, z := t[0], t[1], t[2]
				if x == y || y == z || z == x {
					continue
				}
				start[min(x, y)-from]++
				start[min(y, z)-from]++
				start[min(z, x)-from]++
			}
		default:
			before := w.held
			w.filter(block(m, b), uint64(b*blockSize), from, width)
			for _, k := range w.keys.s[before:w.held] {
				start[k]++
			}
		}
	}
	var sum uint32
	for k, v := range start {
		start[k] = sum
		sum += v
	}
	if len(w.entries.s) < int(sum) {
		w.entries.free()
		w.entries = newScratch[uint64](int(sum) + int(sum)/8)
	}
	entries := w.entries.s[:sum]
	place := func(lo uint32, e uint64) {
		at := start[lo]
		start[lo] = at + 1
		entries[at] = e
	}
	for b, s := range spans {
		if s.lo < from || s.hi >= to {
			continue
		}
		for i, t := range block(m, b) {
			x, y, z := t[0], t[1], t[2]
			if x == y || y == z || z == x {
				continue
			}
			id := uint64(b*blockSize + i)
			lo, e := half(x, y, id)
			place(lo-from, e)
			lo, e = half(y, z, id)
			place(lo-from, e)
			lo, e = half(z, x, id)
			place(lo-from, e)
		}
	}
	for i, k := range w.keys.s[:w.held] {
		place(k, w.loose.s[i])
	}
	// Placing has moved each start to its bucket's end.
	var begin uint32
	pairs := 0
	for k, end := range start {
		pairs = w.bucket(m, c, from+uint32(k), entries[begin:end], pairs)
		begin = end
	}
	w.join(c, pairs)
}

// block is the run of triangles number b.
func block(m *Mesh, b int) [][3]uint32 {
	return m.Triangles[b*blockSize : min((b+1)*blockSize, len(m.Triangles))]
}

// filter collects the half-edges of ts that belong to the window. It writes each of them and then
// counts it or not, since which it will be cannot be foretold when facets are shuffled.
func (w *edgeWorker) filter(ts [][3]uint32, first uint64, from, width uint32) {
	at := w.held
	if need := at + 3*blockSize; need > len(w.keys.s) {
		// A vertex has three edges to larger ones on average, each with two half-edges.
		size := max(need, at*2, 6*int(width)+6*blockSize)
		keys, loose := newScratch[uint32](size), newScratch[uint64](size)
		copy(keys.s, w.keys.s[:at])
		copy(loose.s, w.loose.s[:at])
		w.keys.free()
		w.loose.free()
		w.keys, w.loose = keys, loose
	}
	keys, loose := w.keys.s[:at+3*blockSize], w.loose.s[:at+3*blockSize]
	for i, t := range ts {
		x, y, z := t[0], t[1], t[2]
		if x == y || y == z || z == x {
			continue
		}
		id := first + uint64(i)
		lo, e := half(x, y, id)
		keys[at], loose[at] = lo-from, e
		at += int((uint64(lo-from) - uint64(width)) >> 63)
		lo, e = half(y, z, id)
		keys[at], loose[at] = lo-from, e
		at += int((uint64(lo-from) - uint64(width)) >> 63)
		lo, e = half(z, x, id)
		keys[at], loose[at] = lo-from, e
		at += int((uint64(lo-from) - uint64(width)) >> 63)
	}
	w.held = at
}

// pairsMax is how many joins are saved up to be done together.
const pairsMax = 512

// join joins the facets of the first n pairs. It touches all of them beforehand, so that cache misses
// overlap.
func (w *edgeWorker) join(c *census, n int) {
	parent := c.parent
	for _, p := range w.pairs[:n] {
		w.sink += parentOf(parent, p[0]) + parentOf(parent, p[1])
	}
	for _, p := range w.pairs[:n] {
		if parentOf(parent, p[0]) != parentOf(parent, p[1]) {
			union(parent, p[0], p[1])
		}
	}
}

func parentOf(parent []uint32, i uint32) uint32 { return atomic.LoadUint32(&parent[i]) }

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
				w.join(c, n)
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
		c.markLeaky(uint32(e[0]) >> 1)
		f.open.add(middle)
		atomic.OrUint32(&c.boundary[lo/32], 1<<(lo%32))
		atomic.OrUint32(&c.boundary[hi/32], 1<<(hi%32))
		return
	case 2:
		f.Flipped++
		c.markLeaky(uint32(e[0]) >> 1)
		f.flipped.add(middle)
		union(c.parent, uint32(e[0])>>1, uint32(e[1])>>1)
	default:
		f.Nonmanifold++
		w.radial(m, c, lo, hi, e)
		f.nonmanifold.add(middle)
	}
	w.duplicates(m, c, lo, hi, e)
}

// duplicates counts facets on the same three vertices. Each such set is counted at the edge of its
// two smaller vertices only. Copies in the same direction belong to one shell; in opposite directions
// they are where two shells touch.
func (w *edgeWorker) duplicates(m *Mesh, c *census, lo, hi uint32, e []uint64) {
	opposite := make([]uint64, 0, len(e)) // opposite vertex << 32 | facet << 1 | direction
	for _, x := range e {
		t := m.Triangles[uint32(x)>>1]
		if o := t[0] ^ t[1] ^ t[2] ^ lo ^ hi; o > hi {
			opposite = append(opposite, uint64(o)<<32|x&0xffffffff)
		}
	}
	slices.Sort(opposite)
	for i := 0; i < len(opposite); {
		seen := [2]uint64{}
		j := i
		for ; j < len(opposite) && opposite[j]>>32 == opposite[i]>>32; j++ {
			x := opposite[j]
			if j > i {
				w.found.Duplicate++
				w.found.duplicates.add(m.centre(uint32(x) >> 1))
			}
			if first := &seen[x&1]; *first == 0 {
				*first = x
			} else {
				union(c.parent, uint32(*first)>>1, uint32(x)>>1)
			}
		}
		i = j
	}
}

// centre is the mean of the corners of triangle i.
func (m *Mesh) centre(i uint32) [3]float64 {
	t := m.Triangles[i]
	return centre([3][3]float32{m.Vertices[t[0]], m.Vertices[t[1]], m.Vertices[t[2]]})
}

// union joins the sets of a and b without locks: the larger root is hung below the smaller one, so the
// root of a shell is its first facet, whatever the order of the unions.
func union(parent []uint32, a, b uint32) {
	for {
		a, b = find(parent, a), find(parent, b)
		if a == b {
			return
		}
		if a < b {
			a, b = b, a
		}
		if atomic.CompareAndSwapUint32(&parent[a], a, b) {
			return
		}
	}
}

// find returns the root of i, halving the path on the way.
func find(parent []uint32, i uint32) uint32 {
	for {
		p := atomic.LoadUint32(&parent[i])
		if p == i {
			return i
		}
		q := atomic.LoadUint32(&parent[p])
		if p == q {
			return p
		}
		atomic.CompareAndSwapUint32(&parent[i], p, q)
		i = q
	}
}

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
