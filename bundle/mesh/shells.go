package mesh

import (
	"cmp"
	"math"
	"slices"
)

// Shell is one connected surface of a mesh: facets joined across edges that two of them share. A solid
// with a sealed cavity has two, the outer one and the void.
type Shell struct {
	Triangles int
	Min, Max  [3]float64 // mm
	Volume    float64    // mm3, signed: negative for a void; 0 where the shell is not closed
	Closed    bool       // encloses a volume: no open or wrongly turned edge
	Depth     int        // how many other closed shells it lies in
	Void      bool       // a closed shell that bounds a cavity: it lies in another and faces the other way
	WrongSign bool       // a closed shell that faces the way that its depth does not allow
	Overlaps  bool       // parts of it lie inside another shell and parts outside
}

// noShell labels a facet that is a line or a point and belongs to none.
const noShell = ^uint32(0)

// maxShells is the most shells that are looked at one by one (nesting, overlap): a mesh in thousands
// of pieces has a fault that is told by its edges. Our own limit.
const maxShells = 4096

// shellsOf splits the mesh into shells, largest first. f is the frame of the whole mesh. It returns the
// number of shells, and how many copies of facets lie back to back with nothing else, which the edge pass
// cannot see; the list is nil for a single shell and where there are more than maxShells. The labels of
// c become numbers of the list.
func shellsOf(m *Mesh, c *census, f frame) (count int, list []Shell, duplicates int) {
	count = c.numberShells(m)
	n := len(m.Triangles)
	if count <= 1 && n != 2 {
		return count, nil, 0
	}
	label := c.labels.of
	size := make([]uint32, count)
	for _, l := range label {
		if l != noShell {
			size[l]++
		}
	}
	leaky := make([]bool, count)
	for i, l := range label {
		if l != noShell && c.leaky[i/32]>>(i%32)&1 == 1 {
			leaky[l] = true
		}
	}
	for i, l := range label {
		if l != noShell && size[l] == 2 && !leaky[l] && c.suspects[i/32]>>(i%32)&1 == 0 {
			duplicates++
			c.duplicates.add(m.centre(uint32(i)))
			size[l] = 0 // once for both
		}
	}
	if count > maxShells {
		return count, nil, duplicates
	}
	shells := make([]shellSums, count)
	scale := math.Ldexp(1, -f.exp)
	for i, l := range label {
		if l != noShell {
			shells[l].add(m, i, f, scale, leaky[l])
		}
	}
	list = make([]Shell, count)
	for k := range shells {
		list[k] = shells[k].shell(f)
	}
	// The list, and the labels with it, take an order that does not depend on the facets' order.
	order := make([]int, count)
	for k := range order {
		order[k] = k
	}
	slices.SortStableFunc(order, func(a, b int) int { return compareShells(&list[a], &list[b]) })
	rank := make([]uint32, count)
	sorted := make([]Shell, count)
	for k, o := range order {
		rank[o] = uint32(k)
		sorted[k] = list[o]
	}
	for i, l := range label {
		if l != noShell {
			label[i] = rank[l]
		}
	}
	return count, sorted, duplicates
}

// numberShells turns the labels into numbers from 0, and counts them. Facets that no label reached are
// shells of their own, unless they have collapsed.
func (c *census) numberShells(m *Mesh) int {
	roots, single := 0, 0
	for l, up := range c.labels.up[1:] {
		if up == uint32(l+1) {
			roots++
		}
	}
	for _, l := range c.labels.of {
		if l == 0 {
			single++
		}
	}
	if single -= c.collapsed; roots+single <= 1 && len(m.Triangles) != 2 {
		return roots + single
	}
	number := make([]uint32, len(c.labels.up))
	next := uint32(0)
	for l, up := range c.labels.up {
		if l > 0 && up == uint32(l) {
			number[l] = next
			next++
		}
	}
	for i, l := range c.labels.of {
		switch t := m.Triangles[i]; {
		case l != 0:
			c.labels.of[i] = number[find(c.labels.up, l)]
		case t[0] == t[1] || t[1] == t[2] || t[2] == t[0]:
			c.labels.of[i] = noShell
		default:
			c.labels.of[i] = next
			next++
		}
	}
	return int(next)
}

func compareShells(a, b *Shell) int {
	return cmp.Or(
		cmp.Compare(b.Triangles, a.Triangles),
		comparePlaces(a.Min, b.Min), comparePlaces(a.Max, b.Max),
		cmp.Compare(a.Volume, b.Volume),
	)
}

// shellSums are the sums of one shell, in integers for the reason given in sums.go.
type shellSums struct {
	triangles int
	lo, hi    [3]float32
	volume    int128
	leaky     bool
}

func (s *shellSums) add(m *Mesh, i int, f frame, scale float64, leaky bool) {
	t := m.Triangles[i]
	a, b, c := m.Vertices[t[0]], m.Vertices[t[1]], m.Vertices[t[2]]
	if s.triangles == 0 {
		s.lo, s.hi = a, a
	}
	s.triangles++
	s.leaky = s.leaky || leaky
	for _, v := range [3][3]float32{a, b, c} {
		for k, x := range v {
			s.lo[k], s.hi[k] = min(s.lo[k], x), max(s.hi[k], x)
		}
	}
	var p, u, v [3]float64
	for k := range 3 {
		p[k] = (float64(a[k]) - f.origin[k]) * scale
		u[k] = (float64(b[k]) - float64(a[k])) * scale
		v[k] = (float64(c[k]) - float64(a[k])) * scale
	}
	n := cross(u, v)
	s.volume.add(int64((float64(p[0]*n[0]) + float64(p[1]*n[1]) + float64(p[2]*n[2])) * (1 << volumeBits)))
}

func (s *shellSums) shell(f frame) Shell {
	out := Shell{Triangles: s.triangles, Min: wide(s.lo), Max: wide(s.hi), Closed: !s.leaky}
	if out.Closed {
		out.Volume = math.Ldexp(s.volume.float()/6, 3*f.exp-volumeBits)
	}
	return out
}

// cross is the vector product, without fused operations.
func cross(u, v [3]float64) [3]float64 {
	return [3]float64{
		float64(u[1]*v[2]) - float64(u[2]*v[1]),
		float64(u[2]*v[0]) - float64(u[0]*v[2]),
		float64(u[0]*v[1]) - float64(u[1]*v[0]),
	}
}
