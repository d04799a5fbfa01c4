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

func censusOf(m *Mesh) *census {
	n, nv := len(m.Triangles), len(m.Vertices)
	c := &census{parent: large[uint32](n), leaky: make([]uint32, n/32+1), boundary: make([]uint32, nv/32+1)}
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
			lo, hi := smallerVertices(t)
			s.lo, s.hi = min(s.lo, lo), max(s.hi, hi)
		}
		spans[b] = s
	})
	for _, k := range collapsed {
		c.collapsed += k
	}

	size := max(windowMin, (nv+windowsMax-1)/windowsMax)
	windows := (nv + size - 1) / size
	workers := make([]edgeWorker, workerCount(windows))
	parallel(windows, func(w, i int) {
		workers[w].window(m, c, spans, uint32(i*size), uint32(min((i+1)*size, nv)))
	})
	for i := range workers {
		c.merge(&workers[i].found)
	}
	return c
}

// smallerVertices returns the smallest and the largest of the smaller vertices of t's edges.
func smallerVertices(t [3]uint32) (lo, hi uint32) {
	a, b, c := t[0], t[1], t[2]
	if a > b {
		a, b = b, a
	}
	if b > c {
		b = c
		if a > b {
			a, b = b, a
		}
	}
	return a, b
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
	start   []uint32
	entries []uint64 // larger vertex << 32 | facet << 1 | direction
	found   census
}

func (w *edgeWorker) window(m *Mesh, c *census, spans []span, from, to uint32) {
	n := len(m.Triangles)
	width := to - from
	if cap(w.start) < int(width)+1 {
		w.start = large[uint32](int(width) + 1)
	}
	start := w.start[:width+1]
	clear(start)
	for b, s := range spans {
		if s.hi < from || s.lo >= to {
			continue
		}
		for _, t := range m.Triangles[b*blockSize : min((b+1)*blockSize, n)] {
			x, y, z := t[0], t[1], t[2]
			if x == y || y == z || z == x {
				continue
			}
			if k := min(x, y) - from; k < width {
				start[k]++
			}
			if k := min(y, z) - from; k < width {
				start[k]++
			}
			if k := min(z, x) - from; k < width {
				start[k]++
			}
		}
	}
	var sum uint32
	for k, v := range start {
		start[k] = sum
		sum += v
	}
	if cap(w.entries) < int(sum) {
		w.entries = large[uint64](int(sum) + int(sum)/8)
	}
	entries := w.entries[:sum]
	for b, s := range spans {
		if s.hi < from || s.lo >= to {
			continue
		}
		base := b * blockSize
		for i, t := range m.Triangles[base:min(base+blockSize, n)] {
			x, y, z := t[0], t[1], t[2]
			if x == y || y == z || z == x {
				continue
			}
			id := uint64(base+i) << 1
			place(start, entries, from, width, x, y, id)
			place(start, entries, from, width, y, z, id)
			place(start, entries, from, width, z, x, id)
		}
	}
	// Placing has moved each start to its bucket's end.
	var begin uint32
	for k := range width {
		end := start[k]
		w.bucket(m, c, from+k, entries[begin:end])
		begin = end
	}
}

// place enters the half-edge u -> v if its smaller vertex is in the window.
func place(start []uint32, entries []uint64, from, width, u, v uint32, id uint64) {
	lo, hi := u, v
	if u > v {
		lo, hi = v, u
		id |= 1
	}
	k := lo - from
	if k >= width {
		return
	}
	at := start[k]
	start[k] = at + 1
	entries[at] = uint64(hi)<<32 | id
}

// bucket pairs the half-edges of one smaller vertex.
func (w *edgeWorker) bucket(m *Mesh, c *census, lo uint32, e []uint64) {
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
			union(c.parent, uint32(e[i])>>1, uint32(e[i+1])>>1)
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
		tri := uint32(e[0]) >> 1
		atomic.OrUint32(&c.leaky[tri/32], 1<<(tri%32))
	}
	switch len(e) {
	case 1:
		f.Open++
		f.open.add(middle)
		atomic.OrUint32(&c.boundary[lo/32], 1<<(lo%32))
		atomic.OrUint32(&c.boundary[hi/32], 1<<(hi%32))
		return
	case 2:
		f.Flipped++
		f.flipped.add(middle)
		union(c.parent, uint32(e[0])>>1, uint32(e[1])>>1)
	default:
		f.Nonmanifold++
		f.nonmanifold.add(middle)
	}
	w.duplicates(m, lo, hi, e)
}

// duplicates counts facets on the same three vertices. Each such set is counted at the edge of its
// two smaller vertices only.
func (w *edgeWorker) duplicates(m *Mesh, lo, hi uint32, e []uint64) {
	opposite := make([]uint64, 0, len(e))
	for _, x := range e {
		t := m.Triangles[uint32(x)>>1]
		if o := t[0] ^ t[1] ^ t[2] ^ lo ^ hi; o > hi {
			opposite = append(opposite, uint64(o)<<32|x&0xffffffff>>1)
		}
	}
	slices.Sort(opposite)
	for i := 1; i < len(opposite); i++ {
		if opposite[i]>>32 == opposite[i-1]>>32 {
			w.found.Duplicate++
			w.found.duplicates.add(m.centre(uint32(opposite[i])))
		}
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
