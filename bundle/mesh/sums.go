package mesh

import (
	"encoding/binary"
	"math"
	"math/bits"
)

// Sums over facets must not depend on the order of the facets nor on the number of workers, so they
// are not added as floats. Each facet's share is computed in float64, from coordinates scaled by a
// power of two into (-1, 1), then cut to a fixed-point integer; integers add up the same in any order.
// The cut is 2^-45 of the bounding cube per facet, far below what float32 vertices carry.

const (
	sumChunk = 8192 // facets whose integer sums cannot overflow; see the bounds below

	// With |a|, |b|, |c| < 1 an edge is below 2 per axis, the doubled normal n below 8 per axis, so
	// |a.n| < 24, |n| < 13.9 and |(a+b+c)(a.n)| < 72 per axis. Times sumChunk = 2^13 these stay below 2^63.
	volumeBits = 45
	areaBits   = 46
	momentBits = 43
)

// int128 is a two's complement sum.
type int128 struct{ hi, lo uint64 }

func (s *int128) add(v int64) {
	var carry uint64
	s.lo, carry = bits.Add64(s.lo, uint64(v), 0)
	s.hi, _ = bits.Add64(s.hi, uint64(v>>63), carry)
}

func (s *int128) addAll(o int128) {
	var carry uint64
	s.lo, carry = bits.Add64(s.lo, o.lo, 0)
	s.hi, _ = bits.Add64(s.hi, o.hi, carry)
}

// float is the value, rounded; the sign is taken out first so that a and -a differ in sign alone.
func (s int128) float() float64 {
	if int64(s.hi) < 0 {
		lo, borrow := bits.Sub64(0, s.lo, 0)
		hi, _ := bits.Sub64(0, s.hi, borrow)
		return -int128{hi, lo}.float()
	}
	return math.Ldexp(float64(s.hi), 64) + float64(s.lo)
}

// frame is the scaling of the sums: p -> (p - origin) / 2^exp.
type frame struct {
	origin [3]float64
	exp    int
}

// frameFor is the frame of a bounding box, and of nothing else: so it is the same for any order. The
// origin stays at 0 unless the part lies far from it, where the products would lose digits.
func frameFor(b box) frame {
	var f frame
	extent := 0.0
	for a := range 3 {
		extent = max(extent, float64(b.hi[a])-float64(b.lo[a]))
	}
	reach := 0.0
	for a := range 3 {
		l, h := float64(b.lo[a]), float64(b.hi[a])
		if max(math.Abs(l), math.Abs(h)) > 8*extent {
			f.origin[a] = (l + h) / 2
		}
		reach = max(reach, math.Abs(l-f.origin[a]), math.Abs(h-f.origin[a]))
	}
	_, f.exp = math.Frexp(reach) // reach < 2^exp
	return f
}

// guessFrame looks at a few facets all over the mesh: nearly always the frame of the whole, which
// saves the pass over the file that finding the bounding box first would cost.
func guessFrame(s Soup) frame {
	n := s.Len()
	step := max(1, n/512)
	p := s.At(0)[0]
	b := box{p, p}
	for i := step; i < n; i += step {
		p = s.At(i)[0]
		b.grow(&p)
	}
	return frameFor(b)
}

// totals are the sums of some facets in one frame.
type totals struct {
	count      int
	volume     int128
	area       int128
	moment     [3]int128
	degenerate int
	flat       places // where the degenerate ones lie
	bad        int    // first facet with a coordinate that is not finite, or -1
}

func newTotals() totals { return totals{bad: -1} }

// merge adds o, whose facets lie behind or before those of t.
func (t *totals) merge(o *totals) {
	if o.bad >= 0 && (t.bad < 0 || o.bad < t.bad) {
		t.bad = o.bad
	}
	t.count += o.count
	for a := range 3 {
		t.moment[a].addAll(o.moment[a])
	}
	t.volume.addAll(o.volume)
	t.area.addAll(o.area)
	t.degenerate += o.degenerate
	t.flat.merge(&o.flat)
}

// add sums the facets [from, to) of s; number is the number of facet `from` in the whole mesh.
// The float64 conversions of products keep compilers from fusing multiply and add, which would give
// other last digits on other processors (Go specification, "Floating-point operators").
func (t *totals) add(s Soup, from, to, number int, f frame) {
	for from < to {
		next := min(from+sumChunk, to)
		t.chunk(s, from, next, number, f)
		number += next - from
		from = next
	}
}

func (t *totals) chunk(s Soup, from, to, number int, f frame) {
	// The scaling is by powers of two, hence exact, and so may come last.
	volumeScale := math.Ldexp(1, volumeBits-3*f.exp)
	areaScale := math.Ldexp(1, areaBits-2*f.exp)
	momentScale := math.Ldexp(1, momentBits-4*f.exp)
	ox, oy, oz := f.origin[0], f.origin[1], f.origin[2]
	var volume, area, mx, my, mz int64
	stride := s.Stride
	for i := from; i < to; i++ {
		c := s.Data[i*stride+s.Offset:]
		c = c[:corners:corners]
		ax := float64(math.Float32frombits(binary.LittleEndian.Uint32(c[0:])))
		ay := float64(math.Float32frombits(binary.LittleEndian.Uint32(c[4:])))
		az := float64(math.Float32frombits(binary.LittleEndian.Uint32(c[8:])))
		bx := float64(math.Float32frombits(binary.LittleEndian.Uint32(c[12:])))
		by := float64(math.Float32frombits(binary.LittleEndian.Uint32(c[16:])))
		bz := float64(math.Float32frombits(binary.LittleEndian.Uint32(c[20:])))
		cx := float64(math.Float32frombits(binary.LittleEndian.Uint32(c[24:])))
		cy := float64(math.Float32frombits(binary.LittleEndian.Uint32(c[28:])))
		cz := float64(math.Float32frombits(binary.LittleEndian.Uint32(c[32:])))
		ux, uy, uz := bx-ax, by-ay, bz-az
		vx, vy, vz := cx-ax, cy-ay, cz-az
		nx := float64(uy*vz) - float64(uz*vy)
		ny := float64(uz*vx) - float64(ux*vz)
		nz := float64(ux*vy) - float64(uy*vx)
		square := float64(nx*nx) + float64(ny*ny) + float64(nz*nz)
		if !(square > 0 && square <= math.MaxFloat64) { // NaN and infinite coordinates end here too
			if !t.flatFacet(s, i, number+i-from) {
				continue
			}
		}
		px, py, pz := ax-ox, ay-oy, az-oz
		six := float64(px*nx) + float64(py*ny) + float64(pz*nz)
		volume += int64(six * volumeScale)
		area += int64(math.Sqrt(square) * areaScale)
		six *= momentScale
		mx += int64((float64(3*px) + ux + vx) * six)
		my += int64((float64(3*py) + uy + vy) * six)
		mz += int64((float64(3*pz) + uz + vz) * six)
	}
	t.count += to - from
	t.volume.add(volume)
	t.area.add(area)
	t.moment[0].add(mx)
	t.moment[1].add(my)
	t.moment[2].add(mz)
}

// flatFacet notes a facet without area. It reports false where the facet is no triangle of numbers.
func (t *totals) flatFacet(s Soup, i, number int) bool {
	if notFinite(s, i, number) != nil {
		if t.bad < 0 || number < t.bad {
			t.bad = number
		}
		return false
	}
	t.degenerate++
	t.flat.add(centre(s.At(i)))
	return true
}

// centre is the mean of a facet's corners.
func centre(t [3][3]float32) [3]float64 {
	var p [3]float64
	for a := range 3 {
		p[a] = (float64(t[0][a]) + float64(t[1][a]) + float64(t[2][a])) / 3
	}
	return p
}

// unscale returns volume, area and centroid in millimetres.
func (t *totals) unscale(f frame) (volume, area float64, centroid [3]float64) {
	six := t.volume.float()
	volume = math.Ldexp(six/6, 3*f.exp-volumeBits)
	area = math.Ldexp(t.area.float()/2, 2*f.exp-areaBits)
	for a := range 3 {
		// The centroid of the tetrahedron over a facet is (a+b+c)/4.
		if six != 0 {
			centroid[a] = math.Ldexp(t.moment[a].float()/(4*six), f.exp+volumeBits-momentBits)
		}
		centroid[a] += f.origin[a]
	}
	return volume, area, centroid
}
