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
	frontSlots = 1 << 13 // 16 bytes each: fits a second-level cache
	pendingBit = 1 << 31 // marks an id that stands for an entry of the pending list
)

type frontEntry struct{ x, y, z, id uint32 }

type pendingVertex struct {
	x, y, z uint32
	front   uint32 // slot in the front cache
	hash    uint64
}

type welder struct {
	vertices [][3]float32
	count    int // vertices in use
	table    []uint32
	mask     uint64
	idMask   uint32 // the low bits of a slot hold id+1, the others a tag from the hash
	idBits   uint
	seed     [2]uint64
	front    []frontEntry
	pending  []pendingVertex
	sink     uint32 // keeps the touching loop alive
}

func newWelder(triangles int) *welder {
	// A closed mesh has about half as many vertices as triangles (Euler); others make the table grow.
	w := &welder{front: make([]frontEntry, frontSlots), pending: make([]pendingVertex, 3*weldBatch)}
	expected := triangles/2 + triangles/32 + 16
	w.vertices = large[[3]float32](expected)
	// The seed keeps a hand-made file from choosing collisions; no result depends on it, because ids
	// are given in order of first appearance.
	w.seed = [2]uint64{rand.Uint64() | 1, rand.Uint64() | 1}
	w.setTable(max(6, bits.Len(uint(expected*5/3))))
	for i := range w.front {
		w.front[i].x = math.MaxUint32 // a NaN pattern: equals no finite coordinate
	}
	return w
}

func (w *welder) setTable(k int) {
	w.table = large[uint32](1 << k)
	w.mask = 1<<k - 1
	w.idBits = uint(k)
	w.idMask = 1<<k - 1
}

func (w *welder) hash(x, y, z uint32) uint64 {
	hi, lo := bits.Mul64((uint64(x)|uint64(y)<<32)^w.seed[0], uint64(z)*0x9e3779b97f4a7c15^w.seed[1])
	return hi ^ lo
}

// tag places the upper hash bits above the id of a slot.
func (w *welder) tag(h uint64) uint32 { return uint32(h>>32) &^ w.idMask }

// positive turns the bit pattern of -0 into that of +0: they are one place.
func positive(b uint32) uint32 {
	m := b << 1
	return b & -((m | -m) >> 31)
}

// batch welds the triangles of s in [from, to), at most weldBatch, into out.
func (w *welder) batch(s Soup, from, to int, out [][3]uint32) {
	pending := w.pending[:0]
	front := w.front
	stride := s.Stride
	for i := from; i < to; i++ {
		b := s.Data[i*stride+s.Offset:]
		b = b[:corners:corners]
		t := &out[i]
		for k := range 3 {
			c := b[12*k : 12*k+12 : 12*k+12]
			x := positive(binary.LittleEndian.Uint32(c[0:4]))
			y := positive(binary.LittleEndian.Uint32(c[4:8]))
			z := positive(binary.LittleEndian.Uint32(c[8:12]))
			h := w.hash(x, y, z)
			slot := h % frontSlots
			e := &front[slot]
			if e.x == x && e.y == y && e.z == z {
				t[k] = e.id
				continue
			}
			id := pendingBit | uint32(len(pending))
			pending = append(pending, pendingVertex{x, y, z, uint32(slot), h})
			*e = frontEntry{x, y, z, id}
			t[k] = id
		}
	}
	if len(pending) == 0 {
		return
	}
	w.reserve(len(pending))
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
}

// touch brings the slots, and then the vertices that they name, into the cache.
func (w *welder) touch(pending []pendingVertex) {
	var sum uint32
	for i := range pending {
		sum += w.table[(pending[i].hash>>13)&w.mask]
	}
	w.sink += sum
}

// resolve finds or makes the vertex of every pending corner, in order, and leaves its id in x.
func (w *welder) resolve(pending []pendingVertex) {
	table, mask := w.table, w.mask
	for i := range pending {
		p := &pending[i]
		tag := w.tag(p.hash)
		at := (p.hash >> 13) & mask
		for {
			slot := table[at]
			if slot == 0 {
				w.vertices[w.count] = [3]float32{math.Float32frombits(p.x), math.Float32frombits(p.y), math.Float32frombits(p.z)}
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

// reserve makes room for n more vertices, at a load of at most 0.6.
func (w *welder) reserve(n int) {
	if need := w.count + n; need > len(w.vertices) {
		more := large[[3]float32](max(need, len(w.vertices)*3/2))
		copy(more, w.vertices[:w.count])
		w.vertices = more
	}
	if w.count+n <= len(w.table)*3/5 {
		return
	}
	k := int(w.idBits) + 1
	for w.count+n > (1<<k)*3/5 {
		k++
	}
	w.setTable(k)
	for id, v := range w.vertices[:w.count] {
		h := w.hash(math.Float32bits(v[0]), math.Float32bits(v[1]), math.Float32bits(v[2]))
		at := (h >> 13) & w.mask
		for w.table[at] != 0 {
			at = (at + 1) & w.mask
		}
		w.table[at] = w.tag(h) | uint32(id+1)
	}
}

// Weld gives equal corners of s one vertex (-0 equals +0), numbered in order of first appearance.
// Coordinates are compared bit by bit; a coordinate that is not finite is an error (*NotFiniteError).
func Weld(s Soup) (*Mesh, error) {
	m := weld(s)
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

func weld(s Soup) *Mesh {
	n := s.Len()
	w := newWelder(n)
	tris := large[[3]uint32](n)
	for from := 0; from < n; from += weldBatch {
		w.batch(s, from, min(from+weldBatch, n), tris)
	}
	return &Mesh{Vertices: w.vertices[:w.count:w.count], Triangles: tris}
}

// Merge returns m with vertices of equal place made one, numbered in order of first use: for meshes
// whose file shares vertices only in part. Unused vertices are dropped.
func Merge(m *Mesh) *Mesh {
	n := len(m.Triangles)
	w := newWelder(n)
	tris := large[[3]uint32](n)
	buf := make([]byte, weldBatch*corners)
	for from := 0; from < n; from += weldBatch {
		to := min(from+weldBatch, n)
		part := Soup{Data: gather(buf, m, from, to), Stride: corners}
		w.batch(part, 0, to-from, tris[from:to])
	}
	return &Mesh{Vertices: w.vertices[:w.count:w.count], Triangles: tris}
}
