package mesh

import (
	"encoding/binary"
	"math"
	"math/bits"
	"math/rand/v2"
)

// The exact weld gives equal corners one vertex. Its time is cache misses, so it works in batches of
// triangles: a small direct-mapped front cache answers the corners of the neighbouring facets, and
// what it misses is looked up in the big table together, first touching all slots, so that the
// misses overlap.

const (
	weldBatch  = 512     // triangles looked up together
	frontBits  = 13      // 2^13 entries of 16 bytes fit a second-level cache
	pendingBit = 1 << 31 // marks an id that stands for an entry of the pending list
)

type frontEntry struct {
	xy    uint64 // the bits of x, and those of y above them
	z, id uint32
}

type pendingVertex struct {
	x, y, z uint32
	front   uint32 // slot in the front cache
	hash    uint64
}

type welder struct {
	vertices  [][3]float32
	count     int // vertices in use
	triangles int // welded so far
	expected  int // triangles in all
	slots     scratch[uint32]
	room      int      // of slots at least, for what comes after the weld; untouched until then
	table     []uint32 // the beginning of slots
	mask      uint64
	idMask    uint32 // the low bits of a slot hold id+1, the others a tag from the hash
	idBits    uint
	seed      [2]uint64
	front     []frontEntry
	pending   []pendingVertex
	sink      uint32 // keeps the touching loop alive
	tally     *tally // what the edge pass wants to know, or nil
}

func newWelder(triangles, room int) *welder {
	// A closed mesh has about half as many vertices as triangles (Euler); others make the table grow.
	w := &welder{expected: triangles, room: room, front: make([]frontEntry, 1<<frontBits), pending: make([]pendingVertex, 3*weldBatch)}
	expected := triangles/2 + triangles/32 + 16
	w.vertices = large[[3]float32](expected)
	// The seed keeps a hand-made file from choosing collisions; no result depends on it, because ids
	// are given in order of first appearance.
	w.seed = [2]uint64{rand.Uint64() | 1, rand.Uint64() | 1}
	w.setTable(max(6, bits.Len(uint(expected*10/7))))
	// The empty entries read (0, 0, 0), a key that only the first slot is asked for; that one gets a
	// key of another slot.
	w.front[0].xy = 1
	return w
}

func (w *welder) setTable(k int) {
	w.slots.free()
	w.slots = newScratch[uint32](max(1<<k, w.room))
	w.table = w.slots.s[:1<<k]
	w.mask = 1<<k - 1
	w.idBits = uint(k)
	w.idMask = 1<<k - 1
}

// hash scrambles a vertex for the table. -0 must be +0 by then.
func (w *welder) hash(x, y, z uint32) uint64 {
	hi, lo := bits.Mul64((uint64(x)|uint64(y)<<32)^w.seed[0], uint64(z)*0x9e3779b97f4a7c15^w.seed[1])
	return hi ^ lo
}

// home is the slot where the search for a hash begins, tag what the slot holds above the id. They use
// different bits of the hash.
func (w *welder) home(h uint64) uint64 { return h & w.mask }
func (w *welder) tag(h uint64) uint32  { return uint32(h>>32) &^ w.idMask }

// positive turns the bit pattern of -0 into that of +0: they are one place.
func positive(b uint32) uint32 {
	m := b << 1
	return b & -((m | -m) >> 31)
}

// batch welds the triangles of s in [from, to), at most weldBatch, into out.
func (w *welder) batch(s Soup, from, to int, out [][3]uint32) {
	w.reserve(3 * (to - from))
	w.triangles += to - from
	pending := w.pending[:3*weldBatch]
	front := w.front
	stride := s.Stride
	n := 0
	for i := from; i < to; i++ {
		b := s.Data[i*stride+s.Offset:]
		b = b[:corners:corners]
		t := &out[i]
		for k := range 3 {
			xy := binary.LittleEndian.Uint64(b[12*k:])
			z := binary.LittleEndian.Uint32(b[12*k+8:])
			// The front cache goes by the raw bits; any cheap scramble will do.
			slot := uint32((xy*0x9e3779b97f4a7c15 + uint64(z)*0xc2b2ae3d27d4eb4f) >> (64 - frontBits))
			e := &front[slot]
			if e.xy == xy && e.z == z {
				t[k] = e.id
				continue
			}
			id := pendingBit | uint32(n)
			e.xy, e.z, e.id = xy, z, id
			x, y := positive(uint32(xy)), positive(uint32(xy>>32))
			z = positive(z)
			// Field by field: a struct would be put together elsewhere and copied, which stalls.
			p := &pending[n]
			p.x, p.y, p.z, p.front, p.hash = x, y, z, slot, w.hash(x, y, z)
			n++
			t[k] = id
		}
	}
	pending = pending[:n]
	w.touch(pending)
	w.resolve(pending)
	for i := range pending {
		p := &pending[i]
		if e := &front[p.front]; e.id == pendingBit|uint32(i) {
			e.id = p.x // resolve left the id there
		}
	}
	for i := from; i < to; i++ {
		t := &out[i]
		for k, id := range t {
			if id&pendingBit != 0 {
				t[k] = pending[id&^pendingBit].x
			}
		}
	}
	if w.tally != nil {
		w.tally.count(out[from:to], w.triangles-(to-from))
	}
}

// touch brings the slots, and then the vertices that they seem to name, into the cache. Each loop is
// short enough for the processor to have many of its loads under way at once.
func (w *welder) touch(pending []pendingVertex) {
	table, mask := w.table, w.mask
	var sum uint32
	for i := range pending {
		sum += table[pending[i].hash&mask]
	}
	for i := range pending {
		h := pending[i].hash
		if slot := table[h&mask]; slot&^w.idMask == w.tag(h) && slot != 0 {
			sum += math.Float32bits(w.vertices[slot&w.idMask-1][0])
		}
	}
	w.sink += sum
}

// resolve finds or makes the vertex of every pending corner, in order, and leaves its id in x.
func (w *welder) resolve(pending []pendingVertex) {
	table, mask := w.table, w.mask
	for i := range pending {
		p := &pending[i]
		tag := w.tag(p.hash)
		at := w.home(p.hash)
		for {
			slot := table[at]
			if slot == 0 {
				v := &w.vertices[w.count]
				v[0], v[1], v[2] = math.Float32frombits(p.x), math.Float32frombits(p.y), math.Float32frombits(p.z)
				p.x = uint32(w.count)
				w.count++
				table[at] = tag | uint32(w.count)
				break
			}
			if slot&^w.idMask == tag {
				id := slot&w.idMask - 1
				v := &w.vertices[id]
				if math.Float32bits(v[0]) == p.x && math.Float32bits(v[1]) == p.y && math.Float32bits(v[2]) == p.z {
					p.x = id
					break
				}
			}
			at = (at + 1) & mask
		}
	}
}

// reserve makes room for n more vertices, at a load of at most 0.7. Where the guess of newWelder was too
// low it takes what the triangles so far let expect of the whole, so that it need not grow often.
func (w *welder) reserve(n int) {
	need := w.count + n
	if need > len(w.vertices) {
		size := need + need/2
		if w.triangles > 0 {
			perTriangle := float64(w.count) / float64(w.triangles)
			size = max(size, int(1.05*perTriangle*float64(w.expected)))
		}
		more := large[[3]float32](size)
		copy(more, w.vertices[:w.count])
		w.vertices = more
		if w.tally != nil {
			degree := newScratch[uint8](size)
			copy(degree.s, w.tally.degree.s)
			w.tally.degree.free()
			w.tally.degree = degree
		}
	}
	if need <= len(w.table)*7/10 {
		return
	}
	k := int(w.idBits) + 1
	for need > (1<<k)*7/10 {
		k++
	}
	w.setTable(k)
	for id, v := range w.vertices[:w.count] {
		h := w.hash(math.Float32bits(v[0]), math.Float32bits(v[1]), math.Float32bits(v[2]))
		at := w.home(h)
		for w.table[at] != 0 {
			at = (at + 1) & w.mask
		}
		w.table[at] = w.tag(h) | uint32(id+1)
	}
}

// Weld gives equal corners of s one vertex (-0 equals +0), numbered in order of first appearance.
// Coordinates are compared bit by bit; a coordinate that is not finite is an error (*NotFiniteError).
func Weld(s Soup) (*Mesh, error) {
	m, table, y := weld(s, NewBuilder(s.Len()))
	table.free()
	y.degree.free()
	for _, v := range m.Vertices {
		if d := (v[0] - v[0]) + (v[1] - v[1]) + (v[2] - v[2]); d != 0 { // 0 for numbers, NaN for the rest
			for i := range s.Len() {
				if e := notFinite(s, i, i); e != nil {
					return nil, e
				}
			}
		}
	}
	return m, nil
}

// weld welds s into b, which is fresh and made for it. It also returns the table, memory that the next
// step may use and has to free, and the tally.
func weld(s Soup, b *Builder) (*Mesh, scratch[uint32], *tally) {
	b.w.tally = &tally{degree: newScratch[uint8](len(b.w.vertices))}
	done := false
	defer func() {
		if !done { // the file was cut short under us
			b.Close()
		}
	}()
	b.Add(s)
	done = true
	return b.mesh(), b.w.slots, b.w.tally
}

// Builder welds triangles that come in runs, for readers that do not hold all of them at once.
type Builder struct {
	w         *welder
	triangles [][3]uint32
}

// NewBuilder prepares for about the given number of triangles; more may come.
func NewBuilder(expected int) *Builder { return newBuilder(expected, 0) }

// newBuilder is NewBuilder with a table that has room for at least so many numbers when the weld is done.
func newBuilder(expected, room int) *Builder {
	return &Builder{newWelder(expected, room), large[[3]uint32](expected)[:0]}
}

// Add welds the triangles of s, whose coordinates the caller knows to be finite, to those before them.
func (b *Builder) Add(s Soup) {
	n, old := s.Len(), len(b.triangles)
	if old+n > cap(b.triangles) {
		more := large[[3]uint32](max(old+n, cap(b.triangles)*3/2))
		copy(more, b.triangles)
		b.triangles = more
	}
	b.triangles = b.triangles[:old+n]
	out := b.triangles[old:]
	for from := 0; from < n; from += weldBatch {
		b.w.batch(s, from, min(from+weldBatch, n), out)
	}
}

// Mesh returns the mesh of all triangles added, and closes the Builder.
func (b *Builder) Mesh() *Mesh {
	b.Close()
	return b.mesh()
}

// Close gives the working memory back; the Builder must not be used after it. It may be called twice.
func (b *Builder) Close() {
	b.w.slots.free()
	b.w.table = nil
	if b.w.tally != nil {
		b.w.tally.degree.free()
	}
}

func (b *Builder) mesh() *Mesh {
	return &Mesh{Vertices: b.w.vertices[:b.w.count:b.w.count], Triangles: b.triangles}
}

// Merge returns m with vertices of equal place made one, numbered in order of first use: for meshes
// whose file shares vertices only in part. Unused vertices are dropped.
func Merge(m *Mesh) *Mesh {
	n := len(m.Triangles)
	b := NewBuilder(n)
	buf := make([]byte, weldBatch*corners)
	for from := 0; from < n; from += weldBatch {
		b.Add(Soup{Data: gather(buf, m, from, min(from+weldBatch, n)), Stride: corners})
	}
	return b.Mesh()
}
